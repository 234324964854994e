"""The task file: what the widgets of one workbook read, as plain JSON.

A practice task carries a `practice` part in each exercise: the key, the hints, the working. In an
assessed task that part is absent, not hidden.
"""

from __future__ import annotations

from typing import Any

from labkit.lab.definition import Exercise
from labkit.lab.draw import Scenario
from labkit.lab.formats import TASK_FORMAT, TASK_VERSION


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
        "exercises": [
            _exercise(scenario, exercise, number, practice)
            for number, exercise in enumerate(lab.exercises, 1)
        ],
    }


def _picture(scenario: Scenario) -> dict[str, str]:
    recipe = scenario.lab.network
    assert recipe is not None
    return {"svg": recipe.draw(scenario.network), "facts": recipe.facts(scenario.network)}


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
        task["practice"] = {
            "key": prepared.key,
            "working": exercise.working.render(scenario.names),
            "hints": [
                {"text": hint.text.render(scenario.names), "costs": hint.costs}
                for hint in exercise.hints
            ],
        }
    return task
