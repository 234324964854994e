"""Marks that a person gives: written answers, sign-offs at the bench, and a mark put right."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.errors import ClassError
from labkit.classroom.examiner import Examiner
from labkit.classroom.marking import Mark
from labkit.classroom.records.schema import manual
from labkit.classroom.results import Result, Results
from labkit.classroom.scoring import prepared
from labkit.lab.problems import nearest
from labkit.station.journal import now

WHOLE = "all"
"""The one item of an exercise without a rubric."""


@dataclass(frozen=True, slots=True)
class Waiting:
    """An exercise that a person must still mark, and the rubric to do it by."""

    result: Result
    mark: Mark
    rubric: tuple[Mapping[str, Any], ...]


def waiting(folder: ClassFolder) -> list[Waiting]:
    """Everything that still waits for a person, in the order of the deal."""
    records = folder.records()
    examiner = prepared(folder, records)
    return [
        Waiting(result, mark, _rubric(examiner, result, mark.exercise))
        for result in Results(examiner, records).every()
        for mark in result.marks
        if mark.awaits and not mark.voided
    ]


def give(
    folder: ClassFolder,
    trainee: str,
    lab: str,
    exercise: str,
    shares: Sequence[str],
    *,
    by: str,
    note: str = "",
) -> Mark:
    """Give a trainee's exercise a mark by hand, and return the mark as it stands now.

    `shares` are "0.5" for the whole, or "item=0.5" for each item of the rubric, 0 to 1 each. A mark
    that the calculation gave may be put right the same way, with a note. Raises `ClassError`.
    """
    records = folder.records()
    examiner = prepared(folder, records)
    result, mark = _found(Results(examiner, records), trainee, lab, exercise)
    if not by.strip():
        raise ClassError("Say who gives the mark: --by NAME.")
    if not mark.verdict.awaits and not mark.marked_by and not note.strip():
        raise ClassError(
            f"'{exercise}' was marked by calculation. To put that right, say why: --note."
        )
    rubric = _rubric(examiner, result, exercise)
    given = _shares(shares, rubric)
    credit = _credit(given, rubric)
    records.add(
        manual,
        [
            {
                "workbook": result.dealt.workbook,
                "exercise": exercise,
                "answer_digest": mark.answer_digest,
                "credit": credit,
                "shares": json.dumps(given, ensure_ascii=False),
                "by": by.strip(),
                "note": note.strip(),
                "marked_at": now(),
            }
        ],
    )
    again = Results(examiner, records).attempts_of(trainee)
    same = next(item for item in again if item.dealt == result.dealt)
    return next(item for item in same.marks if item.exercise == exercise)


def _found(results: Results, trainee: str, lab: str, exercise: str) -> tuple[Result, Mark]:
    """The attempt that counts, unless only another one of the trainee's waits for the mark."""
    of_trainee = results.of(trainee)
    if not of_trainee:
        raise ClassError(f"Nobody with the id '{trainee}' was dealt a workbook in this class.")
    result = next((item for item in of_trainee if item.dealt.lab == lab), None)
    if result is None:
        labs = [item.dealt.lab for item in of_trainee]
        raise ClassError(f"{trainee} was not dealt the lab '{lab}'. {nearest(lab, labs)}")
    attempts = [item for item in results.attempts_of(trainee) if item.dealt.lab == lab]
    for item in (*reversed(attempts), result):
        if any(mark.exercise == exercise and mark.awaits for mark in item.marks):
            result = item
    if not result.counts:
        raise ClassError(
            f"There is no scored hand-in of {result.dealt.name} for '{lab}': run 'labkit score' "
            "first."
        )
    mark = next((item for item in result.marks if item.exercise == exercise), None)
    if mark is None:
        known = [item.exercise for item in result.marks]
        raise ClassError(f"'{lab}' has no exercise '{exercise}'. {nearest(exercise, known)}")
    return result, mark


def _rubric(examiner: Examiner, result: Result, exercise: str) -> tuple[Mapping[str, Any], ...]:
    """The items that a mark is made of: [{"id", "text", "marks_share"}]; () without a rubric."""
    found = next(i for i in examiner.labs[result.dealt.lab].exercises if i.id == exercise)
    rubric = examiner.scenario(result.dealt).prepare(found).key.get("rubric", ())
    return tuple(rubric) if isinstance(rubric, list | tuple) else ()


def _shares(texts: Sequence[str], rubric: Sequence[Mapping[str, Any]]) -> dict[str, float]:
    known = [str(item["id"]) for item in rubric]
    given: dict[str, float] = {}
    for text in texts:
        item, _, number = text.rpartition("=")
        item = item.strip() or WHOLE
        if item != WHOLE and item not in known:
            raise ClassError(
                f"The rubric has no item '{item}'. {nearest(item, known)}".strip()
                if known
                else f"This exercise has no rubric: write --share 0.5 instead of '{text}'."
            )
        if item in given:
            raise ClassError(f"The share of '{item}' is there twice.")
        given[item] = _share(number)
    missing = [item for item in known if item not in given]
    if WHOLE in given and len(given) > 1:
        raise ClassError("Give one share for the whole, or one for each item, not both.")
    if WHOLE not in given and (missing or not given):
        raise ClassError(
            f"A share is missing for {', '.join(missing) or 'the exercise'}. Write --share "
            f"{missing[0] + '=' if missing else ''}0.5 (0 is nothing, 1 is all of it)."
        )
    return given


def _share(text: str) -> float:
    try:
        share = float(text.strip().replace(",", "."))
    except ValueError:
        share = math.nan
    if not 0 <= share <= 1:
        raise ClassError(f"'{text}' is not a share: write a number from 0 to 1.")
    return share


def _credit(given: Mapping[str, float], rubric: Sequence[Mapping[str, Any]]) -> float:
    """The share of the marks: each item's share times its part of the marks."""
    if WHOLE in given:
        return given[WHOLE]
    parts = [float(item["marks_share"]) * given[str(item["id"])] for item in rubric]
    whole = math.fsum(float(item["marks_share"]) for item in rubric)
    return min(1.0, math.fsum(parts) / whole) if whole else 0.0
