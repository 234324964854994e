"""What was measured at one network, carried over to another one: the same positions there."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from labkit.bench.bench import Bench
from labkit.bench.counterparts import counterparts, moves_on, situation_of, switched
from labkit.bench.faults import Broken
from labkit.bench.situation import Situation
from labkit.families.devicenet.bench.conductors import CAN_H
from labkit.families.devicenet.bench.setup import Setup
from labkit.fieldbus.devicenet.network import Device, Drop, Network, Segment, Supply, Tap


def line(*names: str, **more: Any) -> Setup:
    taps = tuple(
        Tap(10.0 * place, Drop(1.0, (Device(name, 0.2, place),)))
        for place, name in enumerate(names, 1)
    )
    length = 10.0 * len(names) + 5
    return Setup(Network(125, (Segment("thick", length),), taps, (Supply(12.0),)), names[0], **more)


LONG = line("panel", "b", "c", "d", "e", "f", "g", "last")
OUT = Situation(unplugged=frozenset({"right end"}))
SHORT = line("scanner", "two", "three", "four", "end", live_plugs=False)


def ohms(a: str, b: str) -> dict[str, Any]:
    return {"kind": "ohms", "a": a, "b": b}


def carried(*steps: object, own: Setup = LONG, power: bool = False) -> list[dict[str, Any]]:
    fault = Broken("tap 2, left", CAN_H)
    return moves_on(Bench(own, frozenset({fault}), Situation(power=power)), steps, SHORT)


def test_the_scanner_the_last_half_way_and_by_number_have_counterparts() -> None:
    names = counterparts(LONG, SHORT)
    devices = {name: names.get(name) for name in LONG.layout.devices}
    assert devices == {
        "panel": "scanner",
        "b": "two",
        "c": "three",
        # Half way of seven, and of four.
        "e": "three",
        "last": "end",
        "d": "four",
        # Not last, where the other line ends: there is no such place.
        "f": None,
        "g": None,
    }
    assert names["tap 1, drop"] == "tap 1, drop"
    assert names["tap 8, left"] == "tap 5, left"
    assert names["power tap of supply, lead"] == "power tap of supply, lead"
    assert (names["left end"], names["right end"], names["supply"]) == (
        "left end",
        "right end",
        "supply",
    )


def test_a_place_in_between_has_no_counterpart_where_the_other_line_ends() -> None:
    names = counterparts(LONG, line("scanner", "two", "three", "four", "five", "end"))
    assert names["last"] == "end"
    assert "f" not in names


def test_a_line_is_its_own_counterpart() -> None:
    assert all(name == other for name, other in counterparts(LONG, LONG).items())
    assert set(counterparts(LONG, LONG)) >= set(LONG.layout.connectors)


def test_probes_the_other_way_round_and_readings_taken_again_count_once() -> None:
    (move,) = carried(ohms("last/2", "last/4"), ohms("last/4", "last/2"), ohms("last/4", "last/2"))
    assert move["step"] == ohms("end/4", "end/2")


def test_how_the_bench_stood_goes_with_it_and_what_has_no_place_is_left_out() -> None:
    moves = carried(
        {"kind": "power off"},
        {"kind": "unplug", "connector": "tap 8, drop"},
        ohms("panel/4", "panel/2"),
        ohms("f/4", "f/2"),
        {"kind": "plug", "connector": "tap 8, drop"},
        {"kind": "power on"},
        # Refused there as here.
        ohms("panel/4", "panel/1"),
        {"kind": "scanner report"},
        {"kind": "look back"},
        {"kind": "unplug", "connector": "tap 6, drop"},
        {"kind": "scanner report"},
        power=True,
    )
    assert [(m["step"]["kind"], m["power"], m["unplugged"]) for m in moves] == [
        ("ohms", False, ["tap 5, drop"]),
        ("scanner report", True, []),
    ]


def test_nothing_counts_from_the_first_repair_on() -> None:
    repair = {"kind": "land", "connector": "tap 2, left", "terminals": [1, 2, 3, 4, 5]}
    first, after = ohms("panel/4", "panel/2"), ohms("last/4", "last/2")
    assert len(carried(first, after)) == 2
    assert len(carried(first, repair, after)) == 1


@pytest.mark.parametrize(
    ("before", "now", "acts"),
    [
        (Situation(power=True), Situation(power=True), []),
        (Situation(power=True), Situation(), ["power off"]),
        (
            Situation(power=True),
            replace(OUT, power=True),
            ["power off", "unplug", "power on"],
        ),
        (
            Situation(unplugged=frozenset({"right end"})),
            Situation(power=True),
            ["plug", "power on"],
        ),
        (
            Situation(power=True),
            Situation(earth_lifted=True),
            ["power off", "lift earth"],
        ),
    ],
)
def test_what_is_switched_first_can_be_done_on_the_bench(
    before: Situation, now: Situation, acts: list[str]
) -> None:
    done = switched(before, now)
    assert [act.kind for act in done] == acts
    bench = Bench(SHORT, frozenset(), before)
    for act in done:
        bench = act.do(bench)
    assert bench.situation == now


def test_a_move_says_how_the_bench_stands() -> None:
    (move,) = carried(ohms("panel/4", "panel/2"))
    assert situation_of(move) == Situation()
