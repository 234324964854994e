"""The web host on this machine, with one workbook at a time, and a page to look at it."""

from __future__ import annotations

import asyncio
import socket
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import uvicorn
from dealt import Desk as Dealt
from dealt import drawn_desk
from driving import Station
from playwright.sync_api import TimeoutError
from starlette.applications import Starlette
from starlette.requests import HTTPConnection, Request
from starlette.responses import JSONResponse, PlainTextResponse, Response
from starlette.routing import Route
from starlette.types import ASGIApp, Receive, Scope, Send

from labkit.exchange.task_file import read_task
from labkit.lab.draw import Scenario, draw
from labkit.lab.library import lab_library
from labkit.lab.reading import read_lab
from labkit.page.app import PageHost, WithHeaders
from labkit.page.desk import Desk
from labkit.page.sheet import sheet_of

LABS = sorted(file.parent.name for file in lab_library().glob("*/lab.md"))
# What the policy refuses is an error of the page.
WATCH = """addEventListener('securitypolicyviolation', (event) => {
  throw new Error(`refused: ${event.violatedDirective} ${event.sourceFile}:${event.lineNumber}`);
});"""


def scenario_of_lab(lab: str, seed: str = "page") -> Scenario:
    """Always the same draw of a lab."""
    return draw(read_lab(lab_library() / lab / "lab.md"), seed)


@dataclass
class LocalHost:
    """A running host. `desk` is the workbook that every page opens; None: none at all."""

    url: str
    desk: Desk | None = None
    sockets: bool = True
    """Whether a socket may be had; some ways to a host let none through."""
    answers: bool = True
    now: dict[str, Any] = field(default_factory=dict)
    """What whoever hosts says besides, such as whose workbook it is."""
    sends: set[Send] = field(default_factory=set)
    """Of the sockets that are open."""
    loop: asyncio.AbstractEventLoop | None = None
    pages: PageHost | None = None
    receipt: Response | None = None
    """What comes of handing in."""
    marks: dict[str, Any] | None = None
    """Results, once they are released."""

    async def desk_of(self, _: HTTPConnection) -> Desk | None:
        """The workbook of all connections."""
        return self.desk

    def now_of(self, _: HTTPConnection) -> dict[str, Any]:
        """What whoever hosts says besides."""
        return self.now

    def drop_sockets(self) -> None:
        """End every socket, as when a cable is pulled."""
        for send in list(self.sends):
            assert self.loop is not None
            asyncio.run_coroutine_threadsafe(_end(send), self.loop).result(60)

    @property
    def hand_in(self) -> Route:
        """Where a page hands in."""

        async def taken(_: Request) -> Response:
            assert self.receipt is not None
            return self.receipt

        return Route("/hand-in", taken, methods=["POST"])

    @property
    def released(self) -> Route:
        """Where a page asks for its marks."""

        async def marks(_: Request) -> Response:
            if self.marks is None:
                return PlainTextResponse("You handed nothing in for this lab.", 404)
            return JSONResponse(self.marks)

        return Route("/marks", marks)

    def sit_down(self, scenario: Scenario, folder: Path, *, practice: bool = True) -> Dealt:
        """Open a new workbook, its files in `folder`; what its trainee may not see."""
        dealt = drawn_desk(scenario, folder, practice=practice)
        self.open(dealt)
        return dealt

    def open(self, dealt: Dealt) -> None:
        """Open a workbook that was dealt."""
        sheet, lab = sheet_of(dealt.scenario), dealt.scenario.lab
        self.desk = Desk(read_task(dealt.task_file), dealt.task_file, sheet, lab=lab)


async def _end(send: Send) -> None:
    await send({"type": "websocket.close", "code": 1001})


class _Between:
    """What may stand between a page and its host: no sockets, or no answer at all."""

    def __init__(self, host: LocalHost, app: ASGIApp) -> None:
        self._host, self._app = host, app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] == "websocket" and not (self._host.sockets and self._host.answers):
            await receive()
            await send({"type": "websocket.close", "code": 1000})
            return
        if scope["type"] == "http" and not self._host.answers:
            await send({"type": "http.response.start", "status": 502, "headers": []})
            await send({"type": "http.response.body", "body": b""})
            return
        if scope["type"] != "websocket":
            await self._app(scope, receive, send)
            return
        self._host.loop = asyncio.get_running_loop()
        self._host.sends.add(send)
        try:
            await self._app(scope, receive, send)
        finally:
            self._host.sends.discard(send)


@contextmanager
def running_host() -> Iterator[LocalHost]:
    """A host on a free port of this machine."""
    with socket.socket() as place:
        place.bind(("127.0.0.1", 0))
        host = LocalHost(f"http://127.0.0.1:{place.getsockname()[1]}")
        pages = host.pages = PageHost(host.desk_of, host.now_of)
        app = _Between(
            host, WithHeaders(Starlette(routes=[*pages.routes, host.hand_in, host.released]))
        )
        server = uvicorn.Server(uvicorn.Config(app, log_level="error", timeout_graceful_shutdown=1))
        thread = threading.Thread(target=server.run, args=([place],), daemon=True)
        thread.start()
        while not server.started:
            time.sleep(0.02)
        yield host
        server.should_exit = True
        thread.join(timeout=10)


@dataclass
class PageStation(Station):
    """A trainee's browser at the web host: the exercise that is asked for is gone to first."""

    def exercise(self, name: str) -> Any:
        """The frame of one exercise, in focus."""
        self.go(name)
        return super().exercise(name)

    def go(self, name: str) -> None:
        """Press an exercise in the list, or its last place."""
        if self.page.locator(f'[data-place="{name}"] [aria-current]').count() == 0:
            self._press(self.page.locator(f'[data-place="{name}"] a'))
        self.page.locator(f'[data-place="{name}"] [aria-current]').wait_for(state="attached")

    def _press(self, link: Any) -> None:
        """A place in the list, which a page that has just become narrow folds in."""
        fold = self.page.locator(".pg-fold > summary")
        for _ in range(3):
            if fold.is_visible() and not self.page.locator(".pg-fold[open]").count():
                fold.click()
            try:
                link.click(timeout=5_000)
            except TimeoutError:
                continue
            return
        link.click()

    def state(self, name: str) -> str:
        """How the list says that an exercise stands."""
        return str(self.page.locator(f'[data-place="{name}"]').get_attribute("data-state"))
