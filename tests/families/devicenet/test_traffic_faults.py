"""What faults look like on the bus: it must come out of ISO 11898-1 and IEC 62026-3, unscripted.

Error counters: ISO 11898-1 (reference page: transmit error +8, receive error +1, +8 when first to
see it, above 127 error-passive, above 255 bus-off; a lone transmitter stops at error-passive).
Indicators: IEC 62026-3 as on the reference page.
"""

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise
from typing import Any

import pytest

from labkit.bench.can.traffic import Outcome
from labkit.bench.ears import Ears
from labkit.families.devicenet.bench.bus import Bus, Change, simulate
from labkit.families.devicenet.bench.equipment import BusDevice, Equipment, Master
from labkit.families.devicenet.bench.trace import EntryState, Trace
from labkit.fieldbus.can.confinement import ErrorCounters, NodeState
from labkit.fieldbus.can.frame import Frame
from labkit.fieldbus.devicenet.connections import ConnectionKind
from labkit.fieldbus.devicenet.indicators import Indicator
from labkit.fieldbus.devicenet.scanlist import ScanEntry

POLL = ConnectionKind.POLL
OFF, GREEN, FLASHING_GREEN = Indicator.OFF, Indicator.GREEN, Indicator.FLASHING_GREEN
RED, FLASHING_RED = Indicator.RED, Indicator.FLASHING_RED

SCANNER = BusDevice("scanner", 0, 125, Equipment(7, 1000, 0, 0))
VALVE = BusDevice("valve", 1, 125, Equipment(7, 1001, 1, 1))
LAMP = BusDevice("lamp", 2, 125, Equipment(7, 1002, 1, 1))
DRIVE = BusDevice("drive", 3, 125, Equipment(7, 1003, 1, 1))
BENCH = (SCANNER, VALVE, LAMP, DRIVE)
NAMES = [each.name for each in BENCH]
ALL = Ears.groups(NAMES)
MASTER = Master("scanner", tuple(ScanEntry(at, POLL, 1, 1) for at in (1, 2, 3)))


def with_(device: BusDevice, **changed: Any) -> tuple[BusDevice, ...]:
    """The bench with one device changed."""
    return tuple(replace(each, **changed) if each == device else each for each in BENCH)


def run(
    devices: Sequence[BusDevice] = BENCH, ears: Ears | None = None, time_s: float = 5.0, **more: Any
) -> Trace:
    ears = ears or Ears.groups([each.name for each in devices])
    return simulate(devices, ears, MASTER, time_s, **more)


def looks(trace: Trace) -> dict[str, Indicator]:
    return {name: trace.network_status(name) for name in trace.network}


def expected(**by_name: Indicator) -> dict[str, Indicator]:
    return by_name


def outcomes(trace: Trace) -> set[Outcome]:
    return {each.outcome for each in trace.frames}


# Addresses


def test_who_comes_later_with_a_taken_address_turns_red_and_the_owner_works_on() -> None:
    late = BusDevice("second valve", 1, 125, Equipment(7, 77, 1, 1), powered=False)
    change = Change(4.0, (*BENCH, replace(late, powered=True)))
    trace = run((*BENCH, late), Ears.groups([*NAMES, late.name]), 6.0, changes=[change])
    assert looks(trace) == dict.fromkeys(NAMES, GREEN) | {late.name: RED}
    assert trace.module_status(late.name) is GREEN
    check, answer = [e for e in trace.frames if e.time_s > 4.0 and e.frame.identifier == 0x40F]
    assert (check.sender, answer.sender) == (late.name, "valve")
    assert answer.frame.data.hex(" ") == "80 07 00 e9 03 00 00"
    assert trace.report(1).text == "OK"
    assert outcomes(trace) == {Outcome.THROUGH}


def test_of_two_that_check_within_the_same_second_the_one_that_asks_first_turns_red() -> None:
    # The later request reaches the earlier one in the midst of its check, and ends that.
    twin = BusDevice("second valve", 1, 125, Equipment(7, 1004, 1, 1))
    trace = run((*BENCH, twin))
    first = next(each for each in trace.frames if each.frame.identifier == 0x40F)
    other = {"valve": twin.name, twin.name: "valve"}[first.sender]
    assert trace.network_status(first.sender) is RED
    assert trace.network_status(other) is GREEN


def test_two_that_check_in_the_same_bit_collide_sixteen_times_then_one_turns_red() -> None:
    # 16 common errors make the recessive sender error-passive: Cho and Shin, ACM CCS 2016.
    twin = BusDevice("second valve", 1, 125, Equipment(7, 77, 1, 1))
    trace = run((*BENCH, twin), start_spread_s=0.0)
    hits = [each for each in trace.frames if each.outcome is Outcome.SAME_IDENTIFIER]
    assert len(hits) == 16
    assert all({each.sender, *each.others} == {"valve", twin.name} for each in hits)
    reds = [name for name in ("valve", twin.name) if trace.network_status(name) is RED]
    assert len(reds) == 1
    assert trace.network_status(({"valve", twin.name} - set(reds)).pop()) is GREEN
    assert trace.counters[reds[0]].transmit > 100


def test_a_device_on_the_scanners_address_keeps_one_of_the_two_off_the_network() -> None:
    trace = run(with_(LAMP, address=0))
    assert sorted(looks(trace)[name].value for name in ("scanner", "lamp")) != ["green", "green"]
    assert RED in (looks(trace)["scanner"], looks(trace)["lamp"])


def test_an_address_that_nobody_has_is_not_answered_and_who_is_not_listed_flashes_green() -> None:
    master = replace(MASTER, scan_list=(ScanEntry(1, POLL, 1, 1), ScanEntry(40, POLL, 1, 1)))
    trace = simulate(BENCH, ALL, master, 6.0)
    assert looks(trace) == expected(
        scanner=GREEN, valve=GREEN, lamp=FLASHING_GREEN, drive=FLASHING_GREEN
    )
    assert [each.text for each in trace.entries[40]] == [
        "not asked yet",
        "asked, waiting for its answer",
        "no answer",
    ]
    asked = [each.time_s for each in trace.frames if each.frame.identifier == 0x400 | 40 << 3 | 6]
    assert len(asked) > 1


def test_a_changed_switch_counts_from_the_next_power_up() -> None:
    changes = [
        Change(4.0, with_(LAMP, address=9)),
        Change(5.0, with_(LAMP, address=9, powered=False)),
        Change(5.5, with_(LAMP, address=9)),
    ]
    trace = run(time_s=9.0, changes=changes)
    assert trace.report(2, 4.9).state is EntryState.OK
    assert trace.report(2).state is EntryState.LOST
    assert trace.network_status("lamp") is FLASHING_GREEN
    checks = [e for e in trace.frames if e.frame.identifier == 0x44F]
    assert [each.sender for each in checks] == ["lamp", "lamp"]


# Nobody there


@pytest.mark.parametrize("fault", [{"dead": True}, {"powered": False}])
def test_a_device_that_does_nothing_is_dark_and_not_answered_and_the_others_work(
    fault: dict[str, bool],
) -> None:
    trace = run(with_(LAMP, **fault))
    assert looks(trace) == expected(scanner=GREEN, valve=GREEN, lamp=OFF, drive=GREEN)
    assert trace.module_status("lamp") is OFF
    assert trace.report(2).state is EntryState.NO_ANSWER
    assert {trace.report(at).state for at in (1, 3)} == {EntryState.OK}


def test_a_device_alone_repeats_its_check_for_ever_and_stops_at_error_passive() -> None:
    trace = simulate([VALVE], ALL, None, 3.0)
    assert {each.frame.identifier for each in trace.frames} == {0x40F}
    assert outcomes(trace) == {Outcome.NOT_ACKNOWLEDGED}
    assert len(trace.frames) > 1000
    assert trace.counters["valve"] == ErrorCounters(transmit=128)
    assert sum(each.error_frame for each in trace.frames) == 16
    assert [look for _, look in trace.network["valve"]] == [Indicator.FLASHING_RED_GREEN, OFF]
    assert trace.module_status("valve") is GREEN


def test_a_second_device_frees_the_lonely_one() -> None:
    late = replace(LAMP, powered=False)
    trace = simulate([VALVE, late], ALL, None, 6.0, changes=[Change(2.0, (VALVE, LAMP))])
    assert looks(trace) == {"valve": FLASHING_GREEN, "lamp": FLASHING_GREEN}


def test_the_half_of_a_broken_bus_without_the_scanner_goes_on_line_and_flashes_green() -> None:
    trace = run(ears=Ears.groups(["scanner", "valve"], ["lamp", "drive"]))
    assert looks(trace) == expected(
        scanner=GREEN, valve=GREEN, lamp=FLASHING_GREEN, drive=FLASHING_GREEN
    )
    assert [trace.report(at).state for at in (1, 2, 3)] == [
        EntryState.OK,
        EntryState.NO_ANSWER,
        EntryState.NO_ANSWER,
    ]
    assert outcomes(trace) == {Outcome.THROUGH}


def test_a_single_device_behind_the_break_never_goes_on_line() -> None:
    trace = run(ears=Ears.groups(["scanner", "valve", "lamp"], ["drive"]))
    assert looks(trace)["drive"] is OFF
    assert trace.counters["drive"].state is NodeState.ERROR_PASSIVE


# Data rates


def test_a_wrong_data_rate_disturbs_fifteen_frames_then_the_station_takes_itself_off() -> None:
    trace = run(with_(LAMP, rate=500))
    assert looks(trace) == expected(scanner=GREEN, valve=GREEN, lamp=RED, drive=GREEN)
    assert trace.counters["lamp"].state is NodeState.BUS_OFF
    spoilt = [each for each in trace.frames if each.outcome is Outcome.WRONG_RATE]
    by_others = [each for each in spoilt if each.sender != "lamp"]
    # 1 + 8 receive errors a frame: above 127 after fifteen; then it disturbs no more
    assert len(by_others) == 15
    assert all(each.flagged_by and "lamp" in each.flagged_by for each in by_others)
    # 8 transmit errors an attempt: bus-off with the thirty-second
    assert len(spoilt) - len(by_others) == 32
    assert trace.report(2).state is EntryState.NO_ANSWER


def test_the_counters_rise_by_the_rules_with_every_spoilt_frame() -> None:
    bus = Bus(with_(LAMP, rate=500), ALL, MASTER)
    for spoilt in range(1, 16):
        while sum(each.outcome is Outcome.WRONG_RATE for each in bus.trace().frames) < spoilt:
            bus.run_until(bus.time_s + 50e-6)
        counters = bus.trace().counters
        assert counters["scanner"] == ErrorCounters(transmit=8 * spoilt)
        assert counters["lamp"] == ErrorCounters(receive=9 * spoilt)
        assert counters["valve"] == ErrorCounters(receive=spoilt)


def test_a_scanner_at_the_wrong_rate_leaves_the_devices_without_a_master() -> None:
    trace = run(with_(SCANNER, rate=250))
    assert {looks(trace)[name] for name in ("valve", "lamp", "drive")} == {FLASHING_GREEN}
    assert looks(trace)["scanner"] in (OFF, RED)
    assert not any(each.through for each in trace.frames if each.sender == "scanner")


def test_a_station_at_another_rate_that_joins_late_costs_nobody_a_connection() -> None:
    late = with_(LAMP, rate=500, powered=False)
    trace = run(late, time_s=6.0, changes=[Change(4.0, with_(LAMP, rate=500))])
    assert looks(trace)["lamp"] is RED
    for name in ("scanner", "valve", "drive"):
        assert FLASHING_RED not in [look for _, look in trace.network[name]]


# One-sided hearing


def test_a_device_that_does_not_hear_the_scanner_is_heard_and_yet_does_not_answer() -> None:
    ears = Ears({pair: pair != ("scanner", "valve") for pair in ALL.hears})
    trace = run(ears=ears)
    assert looks(trace) == expected(scanner=GREEN, valve=FLASHING_GREEN, lamp=GREEN, drive=GREEN)
    assert trace.report(1).state is EntryState.NO_ANSWER
    assert all("valve" not in e.received_by for e in trace.frames if e.sender == "scanner")


def test_a_device_that_nobody_hears_does_not_disturb_the_others() -> None:
    trace = run(ears=Ears({pair: pair[0] != "valve" for pair in ALL.hears}))
    assert {looks(trace)[name] for name in ("scanner", "lamp", "drive")} == {GREEN}
    assert looks(trace)["valve"] in (OFF, RED)
    assert trace.report(1).state is EntryState.NO_ANSWER
    for name in ("scanner", "lamp", "drive"):
        assert trace.counters[name] == ErrorCounters()


def test_a_device_that_hears_nobody_starts_in_the_midst_of_others_frames() -> None:
    trace = run(ears=Ears({pair: pair[1] != "valve" for pair in ALL.hears}))
    assert Outcome.COLLISION in outcomes(trace)
    assert looks(trace)["valve"] is OFF
    assert trace.counters["valve"].state is NodeState.ERROR_PASSIVE
    # it goes on for ever where the others give up
    assert NodeState.BUS_OFF in {trace.counters[name].state for name in ("scanner", "lamp")}


# A bus that is taken


def test_a_babbling_device_fills_the_bus_and_io_connections_time_out() -> None:
    trace = run(time_s=4.5, changes=[Change(4.0, with_(LAMP, babbling=True))])
    assert trace.bus_load(4.01, 4.5) > 0.98
    assert {looks(trace)[name] for name in ("valve", "drive", "scanner")} == {FLASHING_RED}
    assert {trace.report(at).state for at in (1, 2, 3)} == {EntryState.LOST}
    late = {each.sender for each in trace.frames if each.time_s > 4.01}
    assert late == {"lamp"}
    # polls every 20 ms, packet rate 80 ms, time-out after four of them
    fell = next(time for time, look in trace.network["valve"] if look is FLASHING_RED)
    assert fell == pytest.approx(4.32, abs=0.021)


def test_only_frames_more_urgent_than_the_babble_get_through_it() -> None:
    bus = Bus(with_(LAMP, babbling=True), ALL, None)
    bus.run_until(4.0)
    bus.put("valve", Frame(0x001))
    bus.put("drive", Frame(0x003))
    bus.run_until(4.1)
    late = [each for each in bus.trace().frames if each.time_s > 4.0]
    others = [each.frame.identifier for each in late if each.sender != "lamp"]
    assert others == [0x001]


def test_a_babbler_from_power_up_keeps_everyone_in_the_duplicate_check() -> None:
    trace = run(with_(LAMP, babbling=True))
    assert set(looks(trace).values()) == {OFF}
    assert trace.bus_load(2.0, 5.0) > 0.98


def test_a_bus_stuck_dominant_from_power_up_lets_nobody_send_and_counts_nothing() -> None:
    trace = run(ears=Ears.groups(NAMES, stuck=NAMES))
    assert trace.frames == ()
    assert set(looks(trace).values()) == {OFF}
    assert {trace.module_status(name) for name in NAMES} == {GREEN}
    assert set(trace.counters.values()) == {ErrorCounters()}


def test_a_bus_that_gets_stuck_times_everyone_out_and_recovers_when_it_is_freed() -> None:
    stuck = Ears.groups(NAMES, stuck=NAMES)
    changes = [Change(4.015, None, stuck), Change(5.0, None, ALL)]
    trace = run(time_s=8.0, changes=changes)
    assert {trace.network_status(name, 4.9) for name in NAMES} == {FLASHING_RED}
    assert not [each for each in trace.frames if 4.016 < each.time_s < 5.0]
    assert set(looks(trace).values()) == {GREEN}
    passive = simulate(BENCH, ALL, MASTER, 4.9, changes=changes).counters
    assert {each.state for each in passive.values()} == {NodeState.ERROR_PASSIVE}


def test_who_is_sending_as_the_bus_gets_stuck_goes_bus_off() -> None:
    plain = run(time_s=4.1)
    hit = next(e for e in plain.frames if e.time_s > 4.0 and e.sender == "drive")
    change = Change((hit.time_s + hit.end_s) / 2, None, Ears.groups(NAMES, stuck=NAMES))
    trace = run(time_s=4.9, changes=[change])
    assert looks(trace) == dict.fromkeys(NAMES, FLASHING_RED) | {"drive": RED}
    assert trace.counters["drive"].state is NodeState.BUS_OFF


# Scan list and sizes


def test_sizes_that_differ_are_reported_and_no_data_is_exchanged() -> None:
    trace = run(with_(LAMP, equipment=Equipment(7, 1002, 2, 0)))
    assert trace.report(2).text == (
        "sizes differ: it sends 2 input bytes, the scan list says 1; "
        "it takes 0 output bytes, the scan list says 1"
    )
    polls = 0x400 | 2 << 3 | 5
    assert not [each for each in trace.frames if each.frame.identifier == polls]
    assert looks(trace)["lamp"] is FLASHING_GREEN
    assert {trace.report(at).state for at in (1, 3)} == {EntryState.OK}


def test_a_connection_that_a_device_is_not_made_for_is_refused() -> None:
    strobed = Equipment(7, 1002, 1, 1, ConnectionKind.BIT_STROBE)
    trace = run(with_(LAMP, equipment=strobed))
    assert trace.report(2).state is EntryState.REFUSED
    assert "it has no room for that" in trace.report(2).text
    assert looks(trace)["lamp"] is FLASHING_GREEN


# Changes during the run


def test_an_unplugged_device_is_missed_and_comes_back_by_itself() -> None:
    changes = [Change(4.0, with_(LAMP, powered=False)), Change(5.0, BENCH)]
    trace = run(time_s=10.0, changes=changes)
    assert [each.state for each in trace.entries[2]][-3:] == [
        EntryState.OK,
        EntryState.LOST,
        EntryState.OK,
    ]
    assert trace.network_status("scanner", 4.9) is FLASHING_RED
    assert trace.network_status("lamp", 4.9) is OFF
    assert set(looks(trace).values()) == {GREEN}
    assert FLASHING_RED not in [look for _, look in trace.network["valve"]]


def test_a_bus_cut_in_the_run_flashes_red_beyond_the_cut_and_recovers() -> None:
    cut = Ears.groups(["scanner", "valve"], ["lamp", "drive"])
    trace = run(time_s=9.0, changes=[Change(4.0, None, cut), Change(5.0, None, ALL)])
    assert trace.network_status("lamp", 4.9) is FLASHING_RED
    assert trace.network_status("drive", 4.9) is FLASHING_RED
    assert trace.network_status("valve", 4.9) is GREEN
    assert set(looks(trace).values()) == {GREEN}


def test_a_scanner_that_loses_power_leaves_flashing_red_devices_and_takes_them_again() -> None:
    changes = [Change(4.0, with_(SCANNER, powered=False)), Change(5.0, BENCH)]
    trace = run(time_s=10.0, changes=changes)
    assert {trace.network_status(name, 4.9) for name in ("valve", "lamp", "drive")} == {
        FLASHING_RED
    }
    assert trace.report(1, 4.9).state is EntryState.NOT_ASKED
    assert set(looks(trace).values()) == {GREEN}
    assert {trace.report(at).state for at in (1, 2, 3)} == {EntryState.OK}


def test_a_frame_under_way_as_the_wiring_changes_is_lost_and_sent_again() -> None:
    plain = run(time_s=4.1)
    hit = next(e for e in plain.frames if e.time_s > 4.0 and e.sender == "valve")
    change = Change((hit.time_s + hit.end_s) / 2, with_(DRIVE, powered=False))
    trace = run(time_s=4.1, changes=[change])
    lost, again = [e for e in trace.frames if e.time_s >= hit.time_s and e.frame == hit.frame][:2]
    assert (lost.outcome, again.outcome) == (Outcome.CUT, Outcome.THROUGH)
    assert again.time_s < lost.end_s + 0.001


def test_where_only_some_hear_each_other_each_sender_still_sends_one_frame_at_a_time() -> None:
    trace = run(ears=Ears({pair: pair[1] != "valve" for pair in ALL.hears}))
    for name in NAMES:
        own = [each for each in trace.frames if name in (each.sender, *each.others)]
        assert all(
            a.end_s <= b.time_s + 1e-9 or a.outcome is Outcome.COLLISION for a, b in pairwise(own)
        )


# Two of one address that are both on line: a break kept their checks apart, then it was mended

TWIN = BusDevice("twin", 1, 125, Equipment(7, 77, 1, 1))
HELPER = BusDevice("helper", 20, 125, Equipment(7, 78, 1, 1))
APART = Ears.groups(["scanner", "lamp"], ["valve", "drive"], ["twin", "helper"])
JOINED = Ears.groups([*NAMES, "twin", "helper"])


def twins(**more: Any) -> Trace:
    bench = (*BENCH, TWIN, HELPER)
    return run(bench, APART, 6.0, changes=[Change(4.0, None, JOINED)], **more)


def test_twins_on_line_answer_as_one_while_their_data_is_the_same() -> None:
    trace = twins()
    assert trace.report(1).text == "OK"
    assert outcomes(trace) == {Outcome.THROUGH}
    polls = [each for each in trace.frames if each.frame.identifier == 0x3C1]
    assert {frozenset((each.sender, *each.others)) for each in polls} == {
        frozenset(("valve", "twin"))
    }


def test_twins_on_line_collide_as_soon_as_their_data_differs() -> None:
    trace = twins(inputs={"twin": b"\x55"})
    hits = [each for each in trace.frames if each.outcome is Outcome.SAME_IDENTIFIER]
    assert {each.frame.identifier for each in hits} == {0x3C1}
    assert max(trace.counters[name].transmit for name in ("valve", "twin")) > 100
    # the drive is listed and sound, it must not suffer for long
    assert trace.report(3).text == "OK"


# Times on the wire


def test_a_lone_sender_waits_for_its_error_frame_and_once_passive_eight_bits_more() -> None:
    frames = simulate([VALVE], ALL, None, 0.6).frames
    gaps = [round((b.time_s - a.end_s) * 125_000) for a, b in pairwise(frames)]
    # error flag and delimiter 20 bits, interframe space 3; suspend transmission 8 (ISO 11898-1)
    assert gaps[:15] == [23] * 15
    assert set(gaps[16:]) == {31}


def test_frames_that_wait_for_each_other_are_three_bits_apart() -> None:
    frames = run(start_spread_s=0.0, time_s=1.0).frames
    assert [round((b.time_s - a.end_s) * 125_000) for a, b in pairwise(frames)] == [3, 3, 3]


# Bus-off


def test_bus_off_lasts_until_power_is_cycled_with_the_right_rate() -> None:
    wrong, off = with_(LAMP, rate=500), with_(LAMP, powered=False)
    changes = [Change(4.0, BENCH), Change(5.0, off), Change(6.0, BENCH)]
    trace = run(wrong, time_s=10.0, changes=changes)
    assert trace.network_status("lamp", 4.9) is RED
    assert trace.network_status("lamp", 5.5) is OFF
    assert set(looks(trace).values()) == {GREEN}
    assert trace.counters["lamp"] == ErrorCounters()
    assert trace.report(2).text == "OK"


def test_two_stations_at_two_rates_never_get_anything_through() -> None:
    trace = run((SCANNER, replace(VALVE, rate=500)), time_s=1.5)
    assert not [each for each in trace.frames if each.through]
    assert {each.state for each in trace.counters.values()} == {NodeState.ERROR_PASSIVE}
    assert set(looks(trace).values()) == {OFF}


def test_what_happens_at_a_device_is_said_in_sentences() -> None:
    late = BusDevice("second valve", 1, 125, Equipment(7, 77, 1, 1), powered=False)
    changes = [Change(4.0, (*BENCH, replace(late, powered=True)))]
    trace = run((*BENCH, late), Ears.groups([*NAMES, late.name]), 6.0, changes=changes)
    assert "address 1 is taken: it stays off the network" in [e for _, e in trace.said[late.name]]
    assert "it answers that address 1 is its own" in [e for _, e in trace.said["valve"]]


def test_polls_that_could_not_go_out_are_not_made_up_for_in_a_burst() -> None:
    changes = [Change(4.001, with_(LAMP, babbling=True)), Change(4.15, BENCH)]
    trace = run(time_s=4.17, changes=changes)
    late = [e for e in trace.frames if e.time_s > 4.15 and e.frame.identifier == 0x40D]
    assert 1 <= len(late) <= 2
