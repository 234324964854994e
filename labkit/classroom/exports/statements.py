"""Results as xAPI statements (IEEE 9274.1.1, Experience API).

A statement is actor, verb, object, result, context: who handed in what with which score. Names of
properties, verbs and activity types (those of the public ADL vocabulary) are from memory; check
them against the standard before another program depends on them. Names of things are made from the
class's own with the URN scheme of RFC 8141.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Final
from urllib.parse import quote

from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.marks.standing import Standing
from labkit.classroom.result import Counted, Result
from labkit.classroom.share import Share
from labkit.exchange.clock import read_moment
from labkit.exchange.journal import records
from labkit.lab.definition import Lab

VERSION: Final = "2.0.0"
_VERBS: Final = "http://adlnet.gov/expapi/verbs/"
_TOGETHER: Final = "urn:labkit:worked-together"
_ACTIVITIES: Final = "http://adlnet.gov/expapi/activities/"


@dataclass(frozen=True, slots=True)
class Said:
    """A statement without an id: of which workbook, what it is about, and all it says."""

    workbook: str
    place: str
    content: Mapping[str, Any]


def statements(folder: ClassFolder, labs: Mapping[str, Lab], standing: Standing) -> Iterator[Said]:
    """A trainee's: one for each answer that is marked, for each lab, and, where there are several,
    for the whole class. What waits for a mark is in none of them."""
    writer = _Writer(folder, standing)
    for result in standing.results:
        if result.hand_in is None or not result.counts:
            continue
        yield from writer.answers(result, result.hand_in)
        if result.share.marked:
            yield writer.lab(result, result.hand_in, labs[result.dealt.lab].title)
    if len(folder.fields.labs) > 1 and standing.handed_in and standing.percent is not None:
        yield writer.course()


def voiding(folder: ClassFolder, statement: str, since: str) -> dict[str, Any]:
    """What says that the statement with the id `statement` holds no more; it has no id yet."""
    return {
        "actor": {
            "objectType": "Agent",
            "account": {"homePage": _of_class(folder), "name": "labkit"},
        },
        "verb": _verb("voided"),
        "object": {"objectType": "StatementRef", "id": statement},
        "timestamp": since,
        "version": VERSION,
    }


class _Writer:
    """Writes the statements of one trainee."""

    def __init__(self, folder: ClassFolder, standing: Standing) -> None:
        self._fields, self._standing = folder.fields, standing
        self._class = _of_class(folder)

    def answers(self, result: Result, hand_in: Counted) -> Iterator[Said]:
        """The answers of one hand-in, each at the time at which it was given."""
        given = records(hand_in.journal)
        for mark in result.marks:
            if mark.voided or not mark.answered or mark.awaits:
                continue
            details = {
                "score": _score(mark.earned, mark.possible),
                "success": mark.verdict.right,
                "response": mark.answer,
            }
            found = given.get(mark.exercise)
            yield self._said(
                result,
                ("answered", "question"),
                (result.dealt.lab, mark.exercise),
                mark.title,
                details,
                _moment(found.at if found else "", hand_in.made_at),
            )

    def lab(self, result: Result, hand_in: Counted, title: str) -> Said:
        """A lab; where it is the only one, its result is the course's."""
        share = result.share
        details = {
            "score": _score(share.earned, share.marked),
            "completion": not result.awaits,
        }
        alone = len(self._fields.labs) == 1
        verb = self._decided(details) if alone else "scored"
        place, kind = (result.dealt.lab,), (verb, "assessment")
        return self._said(result, kind, place, title, details, hand_in.made_at)

    def course(self) -> Said:
        """All labs together, at their weights, in %."""
        share, results = self._standing.share, self._standing.results
        in_percent = share.scaled(100 / share.possible)
        part = Share(in_percent.percent or 0.0, 100)
        details = {
            "score": _score(round(part.earned, 6), part.marked),
            "completion": self._standing.complete,
        }
        made_at = max(result.hand_in.made_at for result in results if result.hand_in)
        kind = self._decided(details), "course"
        return self._said(results[0], kind, (), self._fields.title, details, made_at)

    def _decided(self, details: dict[str, Any]) -> str:
        """The verb; adds to `details` whether the trainee passed, where that is decided."""
        passed = self._standing.passed
        if passed is None:
            return "scored"
        details["success"] = passed
        return "passed" if passed else "failed"

    def _said(
        self,
        result: Result,
        kind: tuple[str, str],
        place: tuple[str, ...],
        title: str,
        details: Mapping[str, Any],
        moment: str,
    ) -> Said:
        verb, activity = kind
        name = ":".join((self._class, *(quote(step, safe="") for step in place)))
        content = {
            "actor": {
                "objectType": "Agent",
                "name": self._standing.name,
                "account": {
                    "homePage": self._fields.home_page or self._class,
                    "name": self._standing.trainee,
                },
            },
            "verb": _verb(verb),
            "object": {
                "objectType": "Activity",
                "id": name,
                "definition": {"type": _ACTIVITIES + activity, "name": {"en": title}},
            },
            "result": details,
            "context": self._context(len(result.together) if place else 0),
            "timestamp": moment,
            "version": VERSION,
        }
        return Said(result.dealt.workbook, "/".join(place), content)

    def _context(self, others: int) -> dict[str, Any]:
        """Of what was worked at together it says how many did: others' names are not this one's."""
        of_class = {"grouping": [{"objectType": "Activity", "id": self._class}]}
        together = {"extensions": {_TOGETHER: others + 1}} if others else {}
        return {"contextActivities": of_class, **together}


def _of_class(folder: ClassFolder) -> str:
    return f"urn:labkit:class:{quote(folder.fields.id, safe='')}"


def _verb(word: str) -> dict[str, Any]:
    return {"id": _VERBS + word, "display": {"en": word}}


def _moment(at: str, made_at: str) -> str:
    """When an answer was given; a journal is the trainee's own, so a time in it may be none."""
    return at if read_moment(at) else made_at


def _score(earned: float, possible: float) -> dict[str, float]:
    """`scaled` is −1 to 1, the others marks."""
    scaled = earned / possible if possible else 0.0
    return {"scaled": round(scaled, 6), "raw": earned, "min": 0.0, "max": possible}
