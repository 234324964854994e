"""Every look of the network status indicator, each by its cause on a bench (IEC 62026-3).

Reference values: off = not powered or check not finished; flashing green = on line without a
connection; green = connected; flashing red = an I/O connection timed out; red = cannot communicate
(duplicate address, bus-off); flashing red and green = self-test.
"""

import pytest

from labkit.bench.bench import Bench
from labkit.bench.faults import (
    Broken,
    DeviceDead,
    Fault,
    Loose,
    SupplyDead,
    TerminatorMissing,
    Touching,
)
from labkit.bench.situation import Situation
from labkit.families.devicenet.bench.conductors import CAN_H, CAN_L, V_PLUS
from labkit.families.devicenet.bench.faults import AddressSet, RateSet, ScanListAs
from labkit.families.devicenet.bench.setup import Setup
from labkit.fieldbus.devicenet.indicators import Indicator
from labkit.fieldbus.devicenet.network import Device, Drop, Network, Segment, Supply, Tap

OFF, GREEN, RED = Indicator.OFF, Indicator.GREEN, Indicator.RED
FLASHING_GREEN, FLASHING_RED = Indicator.FLASHING_GREEN, Indicator.FLASHING_RED
SELF_TEST = Indicator.FLASHING_RED_GREEN

SETUP = Setup(
    Network(
        125,
        (Segment("thick", 60.0),),
        tuple(
            Tap(12.0 * at, Drop(1.0, (Device(name, 0.1, address),)))
            for at, (name, address) in enumerate(
                [("panel", 0), ("valves", 9), ("scale", 5), ("lamp", 33)], 1
            )
        ),
        (Supply(30.0),),
    ),
    "panel",
)
NAMES = tuple(SETUP.layout.devices)


def bench(*faults: Fault, clock_s: float = 0.0) -> Bench:
    return Bench(SETUP, frozenset(faults), Situation(power=True, clock_s=clock_s))


def looks(*faults: Fault, clock_s: float = 0.0) -> dict[str, Indicator]:
    trace = bench(*faults, clock_s=clock_s).trace
    return {name: trace.network_status(name) for name in NAMES}


def all_but(others: Indicator, **own: Indicator) -> dict[str, Indicator]:
    return dict.fromkeys(NAMES, others) | own


def test_from_power_up_to_green_in_the_standards_order() -> None:
    trace = bench().trace
    for name in NAMES:
        assert [look for _, look in trace.network[name]] == [SELF_TEST, OFF, FLASHING_GREEN, GREEN]
        assert [look for _, look in trace.module[name]] == [SELF_TEST, GREEN]


def test_off_without_power_and_the_module_indicator_too() -> None:
    trace = bench(SupplyDead("supply")).trace
    for name in NAMES:
        assert {look for _, look in trace.network[name]} <= {OFF}
        assert trace.module_status(name) is OFF


@pytest.mark.parametrize(
    ("fault", "module"), [(DeviceDead("scale"), OFF), (Broken("scale", V_PLUS), OFF)]
)
def test_off_of_one_alone(fault: Fault, module: Indicator) -> None:
    trace = bench(fault).trace
    assert trace.network_status("scale") is OFF
    assert trace.module_status("scale") is module
    # the scanner has lost nobody: that one never came
    assert {trace.network_status(name) for name in ("valves", "lamp")} == {GREEN}


def test_flashing_green_on_line_but_in_nobodys_list() -> None:
    entries = tuple(entry for entry in SETUP.entries if entry.address != 5)
    assert looks(ScanListAs(entries)) == all_but(GREEN, scale=FLASHING_GREEN)


def test_flashing_green_on_a_half_without_the_scanner() -> None:
    found = looks(Broken("tap 2, right", CAN_L))
    assert found["scale"] is found["lamp"] is FLASHING_GREEN
    assert found["valves"] is GREEN


def test_red_of_the_one_that_finds_its_address_taken() -> None:
    found = looks(AddressSet("lamp", 9))
    assert sorted([found["lamp"], found["valves"]], key=str) == sorted([RED, GREEN], key=str)


def test_red_at_another_data_rate_by_bus_off() -> None:
    trace = bench(RateSet("scale", 500)).trace
    assert trace.network_status("scale") is RED
    assert trace.counters["scale"].state.name == "BUS_OFF"
    assert trace.network_status("valves") is GREEN


def test_flashing_red_when_polls_stop_coming() -> None:
    # open from 4.5 s after power-up, at the scanner's drop
    trace = bench(Loose("tap 1, drop", CAN_H, 8.0, 3.5)).trace
    for name in NAMES:
        looked = [(time, look) for time, look in trace.network[name] if time > 4.0]
        assert [look for _, look in looked] == [FLASHING_RED], name
        # four times the expected packet rate, 80 ms, and the time of one scan at most (standard's
        # default multiplier of 4, from memory); the scanner waits for several scans
        assert 4.5 < looked[0][0] < (4.85 if name != "panel" else 5.0)
        assert trace.network_status(name, 4.4) is GREEN


def test_red_of_one_that_hears_the_others_and_is_not_heard() -> None:
    # with CAN_H open its input holds that wire at 2.5 V; CAN_L at 1.5 V makes 1.0 V, above 0.9 V
    built = bench(Loose("scale", CAN_H, 8.0, 3.5))
    open_now = built.standing(built.situation.at(5.0))
    assert open_now.ears.hear("valves", "scale")
    assert not open_now.ears.hear("scale", "valves")
    assert built.trace.network_status("scale") is RED


def test_nobody_gets_on_line_while_the_pair_is_shorted() -> None:
    assert set(looks(Touching("scale", CAN_H, CAN_L)).values()) <= {OFF, RED}


def test_one_missing_terminator_on_60_m_at_125_kbit_s_shows_on_no_indicator() -> None:
    assert set(looks(TerminatorMissing("left end")).values()) == {GREEN}
