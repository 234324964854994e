"""The task file: what the widgets of one workbook read, as plain JSON.

A practice task carries a `practice` part in each exercise: the key, the hints, the working and,
where a verdict may tell a direction, a worked example with other numbers. In an assessed task that
part is absent, not hidden.
"""

from __future__ import annotations

from typing import Any

from labkit.exchange.formats import TASK_FORMAT, TASK_VERSION
from labkit.lab.definition import Exercise, Lab
from labkit.lab.draw import Scenario
from labkit.workbook.examples import examples_of


def task_data(
    scenario: Scenario,
    *,
    workbook: str,
    class_id: str,
    class_title: str,
    trainee: dict[str, str],
    practice: bool,
    deadline: str | None,
    signing_key: str,
    attempt: int = 1,
) -> dict[str, Any]:
    """The task of one workbook. `trainee` is {"id", "name"}; `deadline` an ISO 8601 time.

    Only a retake, an `attempt` above 1, has its number in the task.
    """
    lab = scenario.lab
    picture = lab.network is not None
    exercises = [
        _exercise(scenario, exercise, number, practice)
        for number, exercise in enumerate(lab.exercises, 1)
    ]
    return {
        "format": TASK_FORMAT,
        "format_version": TASK_VERSION,
        "workbook": workbook,
        "class": {"id": class_id, "title": class_title},
        "lab": {
            "id": lab.id,
            "version": lab.version,
            "title": lab.title,
            "digest": lab.digest,
            "minutes": lab.minutes,
        },
        "trainee": trainee,
        **({"attempt": attempt} if attempt > 1 else {}),
        "practice": practice,
        "deadline": deadline,
        "signing_key": signing_key,
        "picture": _picture(scenario) if picture else None,
        **({"example_pictures": _example_pictures(lab, exercises)} if practice and picture else {}),
        "exercises": exercises,
    }


def _picture(scenario: Scenario) -> dict[str, str]:
    recipe = scenario.lab.network
    assert recipe is not None
    return {"svg": recipe.draw(scenario.network), "facts": recipe.facts(scenario.network)}


def _example_pictures(lab: Lab, exercises: list[dict[str, Any]]) -> dict[str, str]:
    """The networks of the example draws that the exercises take, each once, by its number."""
    examples = [exercise["practice"]["example"] for exercise in exercises]
    numbers = sorted({example["draw"] for example in examples if example})
    return {str(number): examples_of(lab).picture(number) for number in numbers}


def _exercise(
    scenario: Scenario, exercise: Exercise, number: int, practice: bool
) -> dict[str, Any]:
    prepared = scenario.prepare(exercise)
    task: dict[str, Any] = {
        "id": exercise.id,
        "number": number,
        "kind": exercise.kind,
        "title": exercise.title.render(scenario.names),
        "question": exercise.question.render(scenario.names),
        "marks": exercise.marks,
        "ask": prepared.ask,
    }
    if not practice and prepared.assessed:
        task["ask"] = {**prepared.ask, **prepared.assessed()}
    if practice:
        key = prepared.key
        task["practice"] = {
            "key": key,
            "working": exercise.working.render(scenario.names),
            "hints": [
                {"text": hint.text.render(scenario.names), "costs": hint.costs}
                for hint in exercise.hints
            ],
            "example": _example(scenario.lab, exercise, prepared.ask, key),
        }
    return task


def _example(
    lab: Lab, exercise: Exercise, ask: dict[str, Any], key: dict[str, Any]
) -> dict[str, Any] | None:
    found = examples_of(lab).other_than(exercise, ask, key)
    if found is None:
        return None
    texts = {"question": found.question, "answer": found.answer, "working": found.working}
    return {"draw": found.number, **texts}
