"""Results as xAPI statements (IEEE 9274.1.1, Experience API).

A statement is actor, verb, object, result, context: who handed in what with which score. Property
names and verbs (those of the public ADL vocabulary) are from memory. Ids are made from the class's
own name with the URN scheme of RFC 8141 and UUIDs of RFC 9562, version 5: the same result always
has the same id, so that a store that has it already takes it once.
"""

from __future__ import annotations

import uuid
from collections.abc import Iterable, Iterator
from typing import Any, Final
from urllib.parse import quote

from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.results import Result

VERSION: Final = "2.0.0"
_VERBS: Final = {
    "scored": "http://adlnet.gov/expapi/verbs/scored",
    "passed": "http://adlnet.gov/expapi/verbs/passed",
    "failed": "http://adlnet.gov/expapi/verbs/failed",
    "answered": "http://adlnet.gov/expapi/verbs/answered",
}
_ASSESSMENT: Final = "http://adlnet.gov/expapi/activities/assessment"
_QUESTION: Final = "http://adlnet.gov/expapi/activities/question"


def statements(folder: ClassFolder, results: Iterable[Result]) -> Iterator[dict[str, Any]]:
    """A statement for each exercise of each lab that counts, and one for the lab."""
    for result in results:
        if result.hand_in is None or not result.counts:
            continue
        for mark in result.marks:
            if mark.voided or not mark.answered or mark.awaits:
                continue
            score = _score(mark.earned, mark.possible)
            details: dict[str, Any] = {"score": score, "success": mark.verdict.right}
            details["response"] = mark.answer
            yield _statement(
                folder, result, "answered", (result.dealt.lab, mark.exercise), mark.title, details
            )
        if result.share.marked:
            yield _of_lab(folder, result)


def _of_lab(folder: ClassFolder, result: Result) -> dict[str, Any]:
    fields, share = folder.fields, result.share
    details: dict[str, Any] = {
        "score": _score(share.earned, share.marked),
        "completion": not result.awaits,
    }
    verb = "scored"
    # The pass mark is the course's: one lab of several is not held against it.
    if fields.pass_mark is not None and len(fields.labs) == 1:
        passed = share.reaches(fields.pass_mark)
        if passed is not None:
            details["success"] = passed
            verb = "passed" if passed else "failed"
    return _statement(folder, result, verb, (result.dealt.lab,), result.dealt.lab, details)


def _statement(
    folder: ClassFolder,
    result: Result,
    verb: str,
    place: tuple[str, ...],
    title: str,
    details: dict[str, Any],
) -> dict[str, Any]:
    assert result.hand_in is not None
    of_class = f"urn:labkit:class:{quote(folder.fields.id, safe='')}"
    activity = ":".join((of_class, *(quote(step, safe="") for step in place)))
    key = f"{result.hand_in.digest} {verb} {activity} {details['score']}"
    return {
        "id": str(uuid.uuid5(uuid.NAMESPACE_URL, key)),
        "actor": {
            "objectType": "Agent",
            "name": result.dealt.name,
            "account": {"homePage": of_class, "name": result.dealt.trainee},
        },
        "verb": {"id": _VERBS[verb], "display": {"en": verb}},
        "object": {
            "objectType": "Activity",
            "id": activity,
            "definition": {
                "type": _ASSESSMENT if len(place) == 1 else _QUESTION,
                "name": {"en": title},
            },
        },
        "result": details,
        "context": {
            "contextActivities": {"grouping": [{"objectType": "Activity", "id": of_class}]}
        },
        "timestamp": result.hand_in.made_at,
        "version": VERSION,
    }


def _score(earned: float, possible: float) -> dict[str, float]:
    """`scaled` is −1 to 1, the others marks."""
    scaled = earned / possible if possible else 0.0
    return {"scaled": round(scaled, 6), "raw": earned, "min": 0.0, "max": possible}
