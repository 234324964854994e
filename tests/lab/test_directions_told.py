"""Every verdict that tells a side says so apart, and can be told without it."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest
from test_kinds_verdicts import LENGTH_ASK, LENGTH_KEY, SUPPLY_ASK
from test_measured import ASK as METER_ASK
from test_measured import KEY as METER_KEY

from labkit.doors.check import tells_direction
from labkit.doors.installed import check_for
from labkit.lab.draw import draw
from labkit.lab.reading import read_lab

LABS = Path(__file__).parents[2] / "labs"
SIDE = re.compile(
    r"too (large|small|high|low)|\b(below|above)\b|(left|right) of the supply|to the l|to the r"
)
GO_ON = "Go through the steps once more."
AGAIN = (
    "what these parts and this meter allow. Look at the wiring, the range and the leads, then "
    "measure once more."
)


@pytest.mark.parametrize(
    ("kind", "ask", "key", "answer", "message", "without", "direction"),
    [
        (
            "quantity",
            LENGTH_ASK,
            LENGTH_KEY,
            "200 m",
            f"Not right yet: this is too large. {GO_ON}",
            f"Not right yet. {GO_ON}",
            "200 m too large",
        ),
        (
            "quantity",
            LENGTH_ASK,
            LENGTH_KEY,
            "5000 cm",
            f"Not right yet: this is too small. {GO_ON}",
            f"Not right yet. {GO_ON}",
            "50 m too small",
        ),
        (
            "measured",
            METER_ASK,
            METER_KEY,
            {"value": "50 ohm", "meter": "bench"},
            f"The reading is below {AGAIN}",
            f"The reading is not {AGAIN}",
            "50 Ω below",
        ),
        (
            "supply_position",
            SUPPLY_ASK,
            {},
            "0 m",
            None,
            None,
            "0 m, right side",
        ),
    ],
)
def test_the_whole_message_stays_as_it_was(
    kind: str, ask: Any, key: Any, answer: Any, message: str, without: str, direction: str
) -> None:
    verdict = check_for(kind).check(ask, key, answer)
    assert verdict.directions == (direction,)
    assert message in (None, verdict.message)
    assert without in (None, verdict.without_direction)
    assert SIDE.search(verdict.message)
    assert not SIDE.search(verdict.without_direction)


def test_an_overloaded_side_is_told_with_rule_and_figures_either_way() -> None:
    verdict = check_for("supply_position").check(SUPPLY_ASK, {}, "0 m")
    lines = verdict.message.split("\n")
    assert lines[0].startswith("The voltage drop of the trunk fails right of the supply, at ")
    assert lines[-1] == "Move the supply to the right, so that this side gets shorter."
    kept = verdict.without_direction.split("\n")
    assert kept[0].startswith("The voltage drop of the trunk fails on one side of the supply: ")
    assert kept[0].split(": ")[1] == lines[0].split(": ")[1]
    assert kept[-1] == "The other side keeps every rule: work out both for this position."
    assert verdict.slip == "right-overloaded"


def test_a_reading_over_range_tells_no_more_than_the_display() -> None:
    key = {**METER_KEY, "outside": []}
    verdict = check_for("measured").check(METER_ASK, key, {"value": "OL", "meter": "bench"})
    assert "over range" in verdict.message
    assert verdict.directions == ()


@pytest.mark.parametrize("lab", sorted(path.parent.name for path in LABS.glob("*/lab.md")))
def test_known_mistakes_and_wild_answers_tell_a_side_only_where_the_kind_says_so(lab: str) -> None:
    scenario = draw(read_lab(LABS / lab / "lab.md"), "told")
    for exercise in scenario.lab.exercises:
        if exercise.kind == "diagnosis":
            continue  # seconds each, and nothing of a number in it
        prepared, check = scenario.prepare(exercise), check_for(exercise.kind)
        ask, key = prepared.ask, prepared.key
        right = check.right_answer(ask, key)
        wild = [_with_numbers(right, number) for number in (0.0137, 7.7e7)]
        for answer in (right, *check.slip_answers(ask, key).values(), *wild):
            verdict = check.check(ask, key, answer)
            assert bool(verdict.directions) == bool(verdict.without_direction)
            if not tells_direction(check, ask):
                assert verdict.directions == ()
            if verdict.directions:
                assert verdict.message != verdict.without_direction
                assert not SIDE.search(verdict.without_direction)
            elif not verdict.slip:
                assert not re.search(r"too (large|small)\b", verdict.message)


def _with_numbers(answer: Any, number: float) -> Any:
    """An answer of the same form with every number in it exchanged."""
    if isinstance(answer, dict):
        return {name: _with_numbers(value, number) for name, value in answer.items()}
    return re.sub(r"\d+(\.\d+)?", f"{number:f}", answer) if isinstance(answer, str) else answer
