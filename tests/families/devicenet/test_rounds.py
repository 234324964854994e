"""Rounds that are written down are those that would have been played, frame by frame."""

from collections.abc import Callable
from dataclasses import replace
from itertools import permutations
from random import Random
from typing import Any

import pytest
from test_traffic import COS, CYCLIC, POLL, STROBE, device, everyone, plan_of, scanner

from labkit.bench.ears import Ears
from labkit.families.devicenet.bench.bus import Bus
from labkit.families.devicenet.bench.equipment import BusDevice, Master
from labkit.families.devicenet.bench.rounds import Rounds
from labkit.families.devicenet.bench.scanner import Scanner
from labkit.families.devicenet.bench.trace import Trace

POLLED = (scanner(), device(1), device(2, input_bytes=3), device(3, input_bytes=12))
STROBED = (scanner(), device(1), device(2, kind=STROBE), device(3, kind=STROBE))
REPORTING = (scanner(), device(1), device(2, kind=COS), device(3, kind=CYCLIC))
MASTER = plan_of(POLLED[1:])

Play = Callable[[], Trace]


def to_the_end(
    devices: tuple[BusDevice, ...],
    master: Master = MASTER,
    ears: Ears | None = None,
    seconds: float = 7.0,
) -> Play:
    def play() -> Trace:
        bus = Bus(devices, ears or everyone(devices), master)
        bus.run_until(seconds)
        return bus.trace()

    return play


def touched() -> Trace:
    """Played in steps, with a hand in it between them."""
    bus = Bus(POLLED, everyone(POLLED), MASTER)
    bus.run_until(4.0)
    bus.set_inputs("node 1", b"\x07")
    bus.set_outputs("node 2", b"\x01")
    bus.run_until(4.3)
    bus.put("node 3", bus.trace().frames[0].frame)
    bus.run_until(5.0)
    bus.change(ears=Ears.groups(["scanner", "node 1"], ["node 2", "node 3"]))
    bus.run_until(7.0)
    bus.change([replace(each, powered=each.name != "node 1") for each in POLLED], everyone(POLLED))
    bus.run_until(12.0)
    return bus.trace()


BENCHES: dict[str, Play] = {
    # Some ten seconds in, explicit connections time out.
    "polled": to_the_end(POLLED, seconds=16.0),
    "strobed": to_the_end(STROBED, plan_of(STROBED[1:])),
    "reporting": to_the_end(REPORTING, plan_of(REPORTING[1:], 17.3), seconds=16.0),
    "a report at every scan": to_the_end(REPORTING[::3], plan_of(REPORTING[3:], 50.0)),
    "scans that come too soon": to_the_end(POLLED, plan_of(POLLED[1:], 3.0), seconds=4.5),
    "others talk among themselves": to_the_end(
        (*POLLED[:-1], replace(POLLED[-1], babbling=True)),
        ears=Ears.groups(["scanner", "node 1"], ["node 2", "node 3"]),
        seconds=3.5,
    ),
    "one is missing": to_the_end(POLLED[:-1]),
    "another size": to_the_end((*POLLED[:-1], device(3))),
    "another rate": to_the_end((*POLLED[:-1], device(3, rate=500))),
    "one address twice": to_the_end((*POLLED, replace(device(2), name="another"))),
    "a babbler": to_the_end((*POLLED[:-1], replace(POLLED[-1], babbling=True))),
    "nobody hears one": to_the_end(POLLED, ears=everyone(POLLED[:-1])),
    "touched": touched,
}


def told(trace: Trace) -> tuple[object, ...]:
    return (trace.frames, trace.counters, trace.network, trace.module, trace.said, trace.entries)


@pytest.mark.parametrize("bench", BENCHES)
def test_a_run_is_the_same_where_every_round_is_played(
    bench: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    quick = BENCHES[bench]()
    monkeypatch.setattr(Rounds, "leap", lambda *_: 0)
    assert told(BENCHES[bench]()) == told(quick)


def any_bench(seed: int) -> Play:
    """Anything that may stand on a bench, and be done to it."""
    chance = Random(seed)
    kinds = (POLL, POLL, STROBE, COS, CYCLIC)
    sizes: list[dict[str, Any]] = [
        {"input_bytes": chance.choice((1, 4, 8)), "output_bytes": chance.choice((0, 1, 9))}
        for _ in range(4)
    ]
    made = [device(n, kind=chance.choice(kinds), **size) for n, size in enumerate(sizes, 1)]
    plan = plan_of(made, chance.choice((5.0, 11.7, 20.0, 33.333)))
    odd = chance.randrange(4)
    changed = chance.choice(
        (
            {"rate": 250},
            {"dead": True},
            {"address": 1 + (odd + 1) % 4},
            {"babbling": True},
            {"equipment": replace(made[odd].equipment, input_bytes=2)},
        )
    )
    made[odd] = replace(made[odd], **changed)
    bench = (scanner(), *made)
    pairs = list(permutations([each.name for each in bench], 2))
    deaf = dict.fromkeys(chance.sample(pairs, chance.choice((0, 0, 1, 3))), False)
    ears = Ears(dict.fromkeys(pairs, True) | deaf)
    listed = plan.scan_list[: chance.choice((3, 4))]
    loose = Ears({pair: True for pair in pairs if made[-1].name not in pair})
    moments = sorted(round(chance.uniform(0.5, 9), 6) for _ in range(chance.choice((0, 0, 2, 4))))

    def play() -> Trace:
        bus = Bus(bench, ears, Master("scanner", listed, plan.scan_every_ms))
        for number, moment in enumerate(moments):
            bus.run_until(moment)
            bus.change(ears=ears if number % 2 else loose)
        bus.run_until(10.0)
        return bus.trace()

    return play


@pytest.mark.parametrize("seed", range(3))
def test_whatever_stands_on_the_bench_the_run_is_the_same(
    seed: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    quick = any_bench(seed)()
    monkeypatch.setattr(Rounds, "leap", lambda *_: 0)
    assert told(any_bench(seed)()) == told(quick)


def test_of_a_sound_run_few_scans_are_played(monkeypatch: pytest.MonkeyPatch) -> None:
    played: list[int] = []
    scan = Scanner.scan

    def counted(self: Scanner, now: int) -> None:
        played.append(now)
        scan(self, now)

    monkeypatch.setattr(Scanner, "scan", counted)
    trace = BENCHES["polled"]()
    assert len(played) < 30
    assert len([each for each in trace.frames if each.sender == "scanner"]) > 1500
