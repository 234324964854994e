"""The marks of one hand-in: its scenario is drawn again, each answer calculated."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from hashlib import sha256
from typing import Any, Final

from labkit.classroom.handins.examiner import Examiner, Setting, examiner_of
from labkit.classroom.handins.outcome import Done, Row, Task
from labkit.classroom.handins.receiving import Examined
from labkit.classroom.mark import Mark
from labkit.classroom.verdicts import verdict_on
from labkit.doors.check import SeenInPerson
from labkit.doors.installed import check_for
from labkit.doors.verdict import Verdict
from labkit.exchange.journal import ExerciseRecord, records
from labkit.lab.definition import Exercise
from labkit.lab.draw import Scenario
from labkit.lab.marking_rules import keys_of

_NO_ANSWER: Final = Verdict(0.0, "No answer.", readable=False)


def work(examiner: Examiner, task: Task) -> Done:
    """Look at one file: a receipt, and marks where it is whole."""
    examined = examiner.reader.examine(task.file, task.data)
    return Done.of(examined, [] if task.marked else rows_of(examiner, examined))


def work_elsewhere(setting: Setting, tasks: Sequence[Task]) -> list[Done]:
    """What another process does with a bundle of files."""
    examiner = examiner_of(setting)
    return [work(examiner, task) for task in tasks]


def rows_of(examiner: Examiner, examined: Examined) -> list[Row]:
    """What the records are to hold of the marks of a file; nothing where it is not whole."""
    hand_in = examined.hand_in
    if hand_in is None:
        return []
    item = hand_in.dealt
    edition = examiner.editions[item.lab]
    edition.require_rules()
    about = {
        "digest": examined.digest,
        "workbook": item.workbook,
        "lab": item.lab,
        "lab_digest": edition.id,
    }
    scenario = examiner.scenario(item)
    edition.require_keys(item, keys_of(scenario))
    marks = marks_of(scenario, hand_in.journal)
    return [{**about, **row_of(mark)} for mark in marks]


def marks_of(scenario: Scenario, journal: Iterable[Mapping[str, Any]]) -> tuple[Mark, ...]:
    """The mark of every exercise of the lab, by what a journal holds."""
    found = records(journal)
    return tuple(
        _mark(scenario, exercise, number, found.get(exercise.id) or ExerciseRecord())
        for number, exercise in enumerate(scenario.lab.exercises, 1)
    )


def earned(credit: float, possible: float, hint_cost: float) -> float:
    """Marks for a share `credit` (0 to 1) of `possible`, less what hints cost; never below 0."""
    return round(max(0.0, credit * possible - hint_cost), 2)


def _mark(scenario: Scenario, exercise: Exercise, number: int, record: ExerciseRecord) -> Mark:
    verdict, answer = _NO_ANSWER, ""
    check = check_for(exercise.kind)
    if record.answered or isinstance(check, SeenInPerson):
        verdict = verdict_on(scenario, exercise, record.answer)
        ask = scenario.prepare(exercise).ask
        answer = check.shown(ask, record.answer) if record.answered else ""
    hints = exercise.hints[: record.hints]
    cost = sum(hint.costs for hint in hints)
    return Mark(
        exercise=exercise.id,
        number=number,
        title=exercise.title.render(scenario.names),
        possible=exercise.marks,
        earned=earned(verdict.credit, exercise.marks, cost),
        answer=answer,
        answered=record.answered,
        verdict=verdict,
        tries=record.tries,
        hints=len(hints),
        hint_cost=cost,
        answer_digest=_digest(record.answer) if record.answered else "",
    )


def _digest(answer: Any) -> str:
    """The SHA-256 of an answer, whatever JSON it is."""
    return sha256(json.dumps(answer, sort_keys=True).encode()).hexdigest()


def row_of(mark: Mark) -> dict[str, Any]:
    """What the records hold of a mark (see `records.schema.marks`)."""
    verdict = mark.verdict
    return {
        "exercise": mark.exercise,
        "number": mark.number,
        "title": mark.title,
        "possible": mark.possible,
        "earned": mark.earned,
        "credit": verdict.credit,
        "message": verdict.message,
        "slip": verdict.slip,
        "readable": verdict.readable,
        "awaits": verdict.awaits,
        "answered": mark.answered,
        "answer": mark.answer,
        "answer_digest": mark.answer_digest,
        "tries": mark.tries,
        "hints": mark.hints,
        "hint_cost": mark.hint_cost,
    }


def mark_in(row: Mapping[str, Any]) -> Mark:
    """The mark in a row of the records' current state."""
    verdict = Verdict(
        row["credit"], row["message"], row["slip"], bool(row["readable"]), bool(row["awaits"])
    )
    return Mark(
        exercise=row["exercise"],
        number=row["number"],
        title=row["title"],
        possible=row["possible"],
        earned=row["earned"],
        answer=row["answer"],
        answered=bool(row["answered"]),
        verdict=verdict,
        tries=row["tries"],
        hints=row["hints"],
        hint_cost=row["hint_cost"],
        voided=bool(row["voided"]),
        marked_by=row["marked_by"] or "",
        note=row["note"] or "",
        answer_digest=row["answer_digest"],
        since=row["since"],
    )
