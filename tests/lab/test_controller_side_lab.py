"""A lab of all kinds of the controller's side: two hundred scenarios, right answers and slips."""

from collections import defaultdict
from functools import cache
from pathlib import Path
from typing import Any

import orjson
import pytest

from labkit.doors.installed import check_for
from labkit.exchange.task_file import Task
from labkit.lab.draw import Scenario, draw
from labkit.lab.reading import read_lab
from labkit.workbook.task import task_data

LAB = read_lab(Path(__file__).parent / "labs" / "controller-side" / "lab.md")
DRAWS = 200
# What a class is sure to do: these must show in every drawn lab.
EXPECTED = {
    "map": {"missing-block", "areas-swapped", "outside-area", "overlap", "off-boundary", "gap"}
    | {"counted-in-words"},
    "bit": {"wrong-area", "header-forgotten", "bit-from-1", "byte-order", "word-offset"},
    "word": {"wrong-area", "start-forgotten", "wrong-counting", "byte-number"},
    "board": {"slots-from-1", "modules-swapped", "network-address", "broadcast-address"}
    | {"temporary-address", "address-taken", "name-begins-with-digit", "name-with-space"}
    | {"name-with-hyphen", "name-twice", "wrong-revision", "node-taken", "wrong-rate"},
    "start-stop": {"missing-seal-in", "negated-contact", "wrong-operand", "output-read-as-input"},
    "interlock": {"negated-contact", "wrong-operand", "double-coil"},
}


@cache
def scenarios() -> list[Scenario]:
    return [draw(LAB, f"controller {number}") for number in range(DRAWS)]


@pytest.mark.parametrize("name", sorted(EXPECTED))
def test_right_answers_are_right_and_slips_are_told(name: str) -> None:
    exercise = next(each for each in LAB.exercises if each.id == name)
    check = check_for(exercise.kind)
    told: dict[str, int] = defaultdict(int)
    for number, scenario in enumerate(scenarios()):
        prepared = scenario.prepare(exercise)
        right = check.check(
            prepared.ask, prepared.key, check.right_answer(prepared.ask, prepared.key)
        )
        assert right.right, (scenario.seed, right)
        if number % 4:  # to look for slips takes its time
            continue
        for slip, answer in check.slip_answers(prepared.ask, prepared.key).items():
            verdict = check.check(prepared.ask, prepared.key, answer)
            assert (verdict.slip, verdict.right, verdict.readable) == (slip, False, True)
            assert len(verdict.message) > 15
            assert check.shown(prepared.ask, answer)
            told[slip] += 1
    assert set(told) >= EXPECTED[name]
    assert min(told[slip] for slip in EXPECTED[name]) > DRAWS / 16


def test_an_assessed_task_holds_no_key_and_is_plain_json() -> None:
    scenario = scenarios()[0]
    tasks = [_task(scenario, practice=practice) for practice in (True, False)]
    open_task, assessed = (orjson.loads(orjson.dumps(task)) for task in tasks)
    for exercise, prepared in zip(
        assessed["exercises"], [scenario.prepare(each) for each in LAB.exercises], strict=True
    ):
        assert set(exercise) == {"id", "number", "kind", "title", "question", "marks", "ask"}
        ask = orjson.dumps(exercise["ask"]).decode()
        for secret in _leaves(prepared.key):
            assert f'"{secret}"' not in ask, (exercise["id"], secret)
    # The practice task, which does hold them, shows that the search can find something.
    assert any(
        f'"{secret}"' in orjson.dumps(exercise).decode()
        for exercise, each in zip(open_task["exercises"], LAB.exercises, strict=True)
        for secret in _leaves(scenario.prepare(each).key)
    )


def _task(scenario: Scenario, *, practice: bool) -> Task:
    return task_data(
        scenario,
        workbook="w",
        class_id="c",
        class_title="C",
        trainee={"id": "t01", "name": "Ansa Merrow"},
        practice=practice,
        deadline=None,
        signing_key="k",
    )


def _leaves(key: Any) -> list[str]:
    """Texts of a key that no `ask` may hold; a ladder's operands stand in both by right."""
    if isinstance(key, dict):
        hidden = {name: value for name, value in key.items() if name not in ("steps", "example")}
        return [leaf for value in hidden.values() for leaf in _leaves(value)]
    if isinstance(key, list):
        return [leaf for value in key for leaf in _leaves(value)]
    return [key] if isinstance(key, str) else []
