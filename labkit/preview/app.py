"""The preview as an application: the web host's page with the author's bar in its head."""

from __future__ import annotations

import asyncio
import secrets
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager, suppress
from hmac import compare_digest
from pathlib import Path
from typing import Any, Final

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.requests import HTTPConnection, Request
from starlette.responses import HTMLResponse, JSONResponse, PlainTextResponse, Response
from starlette.routing import Mount, Route
from starlette.types import ASGIApp, Receive, Scope, Send

from labkit.errors import LabkitError, sentences
from labkit.front_end.written_pages import WRITTEN_POLICY
from labkit.page.app import (
    Hand,
    PageHost,
    WithHeaders,
    file_of,
    of_this_page,
    said_in,
)
from labkit.page.desk import Desk
from labkit.page.known_host import KnownHost
from labkit.preview.form import Forms
from labkit.preview.form_desk import FormDesk
from labkit.preview.previewed import Previewed
from labkit.preview.quick_proof import proved

_OWN: Final = Path(__file__).resolve().parent
_BESIDE: Final = ("../preview/author.js", "../preview/form.js")
"""As the page's own scripts see them."""
_LOOK_EVERY_S: Final = 0.15
_PROOF_AFTER_S: Final = 0.5
"""Seconds that what was saved has to be seen, before a proof-reading takes the processor."""
_HAND: Final = Hand("preview")
_NOT_SO: Final = "Open this page by the address that labkit shows in its window."
_HANDS_IN_NOTHING: Final = "This is a preview: nothing is handed in, and nothing of it is kept."
_LONGEST_SEED: Final = 100


class PreviewApp:
    """Serves one lab below a path that holds the key of this preview."""

    def __init__(self, previewed: Previewed) -> None:
        self.key = secrets.token_urlsafe(18)
        self._previewed = previewed
        self._form_desk = FormDesk(previewed.watched.path)
        self._forms = Forms(self._form_desk, lambda: previewed.seed)
        self._pages = PageHost(self._desk_of, self._now_of, self._hand_of)
        self._proof: asyncio.Task[None] | None = None
        self._changing = asyncio.Lock()

    @property
    def app(self) -> ASGIApp:
        """The application."""
        routes = [
            Route("/preview/{name}", _own),
            Route("/choose", self.choose, methods=["POST"]),
            Route("/paper", self.paper),
            Route("/solutions", self.solutions),
            Route("/hand-in", _hand_in, methods=["POST"]),
            *self._forms.routes,
            *self._pages.routes,
        ]
        keyed = _Keyed(Starlette(routes=routes), self.key)
        app = Starlette(routes=[Mount("/{key}", keyed)], lifespan=self.running)
        return WithHeaders(KnownHost(app))

    @asynccontextmanager
    async def running(self, _: Starlette) -> AsyncIterator[None]:
        """While it is served, the files are looked at, and the newest text is proof-read."""
        looking = asyncio.create_task(self._look())
        self._prove()
        yield
        await _ended(looking)
        await _ended(self._proof)

    async def choose(self, request: Request) -> Response:
        """Another draw, the one before, that of a seed, or the view of another class."""
        said = await said_in(request)
        if not of_this_page(request) or not isinstance(said, dict):
            return PlainTextResponse(_NOT_SO, 403)
        work = self._chosen(said)
        if work is None:
            return PlainTextResponse("That is no message of this page.", 400)
        await self._changed(work)
        return JSONResponse({})

    async def paper(self, _: Request) -> Response:
        """The printed page."""
        return await self._printed(solved=False)

    async def solutions(self, _: Request) -> Response:
        """The instructor's copy."""
        return await self._printed(solved=True)

    async def _printed(self, *, solved: bool) -> Response:
        try:
            page = await run_in_threadpool(self._previewed.paper, solved=solved)
        except LabkitError as error:
            return PlainTextResponse("\n".join(sentences(error)), 409)
        return HTMLResponse(page, headers={"content-security-policy": WRITTEN_POLICY})

    def _chosen(self, said: dict[str, Any]) -> Callable[[], None] | None:
        previewed, seed = self._previewed, said.get("seed")
        if isinstance(seed, str) and 0 < len(seed) <= _LONGEST_SEED and seed.isprintable():
            return lambda: previewed.draw_of(seed)
        practice = said.get("practice")
        if isinstance(practice, bool):
            return lambda: previewed.as_of(practice=practice)
        return {"another": previewed.another_draw, "before": previewed.draw_before}.get(
            str(said.get("draw"))
        )

    async def _desk_of(self, _: HTTPConnection) -> Desk:
        return self._previewed.desk

    def _now_of(self, _: HTTPConnection) -> dict[str, Any]:
        told = {"preview": self._previewed.told(), "form": self._forms.told()}
        return {"beside": _BESIDE, **told}

    def _hand_of(self, _: HTTPConnection, desk: Desk) -> Hand | None:
        return _HAND if desk is self._previewed.desk else None

    async def _look(self) -> None:
        previewed = self._previewed
        while True:
            with suppress(OSError):
                if await run_in_threadpool(previewed.watched.changed):
                    await _ended(self._proof)
                    await run_in_threadpool(self._form_desk.look)
                    await self._changed(previewed.read_again)
                    self._prove()
            await asyncio.sleep(_LOOK_EVERY_S)

    async def _changed(self, work: Callable[[], None]) -> None:
        async with self._changing:
            await run_in_threadpool(work)
        await self._pages.let_go()  # they come back at once, to what is shown now
        await self._pages.tell_all_news()

    def _prove(self) -> None:
        self._previewed.proof_begins()
        self._proof = asyncio.create_task(self._proved()) if self._previewed.readable else None

    async def _proved(self) -> None:
        await asyncio.sleep(_PROOF_AFTER_S)
        telling: set[asyncio.Task[None]] = set()

        def told(said: dict[str, Any]) -> None:
            self._previewed.proof_told(said)
            telling.add(asyncio.create_task(self._pages.tell_all_news()))

        with suppress(OSError):
            await proved(self._previewed.watched.path, told)
        self._previewed.proof_ended()
        await self._pages.tell_all_news()


class _Keyed:
    """Lets in who has the key in the path: no other user of this machine, no other page."""

    def __init__(self, app: ASGIApp, key: str) -> None:
        self._app, self._key = app, key

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        shown = str(scope.get("path_params", {}).get("key", ""))
        if compare_digest(shown.encode(), self._key.encode()):
            await self._app(scope, receive, send)
            return
        if scope["type"] == "http":
            await PlainTextResponse(_NOT_SO, 403)(scope, receive, send)
        else:
            await send({"type": "websocket.close", "code": 1008})


async def _ended(task: asyncio.Task[None] | None) -> None:
    if task is not None:
        task.cancel()
        await asyncio.wait({task})


async def _own(request: Request) -> Response:
    return file_of(request.path_params["name"], _OWN)


async def _hand_in(_: Request) -> Response:
    return PlainTextResponse(_HANDS_IN_NOTHING, 409)
