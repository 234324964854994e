"""The classes of a folder beside each other: people across them, who is due again, the labs."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from labkit.board.asked import Asked
from labkit.classroom.across.persons import Due, Person
from labkit.classroom.across.seen import Attendance, ClassSeen, LabSeen, result_in_words, seen
from labkit.classroom.across.year import read_year
from labkit.classroom.class_folder import CLASS_FILE, RECORDS_FILE, ClassFolder
from labkit.classroom.progress import Progress
from labkit.exchange.clock import CLOCK

_ALL: Final = ""
"""The name under which work for all classes goes: no class's folder has it."""


@dataclass(slots=True)
class _Kept:
    """What was read of classes, as long as their files are the same."""

    classes: dict[Path, tuple[object, ClassSeen]] = field(default_factory=dict)

    def of(self, folder: ClassFolder) -> ClassSeen:
        state = _state(folder)
        known = self.classes.get(folder.path)
        if known is None or known[0] != state or folder.fields.records:
            known = self.classes[folder.path] = (state, seen(folder))
        return known[1]


class YearSide:
    """What the page of all classes asks for."""

    def __init__(self, asked: Asked) -> None:
        self._asked = asked
        self._kept = _Kept()
        self.routes = [
            Route("/year", self.front),
            Route("/year/look", self.look, methods=["POST"]),
            Route("/year/work", self.work),
        ]

    async def front(self, _: Request) -> Response:
        return self._asked.page("year", "year.css")

    async def look(self, request: Request) -> Response:
        """Read all classes; how far that is, and what they say, tells `work`."""
        return await self._asked.done_for_all(request, self._look)

    async def work(self, request: Request) -> Response:
        """How far the reading is."""
        return await self._asked.told_all(request, lambda _: {"work": self._asked.works.last(_ALL)})

    def _look(self, _: dict[str, Any], by: str) -> dict[str, Any]:
        self._asked.works.begin(_ALL, "Reading the classes", by, self._read)
        return {"begun": True}

    def _read(self, progress: Progress) -> dict[str, Any]:
        classes = self._asked.classes
        names, today = classes.names(), CLOCK.moment().date()
        year = read_year(names, lambda name: self._kept.of(classes.open(name)), today, progress)
        return {
            "classes": len(names),
            "wrong": [{"folder": name, "sentences": told} for name, told in year.wrong.items()],
            "people": [_person(one) for one in year.people],
            "due": [_due(one) for one in year.due],
            "labs": [_lab(one) for one in year.labs],
        }


def _state(folder: ClassFolder) -> object:
    """What tells one state of a class's files from another."""
    names = (CLASS_FILE, RECORDS_FILE, f"{RECORDS_FILE}-wal", folder.deal_file.name)
    files = [folder.path / name for name in names]
    stats = [file.stat() if file.exists() else None for file in files]
    return tuple(stat and (stat.st_mtime_ns, stat.st_size) for stat in stats)


def _person(person: Person) -> dict[str, Any]:
    return {
        "id": person.id,
        "name": person.name,
        "remark": person.remark,
        "classes": [_attended(one) for one in person.classes],
    }


def _attended(one: Attendance) -> dict[str, Any]:
    return {
        "folder": one.folder,
        "title": one.title,
        "day": one.day,
        "result": result_in_words(one),
    }


def _due(one: Due) -> dict[str, Any]:
    return {
        "id": one.person.id,
        "name": one.person.name,
        "title": one.title,
        "serial": one.serial,
        "until": one.until,
        "over": one.over,
    }


def _lab(one: LabSeen) -> dict[str, Any]:
    return {
        "folder": one.folder,
        "title": one.title,
        "day": one.day,
        "lab": one.lab,
        "version": one.version,
        "practice": one.practice,
        "handed_in": one.handed_in,
        "mean": one.mean,
        "low": one.interval and one.interval.low,
        "high": one.interval and one.interval.high,
    }
