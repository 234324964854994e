"""A Modbus line on the virtual bench: at rest, in motion, with each thing wrong that can be."""

from __future__ import annotations

import json
from dataclasses import replace
from typing import Any

import pytest

from labkit.bench.bench import Bench
from labkit.bench.codec import to_json
from labkit.bench.conductors import Wire
from labkit.bench.faults import (
    BiasExtra,
    BiasMissing,
    Broken,
    DeviceDead,
    Fault,
    Loose,
    TerminatorExtra,
    TerminatorMissing,
    Touching,
    swapped,
)
from labkit.bench.front import BenchFront
from labkit.bench.layout import LEFT_END, RIGHT_END
from labkit.bench.measurements import Reading
from labkit.bench.mending import mend
from labkit.bench.possible import possible_faults
from labkit.bench.recording import Recording, record
from labkit.bench.situation import Situation, Terminal
from labkit.bench.twins import groups_alike, twins_of
from labkit.doors.family import DeviceOnBench
from labkit.families.modbus.bench.catalogue import CATALOGUE
from labkit.families.modbus.bench.conductors import COMMON, CONDUCTORS, D0, D1
from labkit.families.modbus.bench.faults import (
    AddressSet,
    FormSet,
    RateSet,
    SecondMaster,
    TimeoutSet,
)
from labkit.families.modbus.bench.measurements import FrameLog, Indicators, MasterReport
from labkit.families.modbus.bench.setup import Setup
from labkit.families.modbus.bench_reading import ModbusBenchReading
from labkit.fieldbus.errors import PlanError
from labkit.fieldbus.modbus import (
    Device,
    LineCircuit,
    Network,
    Polarization,
    Tap,
    Terminator,
)
from labkit.kinds.common.bench_setup import setup_of

NAMES = ("pump", "gauge", "drive", "meter", "valve")
TAPS = (
    Tap.to(0, Device("master", master=True)),
    *(
        Tap.to(20.0 * (n + 1), Device(name, 10 + n), derivation=0.0 if n in (1, 4) else 5.0)
        for n, name in enumerate(NAMES)
    ),
)
PLAN = Network(
    100,
    TAPS,
    (Terminator(0.0, 120), Terminator("valve", 120)),
    (Polarization("master", 560, 560),),
    ("master",),
)
SETUP = Setup(PLAN, "master")
SMALL = Setup(replace(PLAN, taps=(*TAPS[:3], TAPS[5])), "master")
LIVE = Situation(power=True)


def bench(*faults: Fault, setup: Setup = SETUP) -> Bench:
    return Bench(setup, frozenset(faults), LIVE)


def volts(on: Bench, device: str, a: Wire = D1, b: Wire = D0) -> float:
    found = on.volts(Terminal.of(device, a), Terminal.of(device, b)).value
    assert found is not None
    return found


def counts(*faults: Fault) -> dict[int, tuple[int, int, int]]:
    """Answered, timed out and spoilt, by address."""
    found = bench(*faults).trace.counts["master"]
    return {at: (each.answered, each.timeouts, each.spoilt) for at, each in found.items()}


def lamps(*faults: Fault) -> dict[str, list[str]]:
    """The two lamps of each station over the whole watch."""
    detail = Indicators().take(bench(*faults)).detail
    return {name: looks["whole"] for name, looks in detail.items()}


# At rest.


@pytest.mark.parametrize("device", ["master", "pump", "drive", "valve"])
def test_at_rest_the_bench_is_the_circuit_of_the_plan(device: str) -> None:
    circuit = LineCircuit(PLAN)
    # 14 contacts of 5 mΩ lie on the way at most, each way: the bench has them, the circuit has not.
    assert volts(bench(), device) == pytest.approx(circuit.idle_volt(device), abs=6e-4)
    pair = Terminal.of(device, D1), Terminal.of(device, D0)
    dead = bench().standing(Situation())
    assert dead.ohms(*pair).value == pytest.approx(circuit.meter_ohm(device), abs=0.2)
    assert dead.volts(*pair).value == 0


@pytest.mark.parametrize(
    ("fault", "plan"),
    [
        (BiasExtra("valve"), replace(PLAN, polarizations=tuple(
            Polarization(at, 560, 560) for at in ("master", "valve")))),
        (TerminatorMissing(RIGHT_END), replace(PLAN, terminators=(Terminator(0.0, 120),))),
        (TerminatorExtra("drive"), replace(PLAN, terminators=tuple(
            Terminator(at, 120) for at in (0.0, "valve", "drive")))),
    ],
)  # fmt: skip
def test_a_fault_of_bias_or_terminator_is_the_circuit_with_it(fault: Fault, plan: Network) -> None:
    circuit = LineCircuit(plan)
    for device in ("master", "drive", "valve"):
        # Two biases have a common of some resistance between them, which the circuit leaves out.
        assert volts(bench(fault), device) == pytest.approx(circuit.idle_volt(device), abs=2e-3)
        pair = Terminal.of(device, D1), Terminal.of(device, D0)
        dead = bench(fault).standing(Situation())
        assert dead.ohms(*pair).value == pytest.approx(circuit.meter_ohm(device), abs=1.5)


def test_without_bias_nothing_holds_the_pair() -> None:
    assert volts(bench(BiasMissing("master")), "drive") == 0
    assert volts(bench(BiasMissing("master")), "drive", D1, COMMON) == 0
    assert volts(bench(), "drive", D1, COMMON) == pytest.approx(2.6, abs=0.1)
    moved = bench(BiasMissing("master"), BiasExtra("valve"))
    assert volts(moved, "valve") == pytest.approx(volts(bench(), "master"), abs=1e-3)


def test_a_swapped_pair_stands_on_its_head_at_that_device_alone() -> None:
    there = bench(swapped("drive", D0, D1, CONDUCTORS))
    assert volts(there, "drive") == -volts(bench(), "drive")
    assert volts(there, "meter") == volts(bench(), "meter")
    beyond = bench(swapped("tap 4, right", D0, D1, CONDUCTORS))
    assert volts(beyond, "gauge") > 0 > volts(beyond, "meter")


def test_a_driver_that_sends_moves_the_pair_both_ways() -> None:
    live = bench().live
    assert live is not None
    up, down = (live.driven("pump", up=up) for up in (True, False))
    ends = [f"drive#{wire.terminal}" for wire in (D1, D0)]
    # 5 V behind 60 Ω, into 58 Ω of the line: 2.4 V, and what the bias adds or takes.
    assert up.between(*ends) == pytest.approx(2.3, abs=0.3)
    assert down.between(*ends) == pytest.approx(-2.3, abs=0.3)


# In motion.


def test_a_sound_line_answers_everything() -> None:
    found = counts()
    assert set(found) == {10, 11, 12, 13, 14}
    assert all(answered > 40 and not late and not bad for answered, late, bad in found.values())
    assert set(map(tuple, lamps().values())) == {("flashing green", "flashing green")}
    log = FrameLog("master").take(bench())
    assert log.text == "433 frames whole, 0 spoilt"
    assert log.detail["words"][0] == [
        0.1,
        "0A 03 00 00 00 04 45 72",
        "the master asks device 10 for 4 holding registers from address 0 (40001) on",
        False,
    ]
    # Request, silence, the device's 10 ms, and then its reply.
    assert log.detail["words"][1][0] == pytest.approx(0.1 + 11.5 * 11 / 19_200 + 0.010)


ONE_IS_SILENT: list[tuple[Fault, list[str]]] = [
    (swapped("drive", D0, D1, CONDUCTORS), ["red", "off"]),
    (AddressSet("drive", 99), ["flashing green", "off"]),
    (RateSet("drive", 9600), ["flashing red", "off"]),
    (FormSet("drive", "8O1"), ["flashing red", "off"]),
    (FormSet("drive", "8N1"), ["flashing red", "off"]),
    (DeviceDead("drive"), ["off", "off"]),
    (Broken("drive", D1), ["off", "off"]),
]


@pytest.mark.parametrize(("fault", "looks"), ONE_IS_SILENT)
def test_one_device_does_not_answer(fault: Fault, looks: list[str]) -> None:
    for address, (answered, late, bad) in counts(fault).items():
        assert (answered == 0 < late) if address == 12 else (answered > 4 and late == 0)
        assert bad == 0
    shown = lamps(fault)
    assert shown.pop("drive") == looks
    assert set(map(tuple, shown.values())) == {("flashing green", "flashing green")}


def test_a_master_waits_until_both_that_answer_have_ended() -> None:
    # The drive begins 3 ms before the valve and ends before it: nobody else may be asked meanwhile.
    found = counts(AddressSet("drive", 14))
    assert found[14][2] > 3
    assert {address: late for address, (_, late, _) in found.items() if late} == {12: found[12][1]}


def test_two_of_one_address_answer_into_each_other() -> None:
    found = counts(AddressSet("drive", 11))
    assert found[11] == (0, 0, found[11][2])
    assert found[11][2] > 4
    assert found[12][0] == 0 < found[12][1]
    # Who sends hears nobody; all others hear what they cannot read.
    assert lamps(AddressSet("drive", 11))["valve"] == ["flashing red and green", "flashing green"]
    assert lamps(AddressSet("drive", 11))["gauge"] == ["flashing green", "flashing green"]


@pytest.mark.parametrize("fault", [BiasMissing("master"), TerminatorExtra("pump")])
def test_a_pair_that_rests_between_1_and_0_spoils_now_and_then(fault: Fault) -> None:
    found = counts(fault).values()
    assert sum(answered for answered, _, _ in found) > 3
    assert sum(late + bad for _, late, bad in found) > 3


@pytest.mark.parametrize("fault", [BiasExtra("valve"), TerminatorMissing(LEFT_END)])
def test_what_only_a_meter_shows_leaves_the_traffic_alone(fault: Fault) -> None:
    assert counts(fault) == counts()
    assert volts(bench(fault), "drive") > 1.5 * volts(bench(), "drive")


def test_a_master_that_waits_too_short_is_answered_into_its_next_request() -> None:
    found = counts(TimeoutSet(20))
    assert found[10][0] > 20
    assert found[11][0] == 0 < found[11][1]
    # The device of address 11 answers each time, into the request to 12: nobody reads that one.
    assert lamps(TimeoutSet(20))["gauge"][1] == "flashing green"
    assert lamps(TimeoutSet(20))["drive"] == ["flashing red and green", "off"]


def test_a_log_says_what_spoils_a_frame() -> None:
    def said(at: str, *faults: Fault) -> set[str]:
        return {line[2] for line in FrameLog(at).take(bench(*faults)).detail["words"]}

    crossed = swapped("drive", D0, D1, CONDUCTORS)
    assert said("drive", crossed) == {"nobody takes a frame: every bit is upside down."}
    # Beyond the crossing all stand on their head, so they read each other the right way up.
    beyond = swapped("tap 4, right", D0, D1, CONDUCTORS)
    assert "nobody takes a frame: the line rests at 0, so no start bit can be told." in said(
        "valve", beyond, SecondMaster("meter")
    )
    assert "nobody takes a frame: a parity error in character 1." in said(
        "drive", FormSet("drive", "8O1")
    )


def test_two_masters_send_into_each_other() -> None:
    found = counts(SecondMaster("drive"))
    assert sum(late + bad for _, late, bad in found.values()) > 3
    assert bench(SecondMaster("drive")).trace.unasked["master"] > 0
    words = [
        line[2] for line in FrameLog("valve").take(bench(SecondMaster("drive"))).detail["words"]
    ]
    assert "nobody takes a frame: two send at once." in words


def test_a_master_set_wrongly_is_alone() -> None:
    found = counts(FormSet("master", "8O1"))
    assert all(answered == 0 for answered, _, _ in found.values())
    assert lamps(FormSet("master", "8O1"))["pump"] == ["flashing red", "off"]


def test_a_loose_contact_costs_an_answer_and_is_seen() -> None:
    there = bench(Loose("drive", D1))
    count = there.long_trace.counts["master"][12]
    assert count.answered > 100
    # Open for 1.5 s of every 7 s: asked twice each time, and the last time is not over at the end.
    assert count.timeouts == 4
    looks = Indicators(20.0).take(there).detail["drive"]["network"]
    assert [look for _, look in looks] == ["off", "flashing green"] * 3
    assert [at for at, _ in looks][2] == 6.75


def test_with_power_off_nothing_is_told() -> None:
    dead = bench().standing(Situation())
    assert MasterReport().take(dead).text == "the master says nothing"
    assert FrameLog("pump").take(dead).text == "0 frames whole, 0 spoilt"


# As data.


FAULTS = possible_faults(SMALL)


def test_every_possible_fault_is_told_kept_and_mended() -> None:
    told = [fault.words_on(SMALL.layout) for fault in FAULTS]
    assert len(set(told)) == len(FAULTS)
    for fault in FAULTS:
        assert CATALOGUE.fault_from_json(json.loads(json.dumps(to_json(fault)))) == fault
        front = BenchFront(SMALL, faults=[fault])
        done = [front.take(step) for step in mend(SMALL, fault)]
        assert done
        assert not any(entry["refused"] for entry in done)
        assert front.session is not None
        assert not front.session.bench.faults, fault
    assert {fault.kind for fault in FAULTS} <= set(CATALOGUE.choices)
    assert set(CATALOGUE.choices) == set(CATALOGUE.faults)


def test_a_wrong_repair_makes_a_fault() -> None:
    sound = bench().standing(Situation())
    for data, words in (
        ({"kind": "fit bias", "place": "pump"}, "one bias too many, at pump"),
        ({"kind": "remove bias", "place": "master"}, "no bias at master"),
        ({"kind": "set address", "device": "pump", "address": 3}, "address 3 is set at pump"),
        ({"kind": "set time-out", "ms": 5.0}, "the master waits 5 ms for a reply"),
    ):
        made = CATALOGUE.action_from_json(data).do(sound)
        assert [fault.words_on(made.layout) for fault in made.faults] == [words]
        back = CATALOGUE.action_from_json({"kind": "replace device", "device": "pump"}).do(made)
        assert bool(back.faults) == ("address" not in words)


def test_a_recording_shows_what_the_bench_shows() -> None:
    faulty = Bench(SMALL, frozenset({BiasMissing("master"), AddressSet("gauge", 10)}))
    kept = Recording(SMALL, json.loads(json.dumps(record(faulty))))
    live = faulty.standing(LIVE)
    for what in SMALL.watches():
        shown: Reading = kept.take(what, LIVE)
        assert shown.text == what.take(live).text
    at = Terminal.of("pump", D1), Terminal.of("pump", COMMON)
    for data in ({"kind": kind, "a": at[0].text, "b": at[1].text} for kind in ("ohms", "volts")):
        what = CATALOGUE.measurement_from_json(data)
        for situation in (LIVE, Situation()):
            assert kept.take(what, situation).text == what.take(faulty.standing(situation)).text


def test_no_two_possible_faults_look_alike() -> None:
    benches = [Bench(SMALL, frozenset({fault})) for fault in FAULTS]
    alike = [[FAULTS[n] for n in group] for group in groups_alike(benches) if len(group) > 1]
    assert alike == []
    assert twins_of(SMALL.layout, BiasExtra("tap 2, left")) == (
        BiasExtra("tap 2, right"),
        BiasExtra("tap 2, drop"),
    )


def test_a_set_up_is_read_back() -> None:
    made = Setup(PLAN, "master", {"pump": 2}, 500.0, live_plugs=False)
    assert setup_of(json.loads(json.dumps(made.to_json()))) == made


@pytest.mark.parametrize(
    ("plan", "said"),
    [
        (replace(PLAN, terminators=()), "one terminator at each end"),
        (replace(PLAN, terminators=(Terminator(0, 120), Terminator(100, 150))), "same resistance"),
        (replace(PLAN, terminators=(Terminator(0, 120, 1), Terminator(100, 120, 1))), "capacitor"),
        (replace(PLAN, polarizations=()), "one polarization"),
        (replace(PLAN, polarizations=(Polarization(33.0),)), "At 33 m of the trunk"),
        (replace(PLAN, polarizations=(Polarization("master", 650, 650),)), "valve is not 0.2 V"),
        (replace(PLAN, taps=(*TAPS, Tap.to(90, Device("spare")))), "spare needs an address"),
    ],
)  # fmt: skip
def test_a_plan_that_no_bench_is_made_of_is_refused(plan: Network, said: str) -> None:
    with pytest.raises(PlanError, match=said):
        ModbusBenchReading().setup(plan, "master")


def test_a_bias_may_stand_at_a_tap_or_an_end() -> None:
    for at, connector in ((40.0, "tap 3, left"), (100.0, RIGHT_END), ("drive", "drive")):
        plan = replace(PLAN, polarizations=(Polarization(at, 450, 450),))
        setup = Setup(plan, "master")
        assert setup.layout.bias is not None
        assert setup.layout.bias.connector == connector
        circuit = LineCircuit(plan)
        assert volts(bench(setup=setup), "pump") == pytest.approx(
            circuit.idle_volt("pump"), abs=6e-4
        )


@pytest.mark.parametrize(
    "fault",
    [BiasMissing("pump"), BiasExtra("master"), AddressSet("master", 3), SecondMaster("master")],
)
def test_a_fault_that_cannot_be_is_refused(fault: Fault) -> None:
    with pytest.raises(PlanError):
        bench(fault)


def test_a_labs_words_become_faults() -> None:
    family = ModbusBenchReading()
    made = family.setup(PLAN, "master", [DeviceOnBench("pump", 6, 0, "poll")])
    assert made.registers["pump"] == 3

    def named(**fields: Any) -> Fault:
        return family.fault_of(fields, made)

    assert named(kind="swapped", connector="drive") == swapped("drive", D0, D1, CONDUCTORS)
    assert named(kind="touching", connector="drive", a="D0", b="shield") == Touching(
        "drive", D0, CONDUCTORS.named("shield")
    )
    assert named(kind="rate set", device="drive", rate=9600) == RateSet("drive", 9600)
    assert family.no_such({"device": "lamp"}, made) == ("device", list(made.layout.devices))
    assert family.value("ms", "20") == 20.0
    with pytest.raises(PlanError, match="outputs"):
        family.setup(PLAN, "master", outputs=True)
    with pytest.raises(PlanError, match="write 'poll'"):
        family.require_connection("strobe")
