"""A driver's voltages by superposition against the bench solved as a whole."""

import random
from typing import Any

import pytest

from labkit.bench.bench import Bench
from labkit.bench.driven import Increments
from labkit.bench.faults import Corroded, Draws, Fault, SupplyWeak, Touching
from labkit.bench.possible import possible_faults
from labkit.bench.situation import Situation
from labkit.families.devicenet.bench.conductors import CAN_L, V_PLUS, WIRES
from labkit.families.devicenet.bench.setup import Setup
from labkit.fieldbus.devicenet.network import Device, Drop, Network, Segment, Supply, Tap


def setup(draw: random.Random) -> Setup:
    count = draw.randint(2, 6)
    taps = tuple(
        Tap(3.0 + 9 * k, Drop(2.0, (Device(f"node {k}", draw.choice((0.05, 0.3, 1.2)), k),)))
        for k in range(count)
    )
    length = 6.0 + 9 * count
    supplies: tuple[Supply, ...] = (
        Supply(length / 2, rating=draw.choice((None, 4.0)), diode=draw.random() < 0.5),
    )
    if draw.random() < 0.4:
        supplies += (Supply(1.0, diode=True),)
    return Setup(
        Network(125, (Segment(draw.choice(("thick", "thin")), length),), taps, supplies), "node 0"
    )


def some_faults(draw: random.Random, made: Setup) -> list[Fault]:
    where = draw.choice(list(made.layout.connectors))
    more = [
        Corroded(where, draw.choice(WIRES), draw.choice((3.0, 40.0))),
        Draws("node 1", 3.0),
        SupplyWeak(next(iter(made.layout.supplies)), 0.4),
        Touching("node 1", V_PLUS, CAN_L),
    ]
    return [draw.choice((draw.choice(more), draw.choice(possible_faults(made)))) for _ in range(2)]


def settle(seed: int) -> tuple[Bench, list[str]]:
    draw = random.Random(seed)
    made = setup(draw)
    kinds = {type(fault): fault for fault in some_faults(draw, made)}
    bench = Bench(made, frozenset(kinds.values()), Situation(power=True))
    assert bench.live is not None
    return bench, [name for name in made.layout.devices if bench.live.works(name)]


def test_superposition_is_the_bench_solved_as_a_whole(monkeypatch: pytest.MonkeyPatch) -> None:
    quick: dict[tuple[int, str], list[float]] = {}
    taken = 0

    def counted(increments: Increments, *args: Any) -> dict[str, float] | None:
        nonlocal taken
        found = whole(increments, *args)
        taken += found is not None
        return found

    whole = Increments.moved
    monkeypatch.setattr(Increments, "moved", counted)
    for seed in range(24):
        bench, talkers = settle(seed)
        for talker in talkers:
            quick[seed, talker] = _seen(bench, talker)
    assert taken > 40, "the quick way was hardly ever taken"
    monkeypatch.setattr(Increments, "moved", lambda *_: None)
    for seed in range(24):
        bench, talkers = settle(seed)
        for talker in talkers:
            assert _seen(bench, talker) == pytest.approx(quick[seed, talker], rel=1e-7, abs=1e-7)


def _seen(bench: Bench, talker: str) -> list[float]:
    """Every node against each other's neighbour, so that no zero of a part matters."""
    assert bench.live is not None
    found = bench.live.dominant(talker)
    nodes = sorted(bench.live.idle.volt)
    return [found.between(a, b) for a, b in zip(nodes, nodes[7:] + nodes[:7], strict=True)]
