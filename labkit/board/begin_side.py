"""Beginning a class by a form: its labs chosen from a list, its people from an office program's."""

from __future__ import annotations

import secrets
import threading
from collections import OrderedDict
from collections.abc import Mapping
from pathlib import Path
from typing import Any, Final

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from labkit.board.asked import NOT_SIGNED_IN, Asked, answered
from labkit.classroom.beginning import (
    ChosenLab,
    NewClass,
    begin_class,
    checked,
    proposed_name,
)
from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.dealing.deal_record import read_deal
from labkit.classroom.dealing.open_texts import RULE, what_stays_secret
from labkit.classroom.errors import ClassError
from labkit.classroom.office_columns import Proposal, proposed
from labkit.classroom.office_list import (
    FIELDS,
    MOST_BYTES,
    OfficeList,
    Reading,
    below_heading,
    labels,
    read_list,
    wrong_with_reading,
)
from labkit.classroom.office_people import people_in
from labkit.classroom.roster import plain_text
from labkit.errors import LabkitError, sentences
from labkit.lab.announced import announced, in_order
from labkit.lab.definition import Lab
from labkit.lab.library_labs import library_labs
from labkit.page.app import of_this_page
from labkit.room.asking import asked_for, no, number, word, words

_LISTS_KEPT: Final = 8
"""Lists that were dropped in last are kept in memory alone; a page whose own is gone sends it
again."""
GONE: Final = 410
_HEADINGS_TO_CHOOSE: Final = 25
_EXAMPLES: Final = 3
_LONGEST_FILE_NAME: Final = 120


class BeginSide:
    """What the form asks for, and the class that comes of it."""

    def __init__(self, asked: Asked) -> None:
        self._asked = asked
        self._lists: OrderedDict[str, OfficeList] = OrderedDict()
        self._labs: list[dict[str, Any]] = []
        self._labs_as: object = None
        self._lock = threading.Lock()
        self.routes = [
            Route("/begin", self.page),
            Route("/begin/labs", self.labs),
            Route("/begin/form", self.form, methods=["POST"]),
            Route("/begin/list", self.drop, methods=["POST"]),
            Route("/begin/reading", self.reading, methods=["POST"]),
            Route("/begin/class", self.begin, methods=["POST"]),
        ]

    async def page(self, _: Request) -> Response:
        return self._asked.page("begin", "begin.css")

    async def labs(self, request: Request) -> Response:
        """The labs to choose from, in the order of the course."""
        return await self._asked.told_all(request, lambda _: self._told_labs())

    async def form(self, request: Request) -> Response:
        """What is to be said of the form so far: its folder, and what can be kept secret."""
        return await self._asked.done_for_all(request, lambda said, _: self._of_form(said))

    async def drop(self, request: Request) -> Response:
        """A list of people as its file is: the words after "?" say what it is called."""
        if self._asked.by(request) is None or not of_this_page(request):
            return no(NOT_SIGNED_IN)
        data = await _body(request)
        name = plain_text(request.query_params.get("name", ""))[:_LONGEST_FILE_NAME] or "the list"
        if data is None:
            return no(f"{name} is larger than {MOST_BYTES // 1_000_000} MB.", 409)
        return await answered(lambda: self._dropped(name, data))

    async def reading(self, request: Request) -> Response:
        """A list that was dropped in, read as the page says."""
        by, said = self._asked.by(request), await asked_for(request)
        if by is None or said is None:
            return no(NOT_SIGNED_IN)
        office = self._lists.get(word(said, "list"))
        if office is None:
            return no("The list is not here any more. Choose the file again.", GONE)
        return await answered(lambda: _read(word(said, "list"), office, said))

    async def begin(self, request: Request) -> Response:
        """Begin the class: all of it, or nothing."""
        by, said = self._asked.by(request), await asked_for(request)
        if by is None or said is None:
            return no(NOT_SIGNED_IN)
        office = self._lists.get(word(said, "list"))
        if office is None and word(said, "list"):
            return no("The list is not here any more. Choose the file again.", GONE)
        return await answered(lambda: self._begin(said, office, by))

    def _told_labs(self) -> dict[str, Any]:
        library = self._asked.library
        with self._lock:
            files = {file: file.stat().st_mtime_ns for file in library.glob("*/*.md")}
            if files != self._labs_as:  # to read them all takes seconds
                self._labs, self._labs_as = _listed(library), files
            return {
                "labs": self._labs,
                "rule": RULE,
                "folder": str(self._asked.classes.path),
                "most_bytes": MOST_BYTES,
            }

    def _new_class(self, said: dict[str, Any]) -> NewClass:
        labs = said.get("labs")
        return NewClass(
            word(said, "folder").strip(),
            word(said, "title"),
            [_chosen(each) for each in labs if isinstance(each, dict)]
            if isinstance(labs, list)
            else [],
            word(said, "day"),
            word(said, "place"),
            word(said, "pass_mark"),
        )

    def _of_form(self, said: dict[str, Any]) -> dict[str, Any]:
        beside = self._asked.classes.path
        name = proposed_name(plain_text(word(said, "title")), word(said, "day"), beside)
        new = self._new_class({**said, "folder": name, "title": word(said, "title") or name})
        told: dict[str, Any] = {"folder": name, "secret": {}, "wrong": []}
        if not new.labs:
            return told
        try:
            folder = ClassFolder(beside / name, checked(new))
            told["secret"] = what_stays_secret(folder, read_deal(folder), self._asked.library)
        except LabkitError as error:
            told["wrong"] = sentences(error)
        return told

    def _dropped(self, name: str, data: bytes) -> dict[str, Any]:
        office = read_list(name, data)
        token = secrets.token_urlsafe(12)
        with self._lock:
            self._lists[token] = office
            while len(self._lists) > _LISTS_KEPT:
                self._lists.popitem(last=False)
        return _read(token, office, {})

    def _begin(self, said: dict[str, Any], office: OfficeList | None, by: str) -> dict[str, Any]:
        new = self._new_class(said)
        there = {lab["id"] for lab in self._told_labs()["labs"] if "wrong" not in lab}
        hinders = [] if office else ["There is no list of people yet. Choose its file."]
        try:
            checked(new, by)
            if strange := [lab.lab for lab in new.labs if lab.lab not in there]:
                hinders.append(f"The lab '{plain_text(strange[0])}' is not there. Choose another.")
        except LabkitError as error:
            hinders = [*sentences(error), *hinders]
        people = []
        if office:
            proposal, reading = _as_said(office, said)
            hinders += [
                question
                for what, question in proposal.questions.items()
                if what not in words(said, "answered")
            ]
            hinders += wrong_with_reading(office, reading)
            if not hinders:
                people = people_in(office, reading, _typed(said), _left_out(said))
        if hinders:
            raise ClassError("\n".join(hinders))
        made = begin_class(self._asked.classes.path, new, people, by)
        self._lists.pop(word(said, "list"), None)
        return {"name": made.path.name}


def _listed(library: Path) -> list[dict[str, Any]]:
    """The labs of a library; those with mistakes last, which cannot be chosen."""
    found = library_labs(library)
    ready = in_order(lab for lab in found.values() if isinstance(lab, Lab))
    broken = {name: error for name, error in found.items() if not isinstance(error, Lab)}
    return [
        *(_shown(lab) for lab in ready),
        *({"id": name, "title": name, "wrong": sentences(e)} for name, e in broken.items()),
    ]


def _shown(lab: Lab) -> dict[str, Any]:
    said = announced(lab)
    return {
        "id": lab.id,
        "title": lab.title,
        "aim": said.aim,
        "before": said.before,
        "minutes": lab.minutes,
    }


def _chosen(said: dict[str, Any]) -> ChosenLab:
    return ChosenLab(
        word(said, "lab"),
        "assessed" if said.get("mode") == "assessed" else "practice",
        "laptops" if said.get("held") == "laptops" else "room",
    )


async def _body(request: Request) -> bytes | None:
    """What was sent, as it is; None for more than a list may have."""
    data = bytearray()
    async for part in request.stream():
        data += part
        if len(data) > MOST_BYTES:
            return None
    return bytes(data)


def _as_said(office: OfficeList, said: dict[str, Any]) -> tuple[Proposal, Reading]:
    """What labkit proposes for a list, and how the page wants it read."""
    heading = number(said, "heading") if "heading" in said else None
    proposal = proposed(office, heading)
    columns = said.get("columns")
    if not isinstance(columns, dict):
        return proposal, proposal.reading
    taken = {name: at for name, at in columns.items() if isinstance(at, int)}
    return proposal, Reading(proposal.reading.heading, taken, said.get("makes_ids") is True)


def _typed(said: dict[str, Any]) -> dict[int, Mapping[str, str]]:
    """What was typed at rows instead of what the list says."""
    mended = said.get("mended")
    found = mended.items() if isinstance(mended, dict) else ()
    return {
        int(line): {name: text for name, text in fields.items() if isinstance(text, str)}
        for line, fields in found
        if line.isdecimal() and len(line) < 10 and isinstance(fields, dict)
    }


def _left_out(said: dict[str, Any]) -> list[int]:
    lines = said.get("left_out")
    return [line for line in lines if isinstance(line, int)] if isinstance(lines, list) else []


def _read(token: str, office: OfficeList, said: dict[str, Any]) -> dict[str, Any]:
    """A list as the page shows it: what was taken for what, and everybody in it."""
    proposal, reading = _as_said(office, said)
    named = labels(office, reading.heading)
    wrong = wrong_with_reading(office, reading)
    people = [] if wrong else people_in(office, reading, _typed(said), _left_out(said))
    taken = set(reading.columns.values())
    return {
        "list": token,
        "file": office.file,
        "remarks": list(office.remarks),
        "fields": list(FIELDS),
        "headings": [
            {"line": line, "words": " · ".join(filter(None, cells))}
            for line, cells in office.rows[:_HEADINGS_TO_CHOOSE]
        ],
        "heading": reading.heading,
        "columns": [
            {"at": at, "label": label, "cells": _examples(office, reading.heading, at)}
            for at, label in named.items()
        ],
        "chosen": dict(reading.columns),
        "makes_ids": reading.makes_ids,
        "questions": dict(proposal.questions),
        "not_taken": [label for at, label in named.items() if at not in taken],
        "wrong": wrong,
        "people": [
            {
                "line": person.line,
                "id": person.trainee.id,
                "name": person.trainee.name,
                "bench": person.trainee.bench,
                "seat": person.trainee.seat,
                "left_out": person.left_out,
                "wrong": list(person.wrong),
                "remarks": list(person.remarks),
            }
            for person in people
        ],
    }


def _examples(office: OfficeList, heading: int, at: int) -> list[str]:
    filled = (cells[at] for _, cells in below_heading(office, heading) if cells[at])
    return [cell for _, cell in zip(range(_EXAMPLES), filled, strict=False)]
