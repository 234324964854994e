"""What a lab gives for one seed, part by part, as text: what stays the same while code moves."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import asdict
from typing import Any

from labkit.doors.installed import check_for
from labkit.lab.definition import Exercise, Picture
from labkit.lab.draw import Scenario
from labkit.workbook import WorkbookFiles, task_data
from labkit.workbook.handout import Sheet, handouts, instructors_copy

SAID: dict[str, Any] = {
    "workbook": "golden-workbook",
    "class_id": "golden-class",
    "class_title": "Golden class",
    "trainee": {"id": "ann", "name": "Ann Sample"},
    "deadline": "2031-05-06T16:00:00+00:00",
    "signing_key": "00" * 32,
}


def told(scenario: Scenario, exercise: Exercise) -> dict[str, Any]:
    """One exercise: its texts, ask and key, and the verdict on the right answer and each slip's."""
    prepared, check = scenario.prepare(exercise), check_for(exercise.kind)
    ask, key = prepared.ask, prepared.key
    right = check.right_answer(ask, key)
    answers = {"right": right, **check.slip_answers(ask, key), "nothing": None, "odd": ["?"]}
    return {
        "id": exercise.id,
        "kind": exercise.kind,
        "marks": exercise.marks,
        "title": exercise.title.render(scenario.names),
        "question": exercise.question.render(scenario.names),
        "working": exercise.working.render(scenario.names),
        "hints": [[hint.text.render(scenario.names), hint.costs] for hint in exercise.hints],
        "ask": ask,
        "key": key,
        "verdicts": {
            name: {
                "answer": answer,
                "shown": check.shown(ask, answer),
                "marks": exercise.marks * verdict.credit,
                **asdict(verdict),
            }
            for name, answer in answers.items()
            for verdict in [check.check(ask, key, answer)]
        },
    }


def prose(scenario: Scenario) -> str:
    """The lab's text with this draw's numbers."""
    parts = (
        part.render(scenario.names)
        for part in scenario.lab.body
        if not isinstance(part, Picture | Exercise)
    )
    return "\n\n".join(parts)


def drawn(scenario: Scenario) -> dict[str, Any]:
    """What chance decided, how many tries it took, every calculated name, and the network."""
    network = scenario.network
    names = {parameter.name for parameter in scenario.lab.parameters}
    worked_out = {
        name: value
        for name, value in scenario.names.items()
        if name not in names and not callable(value) and value is not network
    }
    return {
        "tries": scenario.tries,
        "drawn": scenario.drawn,
        "worked out": worked_out,
        "network": network.to_json() if network is not None else None,
        "picture": scenario.lab.network.draw(network) if scenario.lab.network else None,
        "facts": scenario.lab.network.facts(network) if scenario.lab.network else None,
    }


def asked(scenario: Scenario) -> list[Any]:
    """What every exercise asks, and the part of its key that marks follow from."""
    prepared = [scenario.prepare(exercise) for exercise in scenario.lab.exercises]
    return [[each.ask, each.early_key] for each in prepared]


def light(scenario: Scenario) -> Iterator[tuple[str, str]]:
    """The parts that a bench costs next to nothing."""
    yield "drawn.json", as_text(_sorted(drawn(scenario)))
    yield "prose.md", prose(scenario)
    yield "asked.json", as_text(asked(scenario))


def artefacts(scenario: Scenario, *, assessed: bool = False) -> Iterator[tuple[str, str]]:
    """The parts of what comes of a scenario, each with its name and as text.

    With `assessed` the assessed task too: where a bench is in it, that takes seconds.
    """
    yield from light(scenario)
    yield "exercises.json", as_text([told(scenario, each) for each in scenario.lab.exercises])
    task = task_data(scenario, practice=True, **SAID)
    files = WorkbookFiles.of(scenario, task)
    yield "practice-task.json", as_text(json.loads(files.task))
    yield "notebook.json", as_text(json.loads(files.notebook))
    sheet = Sheet(scenario, "Ann Sample", "ann", "Golden class")
    yield "handout.html", handouts([sheet]).decode()
    yield "instructors-copy.html", instructors_copy([sheet]).decode()
    if assessed:
        yield "assessed-task.json", as_text(task_data(scenario, practice=False, **SAID))


def as_text(value: Any) -> str:
    """JSON a line an item; numbers with nine digits, the last ones differ between machines."""
    return json.dumps(_rounded(value), indent=1, ensure_ascii=False) + "\n"


def _sorted(value: Any) -> Any:
    """Names are worked out in whatever order formulas ask for them."""
    if isinstance(value, dict):
        return {str(name): _sorted(value[name]) for name in sorted(value, key=str)}
    return [_sorted(part) for part in value] if isinstance(value, list | tuple) else value


def _rounded(value: Any) -> Any:
    if isinstance(value, float):
        return float(f"{value:.9g}")
    if isinstance(value, dict):
        return {str(name): _rounded(part) for name, part in value.items()}
    if isinstance(value, list | tuple):
        return [_rounded(part) for part in value]
    if hasattr(value, "to_json"):
        return _rounded(value.to_json())
    return value if isinstance(value, str | int | bool | None) else str(value)
