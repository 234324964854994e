"""Devices that follow the data rate by themselves: what that does to the search for a wrong one.

That such a device listens, silent, until it heard a whole frame of others, and keeps that rate
until its power goes: common practice, no source. When an unacknowledged frame is whole: ISO
11898-1 (an error-active sender ends it by its flag, an error-passive one does not).
"""

from dataclasses import replace

import pytest
from four_on_a_line import NAMES, PLAN
from modbus_lines import sound_line

from labkit.bench.bench import Bench
from labkit.bench.can.traffic import OnBus
from labkit.bench.faults import DeviceDead, Fault
from labkit.bench.possible import possible_faults
from labkit.bench.situation import Situation
from labkit.bench.twins import unseen
from labkit.doors.family import DeviceOnBench
from labkit.families.devicenet.bench.actions import ReplaceDevice, SetSwitches
from labkit.families.devicenet.bench.equipment import Equipment
from labkit.families.devicenet.bench.faults import AddressSet, RateSet
from labkit.families.devicenet.bench.measurements import Indicators, ScannerReport
from labkit.families.devicenet.bench.setup import Setup
from labkit.families.devicenet.bench.trace import EntryState, Trace
from labkit.families.devicenet.bench_reading import DeviceNetBenchReading, fault_of
from labkit.families.modbus.bench_reading import ModbusBenchReading
from labkit.fieldbus.devicenet.indicators import Indicator
from labkit.fieldbus.errors import PlanError


def line(*followers: str) -> Setup:
    made = {
        name: Equipment(900, 10 + n, follows_rate=name in followers) for n, name in enumerate(NAMES)
    }
    return Setup(PLAN, "scanner", made)


MIXED, ALL = line("gate", "lamp"), line("clamp", "gate", "lamp")


def played(setup: Setup, *faults: Fault) -> Trace:
    trace = Bench(setup, frozenset(faults), Situation(power=True)).trace
    assert isinstance(trace, Trace)
    return trace


def first_of(trace: Trace, name: str) -> OnBus:
    return next(each for each in trace.frames if name in (each.sender, *each.others))


def states(trace: Trace) -> dict[int, EntryState]:
    return {address: trace.report(address).state for address in trace.entries}


def test_it_is_silent_until_it_heard_a_frame_and_then_comes_up_like_any_other() -> None:
    trace = played(MIXED)
    whole = next(each for each in trace.frames if each.through)
    for name in ("gate", "lamp"):
        assert first_of(trace, name).time_s >= whole.end_s
        assert (whole.end_s, "it finds 125 kbit/s on the bus") in trace.said[name]
        assert all(
            name not in (*each.acknowledged_by, *each.flagged_by)
            for each in trace.frames
            if each.end_s <= whole.end_s
        )
    assert set(states(trace).values()) == {EntryState.OK}
    assert {trace.network_status(name) for name in NAMES} == {Indicator.GREEN}


def test_alone_with_followers_the_scanner_must_be_error_passive_before_they_can_hear_it() -> None:
    trace = played(ALL)
    tries = [each for each in trace.frames if each.end_s <= trace.said["gate"][1][0]]
    # Sixteen tries raise the counter to 128, error-passive; the next frame ends without a flag.
    assert [bool(each.flagged_by) for each in tries] == [True] * 16 + [False]
    assert {each.sender for each in tries} == {"scanner"}
    assert set(states(trace).values()) == {EntryState.OK}


def test_while_it_listens_its_network_light_is_off() -> None:
    dead = played(ALL, DeviceDead("scanner"))
    assert {dead.network_status(name) for name in ("clamp", "gate", "lamp")} == {Indicator.OFF}
    assert {dead.module_status(name) for name in ("clamp", "gate", "lamp")} == {Indicator.GREEN}
    assert dead.frames == ()


def test_followers_go_with_a_scanner_at_a_wrong_rate_and_everything_is_green() -> None:
    wrong = played(ALL, RateSet("scanner", 250))
    assert set(states(wrong).values()) == {EntryState.OK}
    assert {wrong.network_status(name) for name in NAMES} == {Indicator.GREEN}
    assert {each.rate for each in wrong.frames} == {250}


def lights(trace: Trace) -> dict[str, Indicator]:
    return {name: trace.network_status(name) for name in NAMES}


def test_a_follower_keeps_a_wrong_scanner_green_and_those_that_are_right_go_red() -> None:
    fault = RateSet("scanner", 250)
    # Nobody acknowledges it: it destroys the others' frames until it is off the bus itself.
    alone = lights(played(line(), fault))
    assert alone.pop("scanner") is Indicator.RED
    assert set(alone.values()) == {Indicator.FLASHING_GREEN}
    trace = played(line("lamp"), fault)
    red, green = Indicator.RED, Indicator.GREEN
    assert lights(trace) == {"scanner": green, "clamp": red, "gate": red, "lamp": green}
    states_then = states(trace)
    assert states_then.pop(3) is EntryState.OK
    assert set(states_then.values()) == {EntryState.NO_ANSWER}
    assert [said for _, said in _found(trace, "lamp")] == ["it finds 250 kbit/s on the bus"]


def test_a_wrong_device_among_followers_is_red_alone_as_it_is_without_them() -> None:
    fault = RateSet("clamp", 500)
    trace = played(MIXED, fault)
    assert lights(trace) == lights(played(line(), fault))
    assert [name for name, look in lights(trace).items() if look is Indicator.RED] == ["clamp"]
    for name in ("gate", "lamp"):
        assert [said for _, said in _found(trace, name)] == ["it finds 125 kbit/s on the bus"]
    # With the scanner wrong the same light is red: the lights do not say which of the two it is.
    assert lights(played(MIXED, RateSet("scanner", 500))) == lights(trace)


def _found(trace: Trace, name: str) -> list[tuple[float, str]]:
    return [(at, said) for at, said in trace.said[name] if said.startswith("it finds")]


def test_nobody_sets_its_rate() -> None:
    wrong = [each.device for each in possible_faults(MIXED) if isinstance(each, RateSet)]
    assert wrong == ["scanner", "clamp"]
    with pytest.raises(PlanError, match="gate has no rate switch"):
        fault_of({"kind": "rate set", "device": "gate", "rate": 500}, MIXED)
    with pytest.raises(PlanError, match="scanner scans, so others follow its rate"):
        line("scanner")
    at = SetSwitches("gate", 7, 500).do(Bench(MIXED))
    assert at.faults == {AddressSet("gate", 7)}
    assert ReplaceDevice("gate").do(Bench(MIXED)).faults == {AddressSet("gate", 63)}


def test_a_wrong_scanner_among_followers_shows_to_no_light_and_no_report() -> None:
    fault = RateSet("scanner", 250)
    sound, wrong = (Bench(ALL, frozenset(f), Situation(power=True)) for f in ((), (fault,)))

    for measurement in (Indicators(), ScannerReport()):
        assert measurement.take(sound).text == measurement.take(wrong).text
    # The times in log and lights tell it.
    assert unseen(wrong) == ()


def test_it_is_read_back_and_left_out_where_nobody_follows() -> None:
    assert Setup.from_json(MIXED.to_json()) == MIXED
    assert "follows_rate" not in line().to_json()["equipment"]["gate"]
    gate = DeviceOnBench("gate", 1, 0, "poll", follows_rate=True)
    made = DeviceNetBenchReading().setup(PLAN, "scanner", [gate])
    assert made.equipment["gate"].follows_rate
    meter = DeviceOnBench("meter", 2, 0, "poll", follows_rate=True)
    with pytest.raises(PlanError, match="nobody follows a rate"):
        ModbusBenchReading().setup(sound_line(), "controller", [meter])


def test_it_is_the_same_whoever_plays_it_alone_or_shared() -> None:
    for setup in (MIXED, ALL):
        for fault in (RateSet("scanner", 250), RateSet("clamp", 250), DeviceDead("clamp")):
            if isinstance(fault, RateSet) and setup.equipment[fault.device].follows_rate:
                continue
            bench = Bench(setup, frozenset({fault}), Situation(power=True))
            shared = setup.shared_play().trace(bench)
            assert shared.frames == bench.trace.frames
            assert shared.network == bench.trace.network
    assert replace(ALL, outputs=True).to_json() != ALL.to_json()
