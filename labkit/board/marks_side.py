"""The page of a class's marks: the score sheet, a person, an answer, and putting marks right."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from labkit.board.asked import Asked, Does, Tells
from labkit.board.marks_acts import MarksActs, write_all_anew
from labkit.board.marks_desk import MarksDesk
from labkit.classroom.class_folder import ClassFolder


class MarksSide:
    """What the page of a class's marks asks for."""

    def __init__(self, asked: Asked) -> None:
        self._asked = asked
        self._desks: dict[str, MarksDesk] = {}
        self._acts: dict[str, MarksActs] = {}
        self.routes = [
            Route("/class/{name}/marks", self.page),
            self._told("table", self._table),
            self._told("came-in", lambda folder, _: self._desk(folder).came_in(folder)),
            self._told("person", self._person),
            self._told("answer", self._answer),
            self._told("corrections", lambda folder, _: self._desk(folder).corrections(folder)),
            self._told("act", lambda folder, words: self._act(folder).told(words.get("of", ""))),
            self._done("try", lambda folder, said, by: self._desk(folder).tried(folder, said, by)),
            self._done("give", lambda folder, said, by: self._desk(folder).give(folder, said, by)),
            self._done("look", self._look),
            self._done("do", self._do),
            self._done("anew", self._anew),
        ]

    async def page(self, _: Request) -> Response:
        return self._asked.page("marks", "marking.css", "marks.css")

    def _told(self, part: str, work: Tells) -> Route:
        def titled(folder: ClassFolder, words: Mapping[str, str]) -> dict[str, Any]:
            return {**work(folder, words), "class_title": folder.fields.title}

        async def told(request: Request) -> Response:
            return await self._asked.told(request, titled)

        return Route(f"/class/{{name}}/marks/{part}", told)

    def _done(self, part: str, work: Does) -> Route:
        async def done(request: Request) -> Response:
            return await self._asked.done(request, work)

        return Route(f"/class/{{name}}/marks/{part}", done, methods=["POST"])

    def _desk(self, folder: ClassFolder) -> MarksDesk:
        return self._desks.setdefault(folder.path.name, MarksDesk())

    def _act(self, folder: ClassFolder) -> MarksActs:
        return self._acts.setdefault(folder.path.name, MarksActs())

    def _table(self, folder: ClassFolder, words: Mapping[str, str]) -> dict[str, Any]:
        return self._desk(folder).table(folder, words.get("seen", ""))

    def _person(self, folder: ClassFolder, words: Mapping[str, str]) -> dict[str, Any]:
        return self._desk(folder).person(folder, words.get("id", ""))

    def _answer(self, folder: ClassFolder, words: Mapping[str, str]) -> dict[str, Any]:
        work, exercise = words.get("work", ""), words.get("exercise", "")
        return self._desk(folder).answer(folder, work, exercise)

    def _look(self, folder: ClassFolder, said: dict[str, Any], by: str) -> dict[str, Any]:
        return {"of": self._act(folder).look(self._asked.works, folder, said, by)}

    def _do(self, folder: ClassFolder, said: dict[str, Any], by: str) -> dict[str, Any]:
        return {"of": self._act(folder).do(self._asked.works, folder, said, by)}

    def _anew(self, folder: ClassFolder, _: dict[str, Any], by: str) -> dict[str, Any]:
        write_all_anew(self._asked.works, folder, by)
        return {"begun": True}
