"""A page that takes nothing for a while keeps nobody waiting, and is told when it wakes."""

from __future__ import annotations

import asyncio
import json
import sys
from pathlib import Path
from typing import Any

import pytest
from desks import desk_of, said, scenario
from starlette.applications import Starlette

from labkit.page import app as app_module
from labkit.page.app import PageHost
from labkit.page.desk import Desk

sys.path.append(str(Path(__file__).parents[1] / "room"))
from by_protocol import run_apart


class Socket:
    """A page's socket, as the server hands it to the host."""

    def __init__(self, app: Any) -> None:
        self.told: asyncio.Queue[Any] = asyncio.Queue()
        self.takes = asyncio.Event()
        self.takes.set()
        self._says: asyncio.Queue[Any] = asyncio.Queue()
        self._says.put_nowait({"type": "websocket.connect"})
        scope = {
            "type": "websocket",
            "path": "/talk",
            "headers": [(b"host", b"here"), (b"origin", b"http://here")],
            "query_string": b"",
            "scheme": "ws",
        }
        self._served = asyncio.ensure_future(app(scope, self._says.get, self._send))

    async def _send(self, message: Any) -> None:
        await self.takes.wait()
        self.told.put_nowait(message)

    async def hears(self) -> Any:
        """The next message to the page."""
        async with asyncio.timeout(10):
            message = await self.told.get()
        return json.loads(message["text"]) if "text" in message else message["type"]

    def says(self, message: object) -> None:
        self._says.put_nowait({"type": "websocket.receive", "text": json.dumps(message)})

    async def goes(self) -> None:
        self._says.put_nowait({"type": "websocket.disconnect", "code": 1001})
        await self._served


@pytest.mark.parametrize("wakes", [True, False])
def test_it_is_told_to_look_when_it_wakes(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, wakes: bool
) -> None:
    monkeypatch.setattr(app_module, "_PATIENCE_S", 0.1)
    desk = desk_of(scenario("bring-up"), tmp_path)
    first = next(iter(desk.opened()["exercises"]))

    async def lived() -> None:
        async def desk_of_all(_: object) -> Desk:
            return desk

        pages = PageHost(desk_of_all)
        app = Starlette(routes=pages.routes)
        frozen, other = Socket(app), Socket(app)
        assert [await frozen.hears(), await other.hears()] == 2 * ["websocket.accept"]
        frozen.takes.clear()
        for token in ("t1", "t2"):
            other.says(said(first, "answer", token, answer="1 m"))
            assert (await other.hears())["reply"]["saved"]
        await asyncio.sleep(0.3)
        assert pages.pages_of(desk, "") == 1
        if not wakes:
            await frozen.goes()
        frozen.takes.set()
        if wakes:
            assert await frozen.hears() == {"news": True}
            other.says(said(first, "answer", "t3", answer="3 m"))
            assert (await frozen.hears())["saved"]["answer"] == "3 m"
            await frozen.goes()
        await asyncio.sleep(0.1)
        assert pages.pages_of(desk, "") == 1
        await other.goes()
        assert pages.pages_of(desk, "") == 0

    run_apart(lived())
