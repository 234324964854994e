"""The web host of exercises: pages for any browser, without a notebook and without a class.

Whose workbook a request is for is decided by whoever hosts (`desk_of`). Acts wait for the disk, so
they are done in threads; the event loop never does. Nothing is fetched from elsewhere, and no
script or style stands within a page.
"""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Awaitable, Callable
from hashlib import sha256
from pathlib import Path
from typing import Any, Final

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.datastructures import MutableHeaders
from starlette.requests import HTTPConnection, Request
from starlette.responses import JSONResponse, PlainTextResponse, Response
from starlette.routing import Route, WebSocketRoute
from starlette.types import ASGIApp, Message, Receive, Scope, Send
from starlette.websockets import WebSocket, WebSocketDisconnect

from labkit.front_end.page_modules import SHARED, joined, sheets
from labkit.page.desk import Desk

DeskOf = Callable[[HTTPConnection], Awaitable[Desk | None]]
"""The workbook that a connection may work in; None where it may not in any."""

LONGEST: Final = 256 * 1024
"""Bytes of one message of a page."""
POLICY: Final = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; "
    "connect-src 'self'; base-uri 'none'; form-action 'self'; frame-ancestors 'none'"
)
_OWN: Final = Path(__file__).resolve().parent
_ALWAYS: Final = {
    "content-security-policy": POLICY,
    "x-content-type-options": "nosniff",
    "referrer-policy": "no-referrer",
}
_NO_DESK: Final = "This page has no workbook here: join the class again."


def page_app(desk_of: DeskOf) -> ASGIApp:
    """The application that serves the workbooks that `desk_of` finds."""
    host = _Host(desk_of)
    routes = [
        Route("/", host.page),
        Route("/desk", host.desk),
        Route("/say", host.say, methods=["POST"]),
        Route("/own/{name}", host.own),
        Route("/kinds/{kind}.js", host.module),
        Route("/kinds/{kind}.css", host.sheet),
        WebSocketRoute("/talk", host.talk),
    ]
    return _WithHeaders(Starlette(routes=routes))


class _WithHeaders:
    """What every answer says of itself."""

    def __init__(self, app: ASGIApp) -> None:
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        async def saying(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                headers.setdefault("cache-control", "no-store")
                for name, value in _ALWAYS.items():
                    headers[name] = value
            await send(message)

        await self._app(scope, receive, saying if scope["type"] == "http" else send)


class _Host:
    def __init__(self, desk_of: DeskOf) -> None:
        self._desk_of = desk_of
        self._open: defaultdict[Desk, set[WebSocket]] = defaultdict(set)

    async def page(self, _: Request) -> Response:
        return _file("page.html")

    async def own(self, request: Request) -> Response:
        return _file(request.path_params["name"])

    async def desk(self, request: Request) -> Response:
        desk = await self._desk_of(request)
        if desk is None:
            return _refused()
        return JSONResponse(await run_in_threadpool(desk.opened))

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
        if desk is None or not _of_this_page(request):
            return _refused()
        if int(request.headers.get("content-length") or LONGEST + 1) > LONGEST:
            return PlainTextResponse("That is too long for an answer.", 413)
        said = _json(await request.body())
        heard = await run_in_threadpool(desk.hear, said)
        if heard is None:
            return PlainTextResponse("That is no message of this page.", 400)
        await self._tell_others(desk, heard)
        return JSONResponse(heard)

    async def talk(self, socket: WebSocket) -> None:
        """One page's messages in, and what all pages of the workbook are told."""
        desk = await self._desk_of(socket)
        if desk is None or not _of_this_page(socket):
            await socket.close(4403)
            return
        await socket.accept()
        self._open[desk].add(socket)
        try:
            while True:
                heard = await run_in_threadpool(desk.hear, _json(await socket.receive_text()))
                if heard is not None:
                    await socket.send_text(json.dumps(heard))
                    await self._tell_others(desk, heard, socket)
        except WebSocketDisconnect:
            pass
        finally:
            self._open[desk].discard(socket)
            if not self._open[desk]:
                del self._open[desk]

    async def _tell_others(self, desk: Desk, heard: Any, but: WebSocket | None = None) -> None:
        told = json.dumps({"exercise": heard["exercise"], "saved": heard["saved"]})
        for socket in list(self._open.get(desk, ())):
            if socket is not but:
                try:
                    await socket.send_text(told)
                except (RuntimeError, WebSocketDisconnect):
                    self._open[desk].discard(socket)


def _of_this_page(asked: HTTPConnection) -> bool:
    """Whether the page that asks came from here: its browser says so, whatever the page wants."""
    origin = asked.headers.get("origin", "")
    return origin.partition("://")[2] == asked.headers.get("host", "")


def _json(text: str | bytes) -> Any:
    try:
        return json.loads(text)
    except (ValueError, RecursionError):
        return None


def _refused() -> Response:
    return PlainTextResponse(_NO_DESK, 403)


_TYPES: Final = {".html": "text/html", ".js": "text/javascript", ".css": "text/css"}


def _file(name: str) -> Response:
    files = {file.name: file for at in (SHARED, _OWN) for file in at.iterdir()}
    files = {name: file for name, file in files.items() if file.suffix in _TYPES}
    if name not in files:
        return PlainTextResponse("There is nothing here.", 404)
    return Response(files[name].read_bytes(), media_type=_TYPES[files[name].suffix])


def _with_tag(request: Request, text: str, media_type: str) -> Response:
    """A text that a browser keeps until it is another."""
    tag = f'"{sha256(text.encode()).hexdigest()[:20]}"'
    headers = {"etag": tag, "cache-control": "no-cache"}
    if request.headers.get("if-none-match") == tag:
        return Response(status_code=304, headers=headers)
    return Response(text, media_type=media_type, headers=headers)
