"""The web host of exercises: pages for any browser, without a notebook and without a class.

Whose workbook a request is for is decided by whoever hosts (`desk_of`). Acts wait for the disk, so
they are done in threads; the event loop never does. Nothing is fetched from elsewhere, and no
script or style stands within a page.
"""

from __future__ import annotations

import asyncio
import json
from collections import defaultdict
from collections.abc import Awaitable, Callable, Mapping
from contextlib import suppress
from dataclasses import dataclass
from functools import partial
from hashlib import sha256
from pathlib import Path
from time import monotonic
from typing import Any, Final

from anyio import CapacityLimiter, move_on_after
from anyio.to_thread import run_sync
from starlette.concurrency import run_in_threadpool
from starlette.datastructures import MutableHeaders
from starlette.requests import HTTPConnection, Request
from starlette.responses import JSONResponse, PlainTextResponse, Response
from starlette.routing import BaseRoute, Route, WebSocketRoute
from starlette.types import ASGIApp, Message, Receive, Scope, Send
from starlette.websockets import WebSocket, WebSocketDisconnect, WebSocketState

from labkit.front_end.page_modules import SHARED, joined, sheets
from labkit.page.desk import Desk, Heard
from labkit.page.pads import Pads
from labkit.page.trade_words import PICTURES

DeskOf = Callable[[HTTPConnection], Awaitable[Desk | None]]
"""The workbook that a connection may work in; None where it may not in any."""
NowOf = Callable[[HTTPConnection], Mapping[str, Any]]
"""What else a page is told when it opens, and each time that there is news."""


@dataclass(frozen=True, slots=True)
class Hand:
    """Whose hand does what a page asks for, as the host knows it.

    `person` is whose page it is. Where several work at one workbook, `by` is what the journal keeps
    of the hand, and `name` what the others' pages are told.
    """

    person: str = ""
    by: str = ""
    name: str = ""


HandOf = Callable[[HTTPConnection, Desk], Hand | None]
"""The hand of a connection at a workbook; None where it may do nothing there (any more)."""

LONGEST: Final = 256 * 1024
"""Bytes of one message of a page."""
_NEWS: Final = json.dumps({"news": True})
_PATIENCE_S: Final = 2.0
_LONG_AT_ONCE: Final = 3
"""Benches and drills that are worked out in this process at the same time, whoever asks."""
_NOT_HERE: Final = "This workbook is not yours to work in any more."
_ASKS_WITHIN_S: Final = 25.0
"""A page that has no socket tries for one, and asks for its workbook, each 13 s or sooner."""
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
        hand_of: HandOf = lambda *_: Hand(),
        *,
        benches_at_once: int = _LONG_AT_ONCE,
    ) -> None:
        self._desk_of, self._now_of, self._hand_of = desk_of, now_of, hand_of
        self._open: defaultdict[Desk, dict[WebSocket, str]] = defaultdict(dict)
        """The sockets of each workbook's pages, and whose page it is."""
        self._asked: dict[tuple[Desk, str], float] = {}
        """When a page that has no socket last asked for its workbook, and whose page it is."""
        self._waking: set[asyncio.Task[None]] = set()
        self._drills = CapacityLimiter(_LONG_AT_ONCE)
        self._benches = CapacityLimiter(benches_at_once)
        self._pads = Pads()

    @property
    def routes(self) -> list[BaseRoute]:
        """What is served, for the place where the host wants it; its path ends with "/"."""
        return [
            Route("/", self.page),
            Route("/desk", self.desk),
            Route("/shown/{exercise}", self.shown),
            Route("/say", self.say, methods=["POST"]),
            Route("/pad", self.pad, methods=["POST"]),
            Route("/own/{name}", own),
            Route("/word/{name}", word_picture),
            Route("/kinds/{kind}.js", self.module),
            Route("/kinds/{kind}.css", self.sheet),
            WebSocketRoute("/talk", self.talk),
        ]

    def pages_of(self, desk: Desk, person: str) -> int:
        """How many pages of a person show a workbook now; all without a socket are one."""
        sockets = sum(whose == person for whose in self._open.get(desk, {}).values())
        return sockets or int((desk, person) in self._asking())

    def who_is_here(self) -> set[tuple[str, str]]:
        """The number of each workbook that a page shows now, and whose page it is."""
        open_ = {(desk.number, who) for desk, pages in self._open.items() for who in pages.values()}
        return open_ | {(desk.number, who) for desk, who in self._asking()}

    def _asking(self) -> set[tuple[Desk, str]]:
        """Whose pages have no socket and asked a moment ago."""
        now = monotonic()
        for page, asked in list(self._asked.items()):
            if now - asked > _ASKS_WITHIN_S:
                self._asked.pop(page, None)
        return set(self._asked)

    async def let_go(self) -> None:
        """Let the pages go that may do nothing any more in the workbook that they show."""
        for desk, sockets in list(self._open.items()):
            for socket in [one for one in sockets if self._hand_of(one, desk) is None]:
                sockets.pop(socket, None)
                await _close(socket)

    async def page(self, _: Request) -> Response:
        return file_of("page.html")

    async def desk(self, request: Request) -> Response:
        desk = await self._desk_of(request)
        if desk is None:
            return _refused()
        hand = self._hand_of(request, desk) if "plain" in request.query_params else None
        if hand is not None:
            self._asked[desk, hand.person] = monotonic()
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
        hand = self._hand_of(request, desk) if desk else None
        if desk is None or hand is None or not of_this_page(request):
            return _refused()
        said = await said_in(request)
        heard = await self._heard(request, desk, hand, said)
        if heard is None:
            return PlainTextResponse("That is no message of this page.", 400)
        await self._tell_others(desk, hand, heard)
        return JSONResponse(heard)

    async def pad(self, request: Request) -> Response:
        """What stands beside the lines of a scratch pad."""
        desk = await self._desk_of(request)
        hand = self._hand_of(request, desk) if desk else None
        if hand is None or not of_this_page(request):
            return _refused()
        return await self._pads.beside(hand.person, await said_in(request))

    async def talk(self, socket: WebSocket) -> None:
        """One page's messages in, and what all pages of the workbook are told."""
        desk = await self._desk_of(socket)
        await socket.accept()
        hand = self._hand_of(socket, desk) if desk else None
        if desk is None or hand is None or not of_this_page(socket):
            # A page hears the number of a close only where the socket was accepted.
            await socket.close(NO_SEAT)
            return
        self._open[desk][socket] = hand.person
        try:
            while True:
                said = _json(await socket.receive_text())
                # A page may stay and its hand be another by now, or none.
                hand = self._hand_of(socket, desk)
                if hand is None:
                    await _close(socket)
                    return
                heard = await self._heard(socket, desk, hand, said)
                if heard is not None:
                    # It may have been closed from here meanwhile.
                    with suppress(RuntimeError):
                        await socket.send_text(json.dumps(heard))
                    await self._tell_others(desk, hand, heard, socket)
        except WebSocketDisconnect:
            pass
        finally:
            self._open[desk].pop(socket, None)
            if not self._open[desk]:
                self._open.pop(desk)

    async def _heard(
        self, asked: HTTPConnection, desk: Desk, hand: Hand, said: Any
    ) -> Heard | None:
        """What comes of a message. Few that take long are done at once: answers pass them.

        Whether this hand may still do something here is asked again when it is its turn.
        """

        def why_not() -> str:
            return "" if self._hand_of(asked, desk) == hand else _NOT_HERE

        hear = partial(desk.hear, said, by=hand.by, why_not=why_not)
        return await run_sync(hear, limiter=self._limit_for(said))

    def _limit_for(self, said: Any) -> CapacityLimiter | None:
        message = said.get("message") if isinstance(said, dict) else None
        does = message.get("do") if isinstance(message, dict) else None
        if does in ("drill", "try", "file"):
            return self._drills
        return self._benches if does == "step" else None

    async def tell_news(self, desk: Desk) -> None:
        """Let the pages of a workbook ask anew what holds."""
        await self._tell(desk, _NEWS)

    async def tell_all_news(self) -> None:
        """Let all pages ask anew what holds."""
        for desk in list(self._open):
            await self.tell_news(desk)

    async def _tell_others(
        self, desk: Desk, hand: Hand, heard: Heard, but: WebSocket | None = None
    ) -> None:
        told = {name: heard[name] for name in ("exercise", "turn", "saved", "steps")}
        by = {"by": hand.name} if hand.name else {}
        await self._tell(desk, json.dumps({**told, **by}), but)

    async def _tell(self, desk: Desk, told: str, but: WebSocket | None = None) -> None:
        for socket in list(self._open.get(desk, ())):
            if socket is not but:
                # A page that takes nothing, such as a laptop's that sleeps, keeps nobody waiting.
                with move_on_after(_PATIENCE_S), suppress(RuntimeError, WebSocketDisconnect):
                    await socket.send_text(told)
                    continue
                whose = self._open[desk].pop(socket, "")
                waking = asyncio.create_task(self._wakes(desk, socket, whose))
                self._waking.add(waking)
                waking.add_done_callback(self._waking.discard)

    async def _wakes(self, desk: Desk, socket: WebSocket, whose: str) -> None:
        """Once such a page takes messages again it asks for what it missed."""
        with suppress(RuntimeError, WebSocketDisconnect):
            await socket.send_text(_NEWS)
            there = socket.client_state is WebSocketState.CONNECTED
            if there and self._hand_of(socket, desk) is not None:
                self._open[desk][socket] = whose


async def _close(socket: WebSocket) -> None:
    """Close a page's socket, which may be closed already."""
    with suppress(RuntimeError, WebSocketDisconnect):
        await socket.close(NO_SEAT)


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


_TYPES: Final = {
    ".html": "text/html",
    ".js": "text/javascript",
    ".css": "text/css",
    ".svg": "image/svg+xml",
}


async def own(request: Request) -> Response:
    """A script or a style sheet of the page's own."""
    return file_of(request.path_params["name"])


async def word_picture(request: Request) -> Response:
    """The picture of a trade word."""
    return file_of(request.path_params["name"], PICTURES)


def file_of(name: str, folder: Path = _OWN) -> Response:
    """A page, script, sheet or picture of a host's `folder`, or one that all pages share."""
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
