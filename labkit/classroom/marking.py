"""The marks of one hand-in: its scenario is drawn again, each answer calculated."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from hashlib import sha256
from typing import Any, Final

from labkit.doors.check import SeenInPerson
from labkit.doors.installed import check_for
from labkit.doors.prepared import Prepared
from labkit.doors.verdict import Verdict
from labkit.exchange.journal import ExerciseRecord, records
from labkit.lab.definition import Exercise
from labkit.lab.draw import Scenario

_NO_ANSWER: Final = Verdict(0.0, "No answer.", readable=False)


@dataclass(frozen=True, slots=True)
class Mark:
    """The mark of one exercise: `earned` of `possible`, and all that explains it.

    `voided` exercises count for nobody. `marked_by` names the person who gave the mark, and `note`
    is what they wrote; both are empty where the calculation gave it. `since` is when this mark came
    to hold, as the records have it.
    """

    exercise: str
    number: int
    title: str
    possible: float
    earned: float
    answer: str
    answered: bool
    verdict: Verdict
    tries: int
    hints: int
    hint_cost: float
    voided: bool = False
    marked_by: str = ""
    note: str = ""
    answer_digest: str = ""
    since: str = ""

    @property
    def slip(self) -> str:
        """The known mistake that cost marks; "" when there is none."""
        spared = self.verdict.right or self.marked_by or self.voided
        return "" if spared else self.verdict.slip

    @property
    def awaits(self) -> bool:
        """Whether a person must still mark it."""
        return self.verdict.awaits and not self.marked_by


def marks_of(
    scenario: Scenario,
    journal: Iterable[Mapping[str, Any]],
    prepared: Mapping[str, Prepared] | None = None,
) -> tuple[Mark, ...]:
    """The mark of every exercise of the lab, by what a journal holds.

    `prepared` are the exercises with the scenario's numbers, by id, where they are known already.
    """
    found = records(journal)
    return tuple(
        _mark(scenario, exercise, number, found.get(exercise.id) or ExerciseRecord(), prepared)
        for number, exercise in enumerate(scenario.lab.exercises, 1)
    )


def earned(credit: float, possible: float, hint_cost: float) -> float:
    """Marks for a share `credit` (0 to 1) of `possible`, less what hints cost; never below 0."""
    return round(max(0.0, credit * possible - hint_cost), 2)


def _mark(
    scenario: Scenario,
    exercise: Exercise,
    number: int,
    record: ExerciseRecord,
    known: Mapping[str, Prepared] | None,
) -> Mark:
    verdict, answer = _NO_ANSWER, ""
    check = check_for(exercise.kind)
    if record.answered or isinstance(check, SeenInPerson):
        prepared = known[exercise.id] if known else scenario.prepare(exercise)
        verdict = check.check(prepared.ask, prepared.key_as_needed, record.answer)
        answer = check.shown(prepared.ask, record.answer) if record.answered else ""
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
