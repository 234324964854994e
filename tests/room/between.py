"""What may stand between a page and its room: messages lost, late, doubled, out of order, cut."""

from __future__ import annotations

import asyncio
import random
import socket
import threading
import time
from collections.abc import Awaitable, Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from typing import Any, Final

import httpx2
import uvicorn
from starlette.types import Message, Receive, Scope, Send
from websockets.asyncio.client import ClientConnection, connect
from websockets.exceptions import ConnectionClosed, InvalidHandshake

_NOT_PASSED_ON: Final = {b"connection", b"transfer-encoding", b"content-length", b"date", b"server"}
_HANGS_S: Final = 3.0
_FROZEN_S: Final = 1.0


@dataclass
class Ills:
    """How likely each of them is, a message; `late_s` is the longest delay."""

    lost: float = 0.0
    doubled: float = 0.0
    late: float = 0.0
    late_s: float = 0.0
    cut: float = 0.0
    frozen: float = 0.0


class Between:
    """Passes all on to the room at a port, ill as `ills` says. `sockets` says if one may be had."""

    def __init__(self, room: int, seed: str = "", ills: Ills | None = None) -> None:
        self.ills, self.sockets = ills or Ills(), True
        self.address = ""
        self._room, self._chance = room, random.Random(seed)
        self._client = httpx2.AsyncClient(timeout=30, trust_env=False)
        self._later: set[asyncio.Task[None]] = set()
        self._generation = 0

    def calm(self) -> None:
        """From now on all passes."""
        self.ills = Ills()

    def deafen(self) -> None:
        """What is connected now stays so, and nothing passes there any more."""
        self._generation += 1

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """As an application of the server in whose place it stands."""
        if scope["type"] == "http":
            await self._request(scope, receive, send)
        elif scope["type"] == "websocket":
            await self._socket(scope, receive, send)

    def _is(self, chance: float) -> bool:
        return self._chance.random() < chance

    async def _pause(self) -> None:
        if self._is(self.ills.late):
            await asyncio.sleep(self._chance.random() * self.ills.late_s)

    # Plain requests

    async def _request(self, scope: Scope, receive: Receive, send: Send) -> None:
        body, more = b"", True
        while more:
            part = await receive()
            body, more = body + part.get("body", b""), part.get("more_body", False)
        await self._pause()
        if self._is(self.ills.lost):
            await self._swallowed(send)
            return
        try:
            twice = [self._asked(scope, body) for _ in range(1 + self._is(self.ills.doubled))]
            answer, *_ = await asyncio.gather(*twice)
        except httpx2.HTTPError:
            await _answer(send, 502, [], b"")
            return
        await self._pause()
        if self._is(self.ills.lost):
            await self._swallowed(send)
            return
        headers = [each for each in answer.headers.raw if each[0].lower() not in _NOT_PASSED_ON]
        await _answer(send, answer.status_code, headers, answer.content)

    async def _swallowed(self, send: Send) -> None:
        if self._is(0.3):
            await asyncio.sleep(_HANGS_S)
        await _answer(send, 502, [], b"<html>")

    async def _asked(self, scope: Scope, body: bytes) -> httpx2.Response:
        query = f"?{scope['query_string'].decode()}" if scope["query_string"] else ""
        place = f"http://127.0.0.1:{self._room}{scope['raw_path'].decode()}{query}"
        headers = [each for each in scope["headers"] if each[0] not in _NOT_PASSED_ON]
        return await self._client.request(
            scope["method"], place, content=body, headers=headers, follow_redirects=False
        )

    # Sockets

    async def _socket(self, scope: Scope, receive: Receive, send: Send) -> None:
        await receive()
        told = {name.decode(): value.decode() for name, value in scope["headers"]}
        kept = {name: told[name] for name in ("cookie",) if name in told}
        try:
            if not self.sockets:
                raise OSError
            place = f"ws://{told['host']}{scope['path']}"
            # At the room's port, under the name by which the page knows it.
            there = await connect(
                place,
                host="127.0.0.1",
                port=self._room,
                origin=told.get("origin"),
                additional_headers=kept,
                proxy=None,
                open_timeout=5,
            )
        except (OSError, InvalidHandshake, ConnectionClosed, TimeoutError):
            await send({"type": "websocket.close", "code": 1000})
            return
        await send({"type": "websocket.accept"})
        await self._passed(there, receive, send)

    async def _passed(self, there: ClientConnection, receive: Receive, send: Send) -> None:
        born = self._generation

        async def to_page(text: str) -> None:
            await send({"type": "websocket.send", "text": text})

        async def up() -> None:
            while (message := await receive())["type"] == "websocket.receive":
                await self._pass(message["text"], there.send, born)

        async def down() -> None:
            async for text in there:
                await self._pass(str(text), to_page, born)

        ways = [asyncio.ensure_future(up()), asyncio.ensure_future(down())]
        await asyncio.wait(ways, return_when=asyncio.FIRST_COMPLETED)
        deaf = self._generation != born
        if deaf and ways[1].done() and not ways[0].done():
            await asyncio.wait(ways)
        for way in ways:
            way.cancel()
        await there.close()
        with suppress(RuntimeError):
            await send({"type": "websocket.close", "code": there.close_code or 1006})

    async def _pass(self, text: str, on: Callable[[str], Awaitable[None]], born: int) -> None:
        if self._generation != born or self._is(self.ills.lost):
            return
        if self._is(self.ills.cut):
            raise ConnectionResetError
        if self._is(self.ills.frozen):
            await asyncio.sleep(_FROZEN_S)
        for _ in range(1 + self._is(self.ills.doubled)):
            # Each on its own: they pass each other.
            task = asyncio.ensure_future(self._on_its_way(text, on))
            self._later.add(task)
            task.add_done_callback(self._later.discard)

    async def _on_its_way(self, text: str, on: Callable[[str], Awaitable[None]]) -> None:
        await self._pause()
        with suppress(ConnectionClosed, RuntimeError, OSError):
            await on(text)


async def _answer(send: Send, status: int, headers: list[Any], body: bytes) -> None:
    start: Message = {"type": "http.response.start", "status": status, "headers": headers}
    with suppress(RuntimeError, OSError):
        await send(start)
        await send({"type": "http.response.body", "body": body})


@contextmanager
def standing(between: Between) -> Iterator[Between]:
    """It stands at a free port of this machine, with a loop of its own."""
    with socket.socket() as place:
        place.bind(("127.0.0.1", 0))
        between.address = f"http://127.0.0.1:{place.getsockname()[1]}"
        config = uvicorn.Config(
            between,
            log_level="critical",
            lifespan="off",
            proxy_headers=False,
            timeout_graceful_shutdown=1,
        )
        server = uvicorn.Server(config)
        thread = threading.Thread(target=server.run, args=([place],), daemon=True)
        thread.start()
        while not server.started:
            time.sleep(0.02)
        yield between
        server.should_exit = True
        thread.join(timeout=10)
