"""The page of one class: what is next, dealing, and the room."""

from __future__ import annotations

from collections.abc import Mapping
from contextlib import suppress
from pathlib import Path
from typing import Any

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from labkit.board.asked import Asked
from labkit.board.held_rooms import HeldRooms
from labkit.board.lab_titles import title_of
from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.dealing.deal import deal
from labkit.classroom.dealing.deal_record import read_deal
from labkit.classroom.dealing.deal_summary import deal_summary
from labkit.classroom.dealing.open_texts import remarks_on_secrecy
from labkit.classroom.dealing.opening_times import remarks_on_opening
from labkit.classroom.dealing.roster_changes import remarks_on_gone
from labkit.classroom.dealt import Deal
from labkit.classroom.errors import ClassError
from labkit.classroom.keeping import retention_remark
from labkit.classroom.progress import Progress
from labkit.classroom.records.acts import note
from labkit.classroom.shared_place import warnings_about
from labkit.errors import LabkitError, sentences
from labkit.room.asking import word
from labkit.room.way import ways


class ClassSide:
    """What the page of a class asks for."""

    def __init__(self, asked: Asked, rooms: HeldRooms) -> None:
        self._asked, self._rooms = asked, rooms
        self.routes = [
            Route("/class/{name}/", self.front),
            Route("/class/{name}/now", self.now),
            Route("/class/{name}/work", self.work),
            Route("/class/{name}/deal", self.deal, methods=["POST"]),
            Route("/class/{name}/open-room", self.open_room, methods=["POST"]),
            Route("/class/{name}/end-room", self.end_room, methods=["POST"]),
        ]

    async def front(self, _: Request) -> Response:
        return self._asked.page("class")

    async def now(self, request: Request) -> Response:
        """The class as it is now."""
        return await self._asked.told(request, self._now)

    async def work(self, request: Request) -> Response:
        """How far the last long work for the class is."""
        return await self._asked.told(
            request, lambda folder, _: {"work": self._asked.works.last(folder.path.name)}
        )

    async def deal(self, request: Request) -> Response:
        """Deal what is not dealt yet; how far that is tells `work`."""
        return await self._asked.done(request, self._deal)

    async def open_room(self, request: Request) -> Response:
        """Open the room of the class, in a process of its own."""
        return await self._asked.done(request, self._open_room)

    async def end_room(self, request: Request) -> Response:
        """End it; everything that is saved stays."""
        return await self._asked.done(request, self._end_room)

    def _now(self, folder: ClassFolder, _: Mapping[str, str]) -> dict[str, Any]:
        fields, dealt = folder.fields, read_deal(folder)
        people, wrong = _people(folder)
        waits = sum(
            dealt.dealt.find(person, lab) is None for person in people for lab in fields.labs
        )
        return {
            "title": fields.title,
            "date": fields.spoken_date,
            "place": fields.place,
            "folder": str(folder.path),
            "labs": [self._lab(folder, lab) for lab in fields.labs],
            "people": len(people),
            "workbooks": len(dealt.dealt),
            "to_deal": waits,
            "scored": (folder.scores / "overview.html").exists(),
            "remarks": [*wrong, *self._remarks(folder, dealt)],
            "room": self._rooms.of(folder),
            "ways": [{"address": way.address, "words": way.words} for way in ways()],
            "work": self._asked.works.last(folder.path.name),
        }

    def _lab(self, folder: ClassFolder, lab: str) -> dict[str, Any]:
        fields = folder.fields
        return {
            "id": lab,
            "title": title_of(folder, lab, self._asked.library),
            "practice": fields.practice(lab),
            "in_room": fields.in_room(lab),
        }

    def _remarks(self, folder: ClassFolder, dealt: Deal) -> list[str]:
        remarks = [*warnings_about(folder.path), retention_remark(folder)]
        remarks += remarks_on_opening(folder)
        if folder.roster_file.exists():
            with suppress(ClassError):  # which is told already: nobody can be read
                remarks += [*folder.roster_remarks, *remarks_on_gone(folder, dealt)]
        return [sentence for sentence in remarks if sentence]

    def _deal(self, folder: ClassFolder, _: dict[str, Any], by: str) -> dict[str, Any]:
        def work(progress: Progress) -> dict[str, Any]:
            result = deal(folder, self._asked.library, progress)
            if result.new:
                note(folder, f"Workbooks dealt: {result.new}.", by)
            folder.open_for_hand_ins()
            told = [
                *deal_summary(result.deal),
                *remarks_on_secrecy(folder, result.deal, self._asked.library),
            ]
            return {"new": result.new, "kept": result.kept, "told": told}

        self._asked.works.begin(folder.path.name, "Dealing workbooks", by, work)
        return {"begun": True}

    def _open_room(self, folder: ClassFolder, said: dict[str, Any], _: str) -> dict[str, Any]:
        second = word(said, "second").strip()
        self._rooms.open(folder, word(said, "interface") or None, Path(second) if second else None)
        return {"room": self._rooms.of(folder)}

    def _end_room(self, folder: ClassFolder, *_: object) -> dict[str, Any]:
        self._rooms.end(folder)
        return {"room": None}


def _people(folder: ClassFolder) -> tuple[list[str], list[str]]:
    """The ids of the roster, or what is wrong with it."""
    try:
        return [trainee.id for trainee in folder.trainees], []
    except (LabkitError, OSError) as error:
        return [], sentences(error)
