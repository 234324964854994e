"""The course's labs of timing and wiring: solvable draws, told slips, and their functions."""

from __future__ import annotations

import math
from collections import defaultdict
from functools import cache
from pathlib import Path
from typing import Any

import orjson
import pytest
from hypothesis import given
from hypothesis import strategies as st

from labkit.fieldbus.can.bits import bits_of, stuff
from labkit.lab.definition import Exercise, Lab
from labkit.lab.draw import Scenario, draw
from labkit.lab.expression import Prose
from labkit.lab.kinds import check_for
from labkit.lab.networks.devicenet_stuffing import stuff_count, stuffed_row
from labkit.lab.networks.devicenet_timing import worst_frame_bits
from labkit.lab.reading import read_lab

LABS = Path(__file__).parents[2] / "labs"
NAMES = ("timing",)
DRAWS = 150


@cache
def lab(name: str) -> Lab:
    return read_lab(LABS / name / "lab.md")


@cache
def scenarios(name: str) -> list[Scenario]:
    return [draw(lab(name), f"course {number}") for number in range(DRAWS)]


def exercise(name: str, wanted: str) -> Exercise:
    return next(each for each in lab(name).exercises if each.id == wanted)


EXERCISES = [(name, each.id) for name in NAMES for each in lab(name).exercises]


@pytest.mark.parametrize(("name", "wanted"), EXERCISES)
def test_each_draw_is_solvable_and_each_slip_is_told_by_its_id(name: str, wanted: str) -> None:
    asked = exercise(name, wanted)
    check = check_for(asked.kind)
    told: dict[str, int] = defaultdict(int)
    for scenario in scenarios(name):
        prepared = scenario.prepare(asked)
        ask, key = prepared.ask, prepared.key
        right = check.check(ask, key, check.right_answer(ask, key))
        assert right.right or right.awaits, (scenario.seed, right)
        for slip, answer in check.slip_answers(ask, key).items():
            verdict = check.check(ask, key, answer)
            assert (verdict.slip, verdict.right, verdict.readable) == (slip, False, True), (
                scenario.seed,
                answer,
                verdict.message,
            )
            assert len(verdict.message) > 15
            told[slip] += 1
    assert right.awaits or asked.kind == "measured" or len(told) >= 2


@pytest.mark.parametrize("name", NAMES)
def test_the_prose_renders_without_a_hole(name: str) -> None:
    for scenario in scenarios(name):
        for part in lab(name).body:
            texts = [part] if isinstance(part, Prose) else []
            if isinstance(part, Exercise):
                texts = [part.title, part.question, part.working]
                texts += [hint.text for hint in part.hints]
                assert part.marks >= sum(hint.costs for hint in part.hints)
            for text in texts:
                shown = text.render(scenario.names)
                assert shown.strip()
                assert "{{" not in shown
                assert "None" not in shown


@pytest.mark.parametrize(("name", "wanted"), EXERCISES)
def test_the_trainee_sees_nothing_of_the_key(name: str, wanted: str) -> None:
    hidden = {"key", "right", "slips", "tells", "tell", "rubric", "model", "nominal", "low", "high"}
    for scenario in scenarios(name)[::10]:
        prepared = scenario.prepare(exercise(name, wanted))
        assert not hidden & _fields(prepared.ask)
        assert orjson.dumps(prepared.ask)


def _fields(data: Any) -> set[str]:
    if isinstance(data, dict):
        return {*data} | {name for value in data.values() for name in _fields(value)}
    if isinstance(data, list):
        return {name for value in data for name in _fields(value)}
    return set()


@given(st.text("01", min_size=1, max_size=40))
def test_the_row_with_brackets_is_the_row_on_the_wire(row: str) -> None:
    shown = stuffed_row(row)
    assert shown.replace("(", "").replace(")", "") == "".join(map(str, stuff(bits_of(row))))
    assert shown.count("(") == stuff_count(row)


def test_the_response_times_are_those_of_the_hand_method_that_the_lab_teaches() -> None:
    for scenario in scenarios("timing"):
        names = scenario.names
        frames = [worst_frame_bits(count) / 125 for count in names["report_bytes"]]
        periods = names["line_periods"]
        assert math.isclose(names["first_worst"], max(frames[1:]) + frames[0])
        wait = math.fsum(frames[:5])
        while True:
            # One bit later the last report has begun, and nobody can overtake it any more.
            counts = [math.ceil((wait + 0.008) / period - 1e-9) for period in periods[:5]]
            longer = math.fsum(n * frame for n, frame in zip(counts, frames, strict=False))
            if math.isclose(longer, wait):
                break
            wait = longer
        assert math.isclose(names["last_worst"], wait + frames[5])
        assert counts == [names["fast_times"], 1, 1, 1, 1]


def test_the_scan_adds_up_by_the_formula_in_the_text() -> None:
    for scenario in scenarios("timing"):
        names = scenario.names
        counts = [*names["inputs"], *names["outputs"]]
        bits = sum(47 + 8 * n + (33 + 8 * n) // 4 for n in counts)
        assert math.isclose(names["longest"], bits / names["rate"] + names["pause"])
        busy = names["longest"] - names["pause"]
        assert math.isclose(names["load"], 100 * busy / names["longest"])
