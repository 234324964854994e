"""From a scenario to the task of a workbook: see `exchange.task_file` for what is in it."""

from __future__ import annotations

from typing import Any, TypedDict

from labkit.exchange.formats import TASK_FORMAT, TASK_VERSION
from labkit.exchange.task_file import Person, Task, TaskExample, TaskExercise, TaskPicture
from labkit.lab.definition import Exercise, Lab
from labkit.lab.draw import Scenario
from labkit.workbook.examples import examples_of


class _Retake(TypedDict, total=False):
    attempt: int


class _Opening(TypedDict, total=False):
    opens: str


class _Examples(TypedDict, total=False):
    example_pictures: dict[str, str]


def task_data(
    scenario: Scenario,
    *,
    workbook: str,
    class_id: str,
    class_title: str,
    trainee: Person,
    practice: bool,
    deadline: str | None,
    signing_key: str,
    attempt: int = 1,
    opens: str | None = None,
    hosted: bool = False,
) -> Task:
    """The task of one workbook. `deadline` and `opens` are ISO 8601 times.

    Only a retake, an `attempt` above 1, has its number in the task. One that is `hosted` stays in
    the memory of a host: what an assessed trainee may measure is measured when they do, nothing is
    recorded beforehand. It cannot be written to a file.
    """
    lab = scenario.lab
    picture = lab.network is not None
    exercises = [
        _exercise(scenario, exercise, number, practice, hosted)
        for number, exercise in enumerate(lab.exercises, 1)
    ]
    again: _Retake = {"attempt": attempt} if attempt > 1 else {}
    opening: _Opening = {"opens": opens} if opens else {}
    examples: _Examples = {}
    if practice and picture:
        examples = {"example_pictures": _example_pictures(lab, exercises)}
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
        **again,
        "practice": practice,
        **opening,
        "deadline": deadline,
        "signing_key": signing_key,
        "picture": _picture(scenario) if picture else None,
        **examples,
        "exercises": exercises,
    }


def _picture(scenario: Scenario) -> TaskPicture:
    recipe = scenario.lab.network
    assert recipe is not None
    return {"svg": recipe.draw(scenario.network), "facts": recipe.facts(scenario.network)}


def _example_pictures(lab: Lab, exercises: list[TaskExercise]) -> dict[str, str]:
    """The networks of the example draws that the exercises take, each once, by its number."""
    found = [exercise["practice"]["example"] for exercise in exercises]
    numbers = sorted({example["draw"] for example in found if example})
    return {str(number): examples_of(lab).picture(number) for number in numbers}


def exercise_data(scenario: Scenario, exercise: Exercise, number: int) -> TaskExercise:
    """An exercise as everybody may see it."""
    return {
        "id": exercise.id,
        "number": number,
        "kind": exercise.kind,
        "title": exercise.title.render(scenario.names),
        "question": exercise.question.render(scenario.names),
        "marks": exercise.marks,
        "ask": scenario.prepare(exercise).ask,
    }


def _exercise(
    scenario: Scenario, exercise: Exercise, number: int, practice: bool, hosted: bool
) -> TaskExercise:
    task = exercise_data(scenario, exercise, number)
    prepared = scenario.prepare(exercise)
    more = prepared.when_asked if hosted else prepared.assessed
    if not practice and more:
        task["ask"] = {**prepared.ask, **more()}
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
        if exercise.topic:
            task["practice"]["topic"] = exercise.topic
    return task


def _example(
    lab: Lab, exercise: Exercise, ask: dict[str, Any], key: dict[str, Any]
) -> TaskExample | None:
    found = examples_of(lab).other_than(exercise, ask, key)
    if found is None:
        return None
    return {
        "draw": found.number,
        "question": found.question,
        "answer": found.answer,
        "working": found.working,
    }
