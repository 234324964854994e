"""The controller's labs of the course: two hundred scenarios of each, right answers and slips."""

from __future__ import annotations

from collections import defaultdict
from functools import cache
from pathlib import Path
from typing import Any

import orjson
import pytest

from labkit.fieldbus.identifier61131 import Fault, name_problem
from labkit.lab.definition import Exercise, Lab
from labkit.lab.draw import Scenario, draw
from labkit.lab.expression import Prose
from labkit.lab.kinds import check_for
from labkit.lab.reading import read_lab

LABS = Path(__file__).parents[2] / "labs"
NAMES = ("controller-and-chassis", "addresses-and-rates", "scan-list-and-io-map")
DRAWS = 200


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
    assert right.awaits or told, "no mistake of this exercise is ever told"


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


@pytest.mark.parametrize(("name", "wanted"), EXERCISES)
def test_what_the_trainee_sees_holds_nothing_of_the_key(name: str, wanted: str) -> None:
    for scenario in scenarios(name)[::10]:
        prepared = scenario.prepare(exercise(name, wanted))
        assert not {"right", "slips", "tells", "tell", "example", "rubric", "model"} & _fields(
            prepared.ask
        )
        seen = orjson.dumps(prepared.ask).decode()
        for secret in _sentences(prepared.key):
            assert secret not in seen, secret


def _fields(data: Any) -> set[str]:
    if isinstance(data, dict):
        return {*data} | {name for value in data.values() for name in _fields(value)}
    if isinstance(data, list):
        return {name for value in data for name in _fields(value)}
    return set()


def _sentences(key: Any) -> list[str]:
    """What a key says in words: explanations, model answers; a sign-off's items are for all."""
    if isinstance(key, dict):
        hidden = {name: value for name, value in key.items() if name not in ("rubric", "steps")}
        return [text for value in hidden.values() for text in _sentences(value)]
    if isinstance(key, list):
        return [text for value in key for text in _sentences(value)]
    return [key] if isinstance(key, str) and len(key) > 40 else []


def test_the_proposed_names_are_judged_as_the_standard_does() -> None:
    findings = {
        None: "valid",
        Fault.DIGIT_FIRST: "digit first",
        Fault.SPACE: "space or other sign",
        Fault.HYPHEN: "space or other sign",
        Fault.CHARACTER: "space or other sign",
        Fault.DOUBLE_UNDERSCORE: "underscore in a wrong place",
        Fault.LAST_UNDERSCORE: "underscore in a wrong place",
        Fault.KEYWORD: "keyword",
    }
    pool = {text for each in scenarios("controller-and-chassis") for text in each.names["judged"]}
    assert len(pool) == 18
    for text in pool:
        name, said = text.split("|")
        problem = name_problem(name)
        assert findings[problem.fault if problem else None] == said, name
