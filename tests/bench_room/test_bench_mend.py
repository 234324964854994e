"""A repair takes the whole symptom away; rules of thumb hold; recordings agree with the bench."""

import pytest

from labkit.bench.bench import LONG_RUN_S, Bench
from labkit.bench.codec import to_json
from labkit.bench.debrief import Suspects, usual_measurements
from labkit.bench.faults import (
    Broken,
    Corroded,
    Draws,
    Loose,
    SupplyWeak,
    TerminatorExtra,
    TerminatorMissing,
    TerminatorValue,
    TooLong,
    WrongCable,
)
from labkit.bench.faults.base import Fault
from labkit.bench.measurements import BusyVolts, Ohms, Volts
from labkit.bench.mending import mend
from labkit.bench.possible import possible_faults
from labkit.bench.recording import Recording, record, situations
from labkit.bench.situation import Situation, Terminal
from labkit.families.devicenet.bench.catalogue import CATALOGUE
from labkit.families.devicenet.bench.conductors import CAN_H, V_PLUS
from labkit.families.devicenet.bench.faults import IoSizes
from labkit.families.devicenet.bench.measurements import FrameLog, Indicators, ScannerReport
from labkit.families.devicenet.bench.setup import Setup
from labkit.fieldbus.devicenet.network import Device, Drop, Network, Segment, Supply, Tap
from labkit.fieldbus.errors import PlanError

PLAN = Network(
    125,
    (Segment("thick", 100.0),),
    (
        Tap(5.0, Drop(1.0, (Device("panel", 0.2, 0),))),
        Tap(60.0, Drop(2.0, (Device("valves", 0.4, 5),))),
        Tap(95.0, Drop(4.0, (Device("scale", 0.3, 7),))),
    ),
    (Supply(30.0),),
)
SETUP = Setup(PLAN, "panel")
FREE = (
    Loose("valves", CAN_H),
    Corroded("valves", V_PLUS, 3.0),
    TerminatorValue("left end", 60.0),
    SupplyWeak("supply", 0.5),
    WrongCable("tap 2, right – tap 3, left", "thin"),
    TooLong("tap 2, right – tap 3, left", 90.0),
    Draws("scale", 2.0),
    IoSizes("scale", 3, 0),
)
FAULTS = (*possible_faults(SETUP), *FREE)
ON, OFF = Situation(power=True), Situation()
MEASURED = (
    *usual_measurements(SETUP),
    ScannerReport(),
    FrameLog("panel"),
    BusyVolts(Terminal("scale", 5), Terminal("scale", 1)),
)
HEALTHY = {(m, s): m.take(Bench(SETUP, situation=s)) for s in (ON, OFF) for m in MEASURED}


@pytest.mark.parametrize("fault", FAULTS, ids=lambda fault: fault.words_on(SETUP.layout))
def test_mending_a_fault_leaves_no_symptom(fault: Fault) -> None:
    bench = Bench(SETUP, frozenset({fault}))
    for data in mend(SETUP, fault):
        bench = CATALOGUE.action_from_json(data).do(bench)
    assert bench == Bench(SETUP)
    for (measurement, situation), reading in HEALTHY.items():
        assert measurement.take(bench.standing(situation)) == reading


def ohms(*faults: Fault) -> float | None:
    return Bench(SETUP, frozenset(faults)).ohms(Terminal("valves", 4), Terminal("valves", 2)).value


def test_60_ohm_with_both_terminators_120_with_one_40_with_three() -> None:
    # /reference: 121 ohm at both ends; about 60 ohm with power off, 50 to 70 accepted
    assert ohms() == pytest.approx(60, abs=3)
    assert ohms(TerminatorMissing("left end")) == pytest.approx(120, abs=5)
    assert ohms(TerminatorExtra("valves")) == pytest.approx(40, abs=2)


def test_levels_of_the_bus() -> None:
    # each V- stands where its current puts it: 0.2 V of play for that
    # ISO 11898-2: recessive about 2.5 V, dominant CAN_H about 3.5 V and CAN_L about 1.5 V
    bench = Bench(SETUP, situation=ON)
    for device in SETUP.layout.devices:
        high, low, common = (bench.wiring.node(Terminal(device, n)) for n in (4, 2, 1))
        assert bench.live is not None
        assert bench.live.idle.between(high, common) == pytest.approx(2.5, abs=0.2)
        driven = bench.live.dominant(device)
        assert driven.between(high, common) == pytest.approx(3.5, abs=0.25)
        assert driven.between(low, common) == pytest.approx(1.5, abs=0.25)


def test_v_minus_rises_by_current_times_resistance() -> None:
    # loop data of thick cable 8.9 mΩ/m (PUB00027R1), thin drop 57.4 mΩ/m; contacts 2.5 mΩ each
    bench = Bench(SETUP, situation=ON)
    rise = bench.volts(Terminal("scale", 1), Terminal("supply", 1)).value
    trunk = 0.0089 * (30 * 0.7 + 35 * 0.3) + 0.0025 * (3 * 0.7 + 2 * 0.3 + 0.3)
    drop = (0.0574 * 4 + 0.005) * 0.3
    lead = 0.005 * 0.9
    assert rise == pytest.approx(trunk + drop + lead, abs=0.012)


def test_a_loose_contact_reads_by_the_clock_and_shows_in_the_trace() -> None:
    bench = Bench(SETUP, frozenset({Loose("valves", V_PLUS, 6.0, 0.1)}))
    pair = Terminal("valves", 5), Terminal("panel", 5)
    shut, apart = (bench.standing(Situation(clock_s=at)).ohms(*pair).value for at in (0.0, 5.95))
    assert shut is not None
    assert apart is not None
    assert shut < 10 < 1000 < apart
    # Open for 0.1 s, 2.8 s after power-up: while it is scanned. Then at 2.7 s: while it is asked.
    scanned, asked = (bench.standing(Situation(power=True, clock_s=at)).trace for at in (3.1, 3.2))
    assert [each.state.name for each in scanned.entries[5]][-2:] == ["OK", "LOST"]
    assert [each.state.name for each in asked.entries[5]][-2:] == ["NO_ANSWER", "OK"]
    looks = [(at, look.value) for at, look in scanned.network["valves"] if at > 2.75]
    assert looks[:2] == [(2.8, "off"), (2.9, "flashing red and green")]


def test_the_longer_watch_shows_a_time_out_and_the_way_back() -> None:
    # In six seconds from power-up the contact opens once and does not close again.
    bench = Bench(SETUP, frozenset({Loose("valves", V_PLUS, 7.0, 1.5)}), ON)
    short, long = Indicators().take(bench), Indicators(LONG_RUN_S).take(bench)
    looks = [look for _, look in long.detail["panel"]["network"]]
    assert looks[3:7] == ["green", "flashing red", "green", "flashing red"]
    assert short.detail["panel"]["network"][-1][1] == "flashing red"
    of_short = short.detail["panel"]["network"]
    assert long.detail["panel"]["network"][: len(of_short)] == of_short
    assert long.detail["scale"]["network"][-1][1] == "green"
    held = Recording(SETUP, record(bench))
    assert held.take(Indicators(LONG_RUN_S), ON) == long
    assert held.take(Indicators(), ON) == short
    assert CATALOGUE.measurement_from_json(to_json(Indicators(LONG_RUN_S))) == Indicators(
        LONG_RUN_S
    )
    with pytest.raises(PlanError, match="6 s or for 20 s"):
        Indicators(7.0)


@pytest.mark.parametrize("fault", [Broken("tap 2, drop", CAN_H), TerminatorMissing("left end")])
def test_a_recording_agrees_to_the_last_digit_and_names_no_fault(fault: Fault) -> None:
    bench = Bench(SETUP, frozenset({fault}))
    data = record(bench)
    assert fault.words_on(SETUP.layout) not in str(data)
    assert fault.kind not in str(data)
    held = Recording(SETUP, data)
    at = [Terminal(c, n) for c in ("valves", "tap 2, drop", "supply") for n in (1, 2, 4, 5)]
    for situation in list(situations(bench))[::3]:
        here = bench.standing(situation)
        for a, b in zip(at, [*at[1:], Terminal("earth")], strict=True):
            for probe in (Ohms(a, b), Volts(a, b)):
                assert held.take(probe, situation).text == probe.take(here).text


def test_shared_traces_in_the_debrief_are_the_benches_own() -> None:
    suspects = Suspects(Bench(SETUP), FAULTS, MEASURED)
    for fault in FAULTS[::4]:
        own = Indicators().take(Bench(SETUP, frozenset({fault}), ON))
        assert suspects.reading(fault, Indicators(), ON) == own
