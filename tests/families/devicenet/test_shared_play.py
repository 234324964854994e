"""Groups played by themselves, and tries repeated at once, against whole runs step by step."""

import random
from dataclasses import replace
from itertools import permutations

import pytest

from labkit.bench.bench import Bench
from labkit.bench.can.wire import Segment
from labkit.bench.debrief import Suspects
from labkit.bench.ears import Ears
from labkit.bench.faults import Broken, Fault, Touching, swapped
from labkit.bench.possible import possible_faults
from labkit.bench.situation import Situation
from labkit.families.devicenet.bench.bus import Bus, Change, simulate
from labkit.families.devicenet.bench.conductors import CAN_H, CAN_L, CONDUCTORS, V_PLUS
from labkit.families.devicenet.bench.equipment import BusDevice, Equipment
from labkit.families.devicenet.bench.faults import RateSet
from labkit.families.devicenet.bench.measurements import Indicators
from labkit.families.devicenet.bench.setup import Setup
from labkit.families.devicenet.bench.shared_play import SharedPlay
from labkit.families.devicenet.bench.trace import Trace
from labkit.fieldbus.can.frame import Frame
from labkit.fieldbus.devicenet.network import Device, Drop, Network, Supply, Tap
from labkit.fieldbus.devicenet.network import Segment as Cable

TAPS = tuple(Tap(3.0 + 6 * k, Drop(2.0, (Device(f"node {k}", 0.1, k),))) for k in range(4))
SETUP = Setup(Network(125, (Cable("thick", 27.0),), TAPS, (Supply(13.0),)), "node 0")
LIVE = Situation(power=True)
TELLING: list[Fault] = [
    Broken("tap 3, right", CAN_H),
    Broken("tap 2, drop", V_PLUS),
    Broken("tap 1, drop", CAN_L),
    Touching("node 1", CAN_H, V_PLUS),
    swapped("node 2", CAN_H, CAN_L, CONDUCTORS),
]


def told(trace: Trace) -> tuple[object, ...]:
    return (
        trace.frames,
        dict(trace.network),
        dict(trace.module),
        dict(trace.said),
        dict(trace.entries),
        dict(trace.counters),
    )


def benches() -> list[Bench]:
    others = random.Random(7).sample(possible_faults(SETUP), 6)
    return [Bench(SETUP, frozenset({fault}), LIVE) for fault in (*TELLING, *others)]


def test_groups_side_by_side_are_the_whole_run() -> None:
    play = SharedPlay(SETUP.master_on)
    for bench in benches():
        assert told(play.trace(bench)) == told(bench.trace), bench.faults


def test_a_bench_agrees_exactly_where_its_reading_does() -> None:
    all_here = benches()
    play = SharedPlay(SETUP.master_on)
    for bench in all_here:
        seen = Indicators().take(bench)
        for other in all_here:
            assert play.agrees(other, Indicators(), seen) == Indicators().take(other).agrees(seen)


def test_suspects_left_by_the_indicators_are_those_that_would_show_them() -> None:
    faults = [*TELLING, *random.Random(3).sample(possible_faults(SETUP), 8)]
    suspects = Suspects(Bench(SETUP, situation=LIVE), faults, ())
    seen = Indicators().take(Bench(SETUP, frozenset({TELLING[0]}), LIVE))
    each = [Indicators().take(Bench(SETUP, frozenset({f}), LIVE)).agrees(seen) for f in faults]
    left = suspects.left(faults, Indicators(), LIVE, seen)
    assert left == tuple(f for f, agrees in zip(faults, each, strict=True) if agrees)
    assert TELLING[0] in left


def alone(count: int) -> list[BusDevice]:
    return [BusDevice(f"n{k}", k, 500, Equipment(7, 30 + k)) for k in range(count)]


def test_tries_repeated_at_once_are_those_made_one_by_one(monkeypatch: pytest.MonkeyPatch) -> None:
    quick = simulate(alone(3), Ears({}), None, 2.0)
    assert len(quick.frames) > 5000
    monkeypatch.setattr(Segment, "_repeat", lambda *_: None)
    assert told(simulate(alone(3), Ears({}), None, 2.0)) == told(quick)


def test_a_run_in_steps_with_changes_is_the_same_with_and_without_repeating(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def played() -> Trace:
        bus = Bus(alone(3), Ears({}), None)
        bus.run_until(1.0)
        bus.put("n1", simulate(alone(1), Ears({}), None, 1.0).frames[0].frame)
        bus.run_until(1.1234)
        bus.change(ears=Ears.groups(["n0", "n1"]))
        bus.run_until(1.6)
        bus.change(ears=Ears({}))
        bus.run_until(2.0)
        return bus.trace()

    quick = played()
    monkeypatch.setattr(Segment, "_repeat", lambda *_: None)
    assert told(played()) == told(quick)


def test_a_scanner_cut_off_goes_on_scanning_while_it_repeats(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    bench = Bench(SETUP, situation=LIVE)

    def played() -> Trace:
        bus = Bus(bench.devices, bench.ears, SETUP.master_on(bench))
        bus.run_until(3.2)
        bus.change(ears=Ears({}))
        bus.run_until(3.9)
        bus.change(ears=bench.ears)
        bus.run_until(4.2)
        return bus.trace()

    quick = played()
    monkeypatch.setattr(Segment, "_repeat", lambda *_: None)
    assert told(played()) == told(quick)


def test_a_babbler_s_frames_written_down_are_those_sent_one_by_one(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """From power-up, with others' frames in between, into a bus that works, after many errors, and
    where one does not hear it."""
    names = [f"n{k}" for k in range(3)]
    ears, well = Ears.groups(names), alone(3)
    ill = [replace(each, babbling=each.name == "n2") for each in well]

    def one_talks_into_it(at: float) -> Trace:
        bus = Bus(well, Ears({pair: pair != ("n2", "n1") for pair in permutations(names, 2)}), None)
        bus.run_until(3.0)
        bus.change(ill)
        bus.run_until(at)
        bus.put("n1", Frame(0x001, b"\1"))
        bus.run_until(3.6)
        return bus.trace()

    # The moment after one of its frames has ended, for one that does not hear it.
    just_after = next(f.end_s for f in one_talks_into_it(3.59).frames if f.end_s > 3.5) + 2e-6

    def played() -> list[Trace]:
        bus = Bus(ill, ears, None)
        bus.run_until(1.0)
        bus.put("n1", Frame(0x001, b"\1"))
        bus.put("n0", Frame(0x7FF, b"\2"))
        bus.run_until(1.5)
        later = simulate(well, ears, None, 4.0, changes=[Change(3.0, tuple(ill))])
        cut = simulate(ill, ears, None, 2.0, changes=[Change(1.0, ears=Ears.groups(["n0", "n1"]))])
        joined = simulate(ill, Ears({}), None, 1.2, changes=[Change(1.0, ears=ears)])
        return [bus.trace(), later, cut, joined, one_talks_into_it(just_after)]

    quick = [told(each) for each in played()]
    assert sum(each.sender == "n2" for each in played()[0].frames) > 1000
    monkeypatch.setattr(Segment, "_repeat", lambda *_: None)
    assert [told(each) for each in played()] == quick


def test_equal_frames_that_wait_go_out_as_often_as_they_were_given() -> None:
    bus = Bus(alone(2), Ears.groups(["n0", "n1"]), None)
    bus.run_until(3.0)
    for _ in range(3):
        bus.put("n0", Frame(0x001, b"\1"))
    bus.run_until(4.0)
    assert [each.frame.identifier for each in bus.trace().frames].count(0x001) == 3


def test_a_babbler_s_frames_are_judged_a_few_times_only(monkeypatch: pytest.MonkeyPatch) -> None:
    ended = []
    end = Segment.end

    def noted(self: Segment, now: int) -> None:
        ended.append(now)
        end(self, now)

    monkeypatch.setattr(Segment, "end", noted)
    ill = [replace(each, babbling=each.name == "n2") for each in alone(3)]
    trace = simulate(ill, Ears.groups([each.name for each in ill]), None, 3.0)
    assert len(trace.frames) > 5000
    assert len(ended) < 50


def test_who_is_off_for_good_and_was_seen_otherwise_is_not_played_to_the_end(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    until: list[float] = []
    run_until = Bus.run_until

    def noted(self: Bus, time_s: float) -> None:
        until.append(time_s)
        run_until(self, time_s)

    monkeypatch.setattr(Bus, "run_until", noted)
    play = SharedPlay(SETUP.master_on)
    seen = Indicators().take(Bench(SETUP, situation=LIVE))
    wrong = Bench(SETUP, frozenset({RateSet("node 2", 500)}), LIVE)
    until.clear()
    for _ in range(2):
        assert play.agrees(wrong, Indicators(), seen) is False
    assert until == [1.0]
    # Asked whether it looks as it does, it is played all the same, and says yes.
    assert play.agrees(wrong, Indicators(), Indicators().take(wrong)) is True
    assert max(until) == 6.0
