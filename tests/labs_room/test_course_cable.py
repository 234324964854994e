"""The cable's labs of the course: two hundred scenarios of each, right answers and slips."""

from __future__ import annotations

from collections import defaultdict
from functools import cache
from pathlib import Path

import orjson
import pytest

from labkit.lab.definition import Exercise, Lab
from labkit.lab.draw import Scenario, draw
from labkit.lab.expression import Prose
from labkit.lab.kinds import check_for
from labkit.lab.reading import read_lab

LABS = Path(__file__).parents[2] / "labs"
NAMES = ("network-power", "branches-and-rates")
DRAWS = 200
SECRETS = ('"right":', '"slips":', '"tell":', '"tolerance":', '"rubric":', '"model":', '"nominal":')


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
def test_every_draw_is_solvable_and_every_slip_is_told_by_its_id(name: str, wanted: str) -> None:
    asked = exercise(name, wanted)
    check = check_for(asked.kind)
    told: dict[str, int] = defaultdict(int)
    astray: dict[str, int] = defaultdict(int)
    for scenario in scenarios(name):
        prepared = scenario.prepare(asked)
        ask, key = prepared.ask, prepared.key
        right = check.check(ask, key, check.right_answer(ask, key))
        assert right.right or right.awaits, (scenario.seed, right)
        for slip, answer in check.slip_answers(ask, key).items():
            verdict = check.check(ask, key, answer)
            assert verdict.readable, (scenario.seed, answer)
            if verdict.slip == slip and not verdict.right:
                told[slip] += 1
                assert len(verdict.message) > 15
            else:
                astray[slip] += 1
        if scenario.seed.endswith("0"):
            shown = orjson.dumps(ask).decode()
            assert not [word for word in SECRETS if word in shown]
    assert right.awaits or told, "no mistake of this exercise is ever told"
    # In a few draws two mistakes give the same number; a slip must be told in most.
    for slip, count in astray.items():
        assert count <= told[slip] / 4, (slip, count, told[slip])


@pytest.mark.parametrize("name", NAMES)
def test_prose_renders_without_a_hole_and_marks_leave_room_for_hints(name: str) -> None:
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
