"""The forms of a preview as its page asks for them; only that page may have something written.

A page from elsewhere gets nowhere: it knows neither the key in the path nor the token that this
page is told, its browser says where it comes from, and JSON of others is asked about before.
"""

from __future__ import annotations

import secrets
from collections.abc import Callable
from hmac import compare_digest
from typing import Any, Final

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import JSONResponse, PlainTextResponse, Response
from starlette.routing import BaseRoute, Route

from labkit.errors import sentences
from labkit.lab.editing.put_in_place import ChangedMeanwhileError
from labkit.page.app import of_this_page, said_in
from labkit.preview.form_desk import FormDesk

TOKEN: Final = "labkit-form"
"""The header with which this page shows that it is this page."""
_NOT_SO: Final = "Only the preview's own page writes into the lab. Load it again."


class Forms:
    """What is served of forms; `seed_of` says which draw is shown."""

    def __init__(self, desk: FormDesk, seed_of: Callable[[], str]) -> None:
        self._desk, self._seed_of = desk, seed_of
        self._token = secrets.token_urlsafe(24)

    @property
    def routes(self) -> list[BaseRoute]:
        """Below the path that holds the preview's key."""
        return [
            Route("/form", self.form),
            Route("/form/take", self.take),
            Route("/form/lines", self.lines, methods=["POST"]),
            Route("/form/write", self.write, methods=["POST"]),
            Route("/form/undo", self.undo, methods=["POST"]),
        ]

    def told(self) -> dict[str, Any]:
        """What the page is told with each news."""
        return {**self._desk.told(), "token": self._token}

    async def form(self, request: Request) -> Response:
        """The form of an exercise, that of a new one of a kind, or the kinds that there are."""
        asked = request.query_params
        if "exercise" in asked:
            return await _answer(lambda: self._desk.of_exercise(asked["exercise"]))
        if "kind" in asked:
            return await _answer(lambda: self._desk.of_kind(asked["kind"]))
        if "from" in asked:
            return await _answer(lambda: self._desk.of_taken(asked["from"]))
        return await _answer(lambda: {"kinds": self._desk.kinds()})

    async def take(self, request: Request) -> Response:
        """Exercises of other labs that can be taken."""
        return await _answer(lambda: self._desk.to_take(request.query_params.get("find", "")))

    async def lines(self, request: Request) -> Response:
        """What would be written."""
        return await self._done(request, lambda said: self._desk.lines(said, self._seed_of()))

    async def write(self, request: Request) -> Response:
        """Write what was shown."""
        return await self._done(request, self._desk.write)

    async def undo(self, request: Request) -> Response:
        """Take back what was written last."""
        return await self._done(request, self._desk.undo)

    async def _done(
        self, request: Request, act: Callable[[dict[str, Any]], dict[str, Any]]
    ) -> Response:
        if not self._is_this_page(request):
            return PlainTextResponse(_NOT_SO, 403)
        said = await said_in(request)
        if not isinstance(said, dict):
            return PlainTextResponse("That is no form of this page.", 400)
        return await _answer(lambda: act(said))

    def _is_this_page(self, request: Request) -> bool:
        headers = request.headers
        shown = headers.get(TOKEN, "")
        return (
            of_this_page(request)
            and headers.get("sec-fetch-site", "same-origin") == "same-origin"
            and headers.get("content-type", "") == "application/json"
            and compare_digest(shown.encode(), self._token.encode())
        )


async def _answer(act: Callable[[], dict[str, Any]]) -> Response:
    """What comes of an act; what cannot be done is told in sentences."""
    try:
        return JSONResponse(await run_in_threadpool(act))
    except Exception as error:  # a kind of another package may do anything
        changed = isinstance(error, ChangedMeanwhileError)
        return JSONResponse({"told": sentences(error), "changed": changed}, 409)
