"""One draw of what could be read of a lab, with a card for each exercise that cannot be shown."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from hashlib import sha256
from typing import Any, Final, NoReturn

from labkit.exchange.formats import TASK_FORMAT, TASK_VERSION
from labkit.exchange.task_file import Task
from labkit.lab.definition import NETWORK, Exercise, Lab, Picture
from labkit.lab.draw import Scenario, find, without_lost
from labkit.lab.reading.in_part import ReadInPart
from labkit.language.expression import Prose
from labkit.language.problems import DefinitionError, Place, Problem
from labkit.page.sheet import Sheet, sheet_of
from labkit.workbook.preview import PREVIEW, preview_task

Part = Prose | Exercise | Picture
_LONG: Final = 20
"""Characters of a digest."""


@dataclass(frozen=True, slots=True)
class Card:
    """Stands in the place of an exercise that cannot be shown."""

    exercise: str
    title: str
    problems: tuple[Problem, ...]


@dataclass(frozen=True, slots=True)
class Digests:
    """By which it is known whether an exercise is still the same.

    `asked` is what is asked, `whole` all of it; `drill` is what others like it are made of: its
    hints and its number do not count.
    """

    asked: str
    whole: str
    drill: str


@dataclass(frozen=True, slots=True)
class Drawn:
    """One draw of a lab. `scenario` has only what can be shown; `problems` came up in drawing.

    Without a scenario nothing could be drawn yet.
    """

    scenario: Scenario | None
    task: Task
    sheet: Sheet
    cards: Mapping[str, Card]
    problems: tuple[Problem, ...]
    digests: Mapping[str, Digests]


def drawn(
    read: ReadInPart, lab: Lab, seed: str, *, practice: bool, workbook: str, name: str
) -> Drawn:
    """Draw `lab`, of what could be read. Raises `DefinitionError` where no numbers can be drawn."""
    lab = without_lost(lab)
    scenario = find(lab, seed)
    problems: list[Problem] = []
    try:
        scenario.work_out()
    except DefinitionError as error:
        problems += error.problems
    cards: dict[str, Card] = {}
    body: list[Part] = []
    for part in _with_broken(read, lab.body):
        if isinstance(part, Card):
            cards[part.exercise] = part
            body.append(_in_place_of(part, lab))
            continue
        wrong = why_not(part, scenario)
        problems += [each for each in wrong if each not in problems]
        if wrong and isinstance(part, Exercise):
            cards[part.id] = Card(part.id, _title(part, scenario), wrong)
            body.append(_in_place_of(cards[part.id], lab))
        elif not wrong:
            body.append(part)
    sound = [part for part in body if not (isinstance(part, Exercise) and part.id in cards)]
    shown = replace(scenario, lab=replace(lab, body=tuple(sound)))
    sheet = sheet_of(replace(scenario, lab=replace(lab, body=tuple(body))))
    numbers = {step["exercise"]: at for at, step in enumerate(sheet["steps"], 1)}
    task = preview_task(shown, workbook=workbook, practice=practice, name=name, hosted=True)
    for exercise in task["exercises"]:
        exercise["number"] = numbers[exercise["id"]]  # cards count
    return Drawn(shown, task, sheet, cards, tuple(problems), _digests(task, sheet, cards))


def _title(exercise: Exercise, scenario: Scenario) -> str:
    try:
        return exercise.title.render(scenario.names)
    except DefinitionError:
        return exercise.id


def nothing_drawn(title: str, *, workbook: str, name: str) -> Drawn:
    """What is shown before anything could be drawn."""
    task: Task = {
        "format": TASK_FORMAT,
        "format_version": TASK_VERSION,
        "workbook": workbook,
        "class": {"id": PREVIEW, "title": PREVIEW},
        "lab": {"id": title, "version": "", "title": title, "digest": "", "minutes": 0},
        "trainee": {"id": PREVIEW, "name": name},
        "practice": True,
        "deadline": None,
        "signing_key": "",
        "picture": None,
        "exercises": [],
    }
    sheet: Sheet = {
        "title": title,
        "summary": "",
        "minutes": 0,
        "picture": "",
        "steps": [],
        "after": [],
        "words": {},
    }
    return Drawn(None, task, sheet, {}, (), {})


def _with_broken(read: ReadInPart, body: tuple[Part, ...]) -> Iterator[Part | Card]:
    """The body, each exercise once, with cards where what is broken would stand."""
    taken = {part.id for part in body if isinstance(part, Exercise)}
    waiting = list(read.broken)
    seen: set[str] = set()
    for at in range(len(body) + 1):
        while waiting and waiting[0].before == at:
            broken = waiting.pop(0)
            new = broken.id and broken.id not in taken
            name = broken.id if new else f"line-{broken.place.line}"
            taken.add(name)
            yield Card(name, broken.title, broken.problems)
        if at == len(body):
            return
        part = body[at]
        if isinstance(part, Exercise) and part.id in seen:
            continue  # its id is there already, which is told
        if isinstance(part, Exercise):
            seen.add(part.id)
        yield part


def _in_place_of(card: Card, lab: Lab) -> Exercise:
    """An exercise without a question, so that what is read before it stands before it."""
    place = card.problems[0].place if card.problems else lab.place
    nothing = Prose("", frozenset(), place, None)
    return Exercise(card.exercise, "", nothing, nothing, 0, (), nothing, _never, place)


def _never(*_: Any) -> NoReturn:
    raise AssertionError("there is nothing to prepare")


def why_not(part: Part, scenario: Scenario) -> tuple[Problem, ...]:
    """Why a part cannot be shown in this draw."""
    try:
        if isinstance(part, Prose):
            part.render(scenario.names)
        elif isinstance(part, Exercise):
            _try(part, scenario)
        else:
            scenario.work_out([NETWORK])
    except DefinitionError as error:
        return error.problems
    except Exception as error:  # a kind of another package may do anything
        place = part.place if isinstance(part, Exercise | Prose) else Place("", 1)
        told = f"it breaks down with '{type(error).__name__}: {error}'."
        return (Problem(place, told, "Simplify it, and report this to whoever wrote the kind."),)
    return ()


def _try(exercise: Exercise, scenario: Scenario) -> None:
    scenario.prepare(exercise)
    texts = (exercise.title, exercise.question, exercise.working)
    for text in (*texts, *(hint.text for hint in exercise.hints)):
        text.render(scenario.names)


def _digests(task: Task, sheet: Sheet, cards: Mapping[str, Card]) -> dict[str, Digests]:
    found = {
        name: Digests("", _digest([card.title, *map(str, card.problems)]), "")
        for name, card in cards.items()
    }
    questions = {step["exercise"]: step["question"] for step in sheet["steps"]}
    for exercise in task["exercises"]:
        name = exercise["id"]
        asked = [exercise["kind"], questions[name], exercise["ask"], task["practice"]]
        practice = exercise.get("practice")
        drill = [*asked, practice["key"], practice["working"]] if practice else asked
        found[name] = Digests(_digest(asked), _digest([exercise, questions[name]]), _digest(drill))
    return found


def _digest(data: Any) -> str:
    # What is worked out when it is asked for tells by its `repr` of what it would be made.
    text = json.dumps(data, sort_keys=True, default=repr)
    return sha256(text.encode("utf-8", "replace")).hexdigest()[:_LONG]
