"""Results as other programs of a school read them: a whole bundle of CSV files.

In the way of 1EdTech OneRoster 1.1, its CSV binding: `manifest.csv` says which files there are, and
every id that one file names stands in another. **File names, columns and words are from memory of
the standard**: check them against it before another program depends on them.

What a class does not know is told as little as the binding lets: the class is its own course, its
own school ("local") and its own term. A name is parted at its last blank.
"""

from __future__ import annotations

import csv
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import ExitStack, contextmanager
from io import TextIOWrapper
from typing import Any, Final

from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.exports.sheet import harmless
from labkit.classroom.marks.standing import Standing
from labkit.classroom.private_place import Place
from labkit.classroom.result import Result
from labkit.exchange.clock import CLOCK
from labkit.lab.definition import Lab

BUNDLE: Final = "oneroster"
"""The folder of an export in which the bundle lies."""
_ANY: Final = ("sourcedId", "status", "dateLastModified")
_COLUMNS: Final[Mapping[str, tuple[str, ...]]] = {
    "academicSessions": (
        *("title", "type", "startDate", "endDate", "parentSourcedId", "schoolYear"),
    ),
    "categories": ("title",),
    "classes": (
        *("title", "grades", "courseSourcedId", "classCode", "classType", "location"),
        *("schoolSourcedId", "termSourcedIds", "subjects", "subjectCodes", "periods"),
    ),
    "courses": (
        *("schoolYearSourcedId", "title", "courseCode", "grades", "orgSourcedId", "subjects"),
        "subjectCodes",
    ),
    "enrollments": (
        *("classSourcedId", "schoolSourcedId", "userSourcedId", "role", "primary", "beginDate"),
        "endDate",
    ),
    "lineItems": (
        *("title", "description", "assignDate", "dueDate", "classSourcedId", "categorySourcedId"),
        *("gradingPeriodSourcedId", "resultValueMin", "resultValueMax"),
    ),
    "orgs": ("name", "type", "identifier", "parentSourcedId"),
    "results": (
        *("lineItemSourcedId", "studentSourcedId", "scoreStatus", "score", "scoreDate", "comment"),
    ),
    "users": (
        *("enabledUser", "orgSourcedIds", "role", "username", "userIds", "givenName", "familyName"),
        *("middleName", "identifier", "email", "sms", "phone", "agentSourcedIds", "grades"),
        "password",
    ),
}
_ABSENT: Final = ("classResources", "courseResources", "demographics", "resources")
PERSONAL: Final = ("enrollments", "results", "users")
"""The files with a row for each person; the others tell of nobody."""

Row = dict[str, Any]


@contextmanager
def writing_bundle(
    place: Place, folder: ClassFolder, labs: Mapping[str, Lab]
) -> Iterator[Callable[[Standing], None]]:
    """Write the bundle; what is yielded adds a trainee. Nothing is there before the end.

    Raises `ClassError` and `OSError`.
    """
    course = _Course(folder, labs)
    with ExitStack() as stack:
        sheets = {
            name: stack.enter_context(_table(place, name, _ANY + _COLUMNS[name]))
            for name in PERSONAL
        }

        def add(standing: Standing) -> None:
            sheets["users"].writerow(course.user(standing))
            sheets["enrollments"].writerow(course.enrollment(standing))
            sheets["results"].writerows(course.result(result) for result in standing.results)

        yield add
        for name, rows in course.of_everybody().items():
            with _table(place, name, _ANY + _COLUMNS[name]) as table:
                table.writerows(rows)
        with _table(place, "manifest", ("propertyName", "value")) as table:
            table.writerows(_manifest())


class _Course:
    """The rows that tell of the class, and of each person in it."""

    def __init__(self, folder: ClassFolder, labs: Mapping[str, Lab]) -> None:
        self._fields = folder.fields
        self._labs = labs
        self._now = CLOCK.now()
        self._possible = dict.fromkeys(labs, 0.0)
        self._days: set[str] = set()

    def user(self, standing: Standing) -> Row:
        given, _, family = standing.name.rpartition(" ")
        who = harmless(standing.trainee)
        return {
            **self._row(who, self._changed(standing.results)),
            "enabledUser": "true",
            "orgSourcedIds": self._id("school"),
            "role": "student",
            "username": who,
            "givenName": harmless(given),
            "familyName": harmless(family),
            "identifier": who,
        }

    def enrollment(self, standing: Standing) -> Row:
        who = harmless(standing.trainee)
        return {
            **self._row(f"{self._fields.id}/{who}", self._changed(standing.results)),
            "classSourcedId": self._fields.id,
            "schoolSourcedId": self._id("school"),
            "userSourcedId": who,
            "role": "student",
            "primary": "false",
        }

    def result(self, result: Result) -> Row:
        self._possible[result.dealt.lab] = result.possible
        moment = result.hand_in.made_at if result.hand_in else ""
        self._days |= {(result.dealt.dealt_at or "")[:10], moment[:10]}
        return {
            **self._row(result.dealt.workbook, result.since),
            "lineItemSourcedId": self._id(result.dealt.lab),
            "studentSourcedId": harmless(result.dealt.trainee),
            "scoreStatus": _score_status(result),
            "score": result.earned if result.counts and result.share.marked else "",
            "scoreDate": harmless(moment[:10]),
            "comment": harmless("; ".join(filter(None, _remarks(result)))),
        }

    def of_everybody(self) -> dict[str, list[Row]]:
        """The files that tell of the class, when everybody was added."""
        fields = self._fields
        first, last = self._term()
        line_items = [
            {
                **self._row(self._id(lab)),
                "title": harmless(self._labs[lab].title),
                "assignDate": (fields.opens_of(lab) or first)[:10],
                "dueDate": (fields.deadline_of(lab) or last)[:10],
                "classSourcedId": fields.id,
                "categorySourcedId": self._id("labs"),
                "gradingPeriodSourcedId": self._id("term"),
                "resultValueMin": 0,
                "resultValueMax": possible,
            }
            for lab, possible in self._possible.items()
        ]
        one_class = {
            **self._row(fields.id),
            "title": harmless(fields.title),
            "courseSourcedId": self._id("course"),
            "classCode": fields.id,
            "classType": "scheduled",
            "location": harmless(fields.place),
            "schoolSourcedId": self._id("school"),
            "termSourcedIds": self._id("term"),
        }
        course = {
            **self._row(self._id("course")),
            "title": harmless(fields.title),
            "courseCode": fields.id,
            "orgSourcedId": self._id("school"),
        }
        term = {
            **self._row(self._id("term")),
            "title": harmless(fields.title),
            "type": "term",
            "startDate": first,
            "endDate": last,
            "schoolYear": last[:4],
        }
        school = {
            **self._row(self._id("school")),
            "name": harmless(fields.place or fields.title),
            "type": "local",
        }
        return {
            "academicSessions": [term],
            "categories": [{**self._row(self._id("labs")), "title": "Labs"}],
            "classes": [one_class],
            "courses": [course],
            "lineItems": line_items,
            "orgs": [school],
        }

    def _term(self) -> tuple[str, str]:
        """From the class's day, or the first on which anything happened, to the last."""
        days = sorted(self._days - {""} | {self._fields.date or self._now[:10]})
        return self._fields.date or days[0], days[-1]

    def _id(self, part: str) -> str:
        return f"{self._fields.id}/{part}"

    def _row(self, sourced_id: str, changed: str | None = None) -> Row:
        return {
            "sourcedId": sourced_id,
            "status": "active",
            "dateLastModified": self._now if changed is None else changed,
        }

    def _changed(self, results: Iterable[Result]) -> str:
        return max(result.since for result in results)


def _remarks(result: Result) -> tuple[str, ...]:
    return "late" if result.late else "", result.share.waits, result.with_whom


def _score_status(result: Result) -> str:
    if not result.counts:
        return "not submitted"
    if not result.awaits:
        return "fully graded"
    return "partially graded" if result.share.marked else "submitted"


def _manifest() -> list[Row]:
    told = {
        "manifest.version": "1.0",
        "oneroster.version": "1.1",
        **{f"file.{name}": "bulk" for name in _COLUMNS},
        **{f"file.{name}": "absent" for name in _ABSENT},
        "source.systemName": "labkit",
    }
    return [{"propertyName": name, "value": value} for name, value in sorted(told.items())]


@contextmanager
def _table(place: Place, name: str, columns: tuple[str, ...]) -> Iterator[csv.DictWriter[str]]:
    with place.writing(BUNDLE, f"{name}.csv") as stream:
        text = TextIOWrapper(stream, encoding="utf-8", newline="")
        table = csv.DictWriter(text, columns, restval="")
        table.writeheader()
        yield table
        text.detach()
