"""Groups played by themselves, and tries repeated at once, against whole runs step by step."""

import random

import pytest

from labkit.bench.bench import Bench
from labkit.bench.can.wire import Segment
from labkit.bench.debrief import Suspects
from labkit.bench.ears import Ears
from labkit.bench.faults import Broken, Fault, Touching, swapped
from labkit.bench.possible import possible_faults
from labkit.bench.situation import Situation
from labkit.families.devicenet.bench.bus import Bus, simulate
from labkit.families.devicenet.bench.conductors import CAN_H, CAN_L, CONDUCTORS, V_PLUS
from labkit.families.devicenet.bench.equipment import BusDevice, Equipment
from labkit.families.devicenet.bench.measurements import Indicators
from labkit.families.devicenet.bench.setup import Setup
from labkit.families.devicenet.bench.shared_play import SharedPlay
from labkit.families.devicenet.bench.trace import Trace
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
