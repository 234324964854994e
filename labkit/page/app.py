"""The web host of exercises: pages for any browser, without a notebook and without a class.

Whose workbook a request is for is decided by whoever hosts (`desk_of`). Acts wait for the disk, so
they are done in threads; the event loop never does. Nothing is fetched from elsewhere, and no
script or style stands within a page.
"""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Awaitable, Callable, Mapping
from contextlib import suppress
from hashlib import sha256
from pathlib import Path
from typing import Any, Final

from anyio import CapacityLimiter, move_on_after
from anyio.to_thread import run_sync
from starlette.concurrency import run_in_threadpool
from starlette.datastructures import MutableHeaders
from starlette.requests import HTTPConnection, Request
from starlette.responses import JSONResponse, PlainTextResponse, Response
from starlette.routing import BaseRoute, Route, WebSocketRoute
from starlette.types import ASGIApp, Message, Receive, Scope, Send
from starlette.websockets import WebSocket, WebSocketDisconnect

from labkit.front_end.page_modules import SHARED, joined, sheets
from labkit.page.desk import Desk, Heard

DeskOf = Callable[[HTTPConnection], Awaitable[Desk | None]]
"""The workbook that a connection may work in; None where it may not in any."""
NowOf = Callable[[HTTPConnection], Mapping[str, Any]]
"""What else a page is told when it opens, and each time that there is news."""

LONGEST: Final = 256 * 1024
"""Bytes of one message of a page."""
_PATIENCE_S: Final = 2.0
_LONG_AT_ONCE: Final = 3
"""Benches and drills that are worked out in this process at the same time, whoever asks."""
NO_SEAT: Final = 4403
"""The number with which a socket is closed whose page has no workbook here (any more)."""
POLICY: Final = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; "
    "connect-src 'self'; base-uri 'none'; form-action 'self'; frame-ancestors 'none'"
)
_OWN: Final = Path(__file__).resolve().parent
_UNLESS_SAID: Final = {"content-security-policy": POLICY, "cache-control": "no-store"}
_ALWAYS: Final = {
    "x-content-type-options": "nosniff",
    "referrer-policy": "no-referrer",
}
_NO_DESK: Final = "This page has no workbook here: join the class again."


class PageHost:
    """Serves the workbooks that `desk_of` finds, at paths below one of the host's.

    `benches_at_once` says for how many steps at benches it waits at the same time; where they are
    played elsewhere that may be more.
    """

    def __init__(
        self,
        desk_of: DeskOf,
        now_of: NowOf = lambda _: {},
        *,
        benches_at_once: int = _LONG_AT_ONCE,
    ) -> None:
        self._desk_of, self._now_of = desk_of, now_of
        self._open: defaultdict[Desk, set[WebSocket]] = defaultdict(set)
        self._drills = CapacityLimiter(_LONG_AT_ONCE)
        self._benches = CapacityLimiter(benches_at_once)

    @property
    def routes(self) -> list[BaseRoute]:
        """What is served, for the place where the host wants it; its path ends with "/"."""
        return [
            Route("/", self.page),
            Route("/desk", self.desk),
            Route("/shown/{exercise}", self.shown),
            Route("/say", self.say, methods=["POST"]),
            Route("/own/{name}", own),
            Route("/kinds/{kind}.js", self.module),
            Route("/kinds/{kind}.css", self.sheet),
            WebSocketRoute("/talk", self.talk),
        ]

    def pages_of(self, desk: Desk) -> int:
        """How many pages show a workbook now, as far as they hold a socket."""
        return len(self._open.get(desk, ()))

    async def close_pages(self, desk: Desk) -> None:
        """Let the pages of a workbook go: they have to show again whose they are."""
        for socket in list(self._open.get(desk, ())):
            self._open[desk].discard(socket)
            with suppress(RuntimeError, WebSocketDisconnect):
                await socket.close(NO_SEAT)

    async def page(self, _: Request) -> Response:
        return file_of("page.html")

    async def desk(self, request: Request) -> Response:
        desk = await self._desk_of(request)
        if desk is None:
            return _refused()
        return JSONResponse({**await run_in_threadpool(desk.opened), **self._now_of(request)})

    async def shown(self, request: Request) -> Response:
        desk = await self._desk_of(request)
        if desk is None:
            return _refused()
        name = request.path_params["exercise"]
        shown = await run_sync(desk.shown, name, limiter=self._benches)
        return JSONResponse(shown) if shown else PlainTextResponse("There is nothing here.", 404)

    async def module(self, request: Request) -> Response:
        return await self._of_kind(request, joined, "text/javascript")

    async def sheet(self, request: Request) -> Response:
        return await self._of_kind(request, sheets, "text/css")

    async def _of_kind(
        self, request: Request, text_of: Callable[[Path], str], media_type: str
    ) -> Response:
        desk = await self._desk_of(request)
        script = desk.scripts.get(request.path_params["kind"]) if desk else None
        if script is None:
            return _refused()
        return _with_tag(request, text_of(script), media_type)

    async def say(self, request: Request) -> Response:
        """A page's message where no socket is to be had."""
        desk = await self._desk_of(request)
        if desk is None or not of_this_page(request):
            return _refused()
        said = await said_in(request)
        heard = await self._heard(desk, said)
        if heard is None:
            return PlainTextResponse("That is no message of this page.", 400)
        await self._tell_others(desk, heard)
        return JSONResponse(heard)

    async def talk(self, socket: WebSocket) -> None:
        """One page's messages in, and what all pages of the workbook are told."""
        desk = await self._desk_of(socket)
        await socket.accept()
        if desk is None or not of_this_page(socket):
            # A page hears the number of a close only where the socket was accepted.
            await socket.close(NO_SEAT)
            return
        self._open[desk].add(socket)
        try:
            while True:
                heard = await self._heard(desk, _json(await socket.receive_text()))
                if heard is not None:
                    await socket.send_text(json.dumps(heard))
                    await self._tell_others(desk, heard, socket)
        except WebSocketDisconnect:
            pass
        finally:
            self._open[desk].discard(socket)
            if not self._open[desk]:
                self._open.pop(desk)

    async def _heard(self, desk: Desk, said: Any) -> Heard | None:
        """What comes of a message. Few that take long are done at once: answers pass them."""
        return await run_sync(desk.hear, said, limiter=self._limit_for(said))

    def _limit_for(self, said: Any) -> CapacityLimiter | None:
        message = said.get("message") if isinstance(said, dict) else None
        does = message.get("do") if isinstance(message, dict) else None
        if does in ("drill", "try"):
            return self._drills
        return self._benches if does == "step" else None

    async def tell_news(self, desk: Desk) -> None:
        """Let the pages of a workbook ask anew what holds."""
        await self._tell(desk, {"news": True})

    async def tell_all_news(self) -> None:
        """Let all pages ask anew what holds."""
        for desk in list(self._open):
            await self.tell_news(desk)

    async def _tell_others(self, desk: Desk, heard: Any, but: WebSocket | None = None) -> None:
        await self._tell(desk, {"exercise": heard["exercise"], "saved": heard["saved"]}, but)

    async def _tell(self, desk: Desk, what: Any, but: WebSocket | None = None) -> None:
        told = json.dumps(what)
        for socket in list(self._open.get(desk, ())):
            if socket is not but:
                # A page that takes nothing, such as a laptop's that sleeps, keeps nobody waiting.
                with move_on_after(_PATIENCE_S), suppress(RuntimeError, WebSocketDisconnect):
                    await socket.send_text(told)
                    continue
                self._open[desk].discard(socket)


class WithHeaders:
    """What every answer of a host says of itself."""

    def __init__(self, app: ASGIApp) -> None:
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        async def saying(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in _UNLESS_SAID.items():
                    headers.setdefault(name, value)
                headers.update(_ALWAYS)
            await send(message)

        await self._app(scope, receive, saying if scope["type"] == "http" else send)


def of_this_page(asked: HTTPConnection) -> bool:
    """Whether the page that asks came from here: its browser says so, whatever the page wants."""
    origin = asked.headers.get("origin", "")
    return origin.partition("://")[2] == asked.headers.get("host", "")


async def said_in(request: Request) -> Any:
    """The JSON that a page sent; None for what is none, or too long to be read."""
    length = request.headers.get("content-length", "")
    if not length.isdecimal() or int(length) > LONGEST:
        return None
    return _json(await request.body())


def _json(text: str | bytes) -> Any:
    try:
        return json.loads(text)
    except (ValueError, RecursionError):
        return None


def _refused() -> Response:
    return PlainTextResponse(_NO_DESK, 403)


_TYPES: Final = {".html": "text/html", ".js": "text/javascript", ".css": "text/css"}


async def own(request: Request) -> Response:
    """A script or a style sheet of the page's own."""
    return file_of(request.path_params["name"])


def file_of(name: str, folder: Path = _OWN) -> Response:
    """A page, script or sheet of a host's `folder`, or one that all pages share."""
    files = {file.name: file for at in (SHARED, folder) for file in at.iterdir()}
    if name not in files or files[name].suffix not in _TYPES:
        return PlainTextResponse("There is nothing here.", 404)
    return Response(files[name].read_bytes(), media_type=_TYPES[files[name].suffix])


def _with_tag(request: Request, text: str, media_type: str) -> Response:
    """A text that a browser keeps until it is another."""
    tag = f'"{sha256(text.encode()).hexdigest()[:20]}"'
    headers = {"etag": tag, "cache-control": "no-cache"}
    if request.headers.get("if-none-match") == tag:
        return Response(status_code=304, headers=headers)
    return Response(text, media_type=media_type, headers=headers)
