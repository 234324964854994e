"""The trainer's side of marking: one exercise across everybody, and sign-offs at the real bench."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any, Final

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from labkit.errors import LabkitError, sentences
from labkit.page.app import PageHost, file_of
from labkit.room.asking import asked_for, no
from labkit.room.marking import Marking
from labkit.room.room import Room
from labkit.room.trainer_side import TrainerSide

_OWN: Final = Path(__file__).resolve().parent
_SIGN_IN: Final = "Sign in on the trainer's page first."


class MarkingSide:
    """What a trainer's browser asks for to mark by hand."""

    def __init__(self, room: Room, trainer: TrainerSide, pages: PageHost) -> None:
        self._marking, self._trainer, self._pages = Marking(room), trainer, pages
        self.routes = [
            Route("/trainer/marking", self.marking),
            Route("/trainer/marking/list", self.waiting),
            Route("/trainer/marking/exercise", self.exercise),
            Route("/trainer/marking/answer", self.answer),
            Route("/trainer/marking/give", self.give, methods=["POST"]),
            Route("/trainer/marking/results", self.results, methods=["POST"]),
            Route("/trainer/sign-offs", self.sign_offs),
            Route("/trainer/sign-offs/people", self.people),
        ]

    async def marking(self, request: Request) -> Response:
        return self._page(request, "marking.html")

    async def sign_offs(self, request: Request) -> Response:
        return self._page(request, "sign_offs.html")

    def _page(self, request: Request, name: str) -> Response:
        return file_of(name, _OWN) if self._trainer.name_of(request) else no(_SIGN_IN)

    async def waiting(self, request: Request) -> Response:
        """The exercises that wait for a mark, a lab each."""
        return await self._asked(request, lambda _: self._marking.waiting())

    async def exercise(self, request: Request) -> Response:
        """The answers to one exercise, in an order that tells nothing of names."""
        asked = request.query_params
        lab, exercise = asked.get("lab", ""), asked.get("exercise", "")
        return await self._asked(request, lambda _: self._marking.exercise(lab, exercise))

    async def answer(self, request: Request) -> Response:
        """One answer and what it is marked by."""
        asked = request.query_params
        work, exercise, names = asked.get("work", ""), asked.get("exercise", ""), "names" in asked
        return await self._asked(
            request, lambda _: self._marking.answer(work, exercise, names=names)
        )

    async def people(self, request: Request) -> Response:
        """Everybody, and what is to be seen of theirs at the real bench."""
        return await self._asked(request, lambda _: self._marking.sign_offs())

    async def give(self, request: Request) -> Response:
        """Give a mark or a sign-off, in the name of whoever signed in."""
        said = await asked_for(request)
        if said is None:
            return no(_SIGN_IN)
        return await self._asked(request, lambda by: self._marking.give(said, by))

    async def results(self, request: Request) -> Response:
        """Write results that were released anew, and let the pages that show them know."""
        if await asked_for(request) is None:
            return no(_SIGN_IN)

        def work(_: str) -> dict[str, Any]:
            self._marking.write_results()
            return {"done": True}

        answer = await self._asked(request, work)
        await self._pages.tell_all_news()
        return answer

    async def _asked(self, request: Request, work: Callable[[str], dict[str, Any]]) -> Response:
        """What comes of a trainer's asking. 503 says that the same may be asked again."""
        by = self._trainer.name_of(request)
        if by is None:
            return no(_SIGN_IN)
        try:
            return JSONResponse({**await run_in_threadpool(work, by), "trainer": by})
        except LabkitError as error:
            return no(" ".join(sentences(error)), 409)
        except OSError as error:
            return no(" ".join(sentences(error)), 503)
