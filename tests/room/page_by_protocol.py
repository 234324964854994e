"""A page without a browser: it keeps, sends again, and hears as the real one does, only sooner."""

from __future__ import annotations

import asyncio
import json
from contextlib import suppress
from typing import Any, Final

import httpx2
from websockets.asyncio.client import ClientConnection, connect
from websockets.exceptions import ConnectionClosed, InvalidHandshake

AGAIN_AFTER_S: Final = (0.3, 0.4, 0.6, 1.0)
_LOST: Final = (ConnectionClosed, InvalidHandshake, OSError, httpx2.HTTPError, TimeoutError)


class Page:
    """One window of somebody who joined; `name` tells its messages from those of others."""

    def __init__(self, address: str, lab: str, name: str, cookies: dict[str, str]) -> None:
        self.saved: dict[str, Any] = {}
        self.confirmed: list[tuple[str, str]] = []
        """Exercise and token of what the page heard to be saved."""
        self.given: list[dict[str, Any]] = []
        self.failed: list[str] = []
        self._place, self._name = f"{address}/lab/{lab}", name
        told = "; ".join(f"{cookie}={value}" for cookie, value in cookies.items())
        self._headers = {"origin": address, "cookie": told}
        self._client = httpx2.AsyncClient(timeout=2, headers=self._headers, trust_env=False)
        self._turns: dict[str, tuple[str, int]] = {}
        self._waiting: dict[str, dict[str, Any]] = {}
        self._insisting: dict[str, asyncio.Task[None]] = {}
        self._socket: ClientConnection | None = None
        self._unanswered: set[str] = set()
        self._looking = asyncio.Lock()
        self._sent = 0
        self._open = asyncio.ensure_future(self._stay())

    def waits(self, exercise: str) -> bool:
        """Whether something was given there that is not confirmed."""
        return exercise in self._waiting

    def give(self, exercise: str, do: str = "answer", **what: Any) -> None:
        """Keep something, in place of what still waits there."""
        self._sent += 1
        message = {"do": do, "token": f"{self._name}-{exercise}.{self._sent}", **what}
        self.given.append({"exercise": exercise, **message})
        self._waiting[exercise] = message
        if before := self._insisting.pop(exercise, None):
            before.cancel()
        self._insisting[exercise] = asyncio.ensure_future(self._insist(exercise, message))

    async def settled(self) -> None:
        """Wait until nothing waits, then ask for the truth as a page does that connects anew."""
        while self._waiting:
            await asyncio.sleep(0.05)
        while not await self.look():
            await asyncio.sleep(0.1)

    async def close(self) -> None:
        """Close the window."""
        for task in (self._open, *self._insisting.values()):
            task.cancel()
            with suppress(asyncio.CancelledError):
                await task
        await self._client.aclose()

    async def look(self) -> bool:
        """Ask for the workbook; whether it came."""
        async with self._looking:
            try:
                answer = await self._client.get(f"{self._place}/desk")
                answer.raise_for_status()
            except _LOST:
                return False
        opened = answer.json()
        for exercise, now in opened["exercises"].items():
            self._takes(exercise, opened["turn"], now["saved"])
        return True

    async def _stay(self) -> None:
        while True:
            with suppress(*_LOST):
                place = f"{self._place.replace('http', 'ws')}/talk"
                headers = self._headers
                async with connect(
                    place, additional_headers=headers, open_timeout=2, proxy=None
                ) as socket:
                    self._socket, self._unanswered = socket, set()
                    await self.look()
                    async for text in socket:
                        await self._hear(json.loads(text))
            self._socket = None
            await asyncio.sleep(0.2)

    async def _insist(self, exercise: str, message: dict[str, Any]) -> None:
        tries = 0
        while self._waiting.get(exercise) is message:
            with suppress(*_LOST):
                await self._say({"exercise": exercise, "message": message})
            await asyncio.sleep(AGAIN_AFTER_S[min(tries, len(AGAIN_AFTER_S) - 1)])
            tries += 1

    async def _say(self, said: dict[str, Any]) -> None:
        token = said["message"]["token"]
        if self._socket and token not in self._unanswered:
            self._unanswered.add(token)
            await self._socket.send(json.dumps(said))
            return
        if self._socket:
            closing = asyncio.ensure_future(self._socket.close())
            closing.add_done_callback(lambda _: None)
        answer = await self._client.post(f"{self._place}/say", content=json.dumps(said))
        if answer.status_code == 200:
            await self._hear(answer.json())

    async def _hear(self, heard: dict[str, Any]) -> None:
        if heard.get("news"):
            await self.look()
            return
        exercise, reply = heard["exercise"], heard.get("reply") or {}
        self._takes(exercise, heard["turn"], heard["saved"])
        self._unanswered.discard(reply.get("token", ""))
        waiting = self._waiting.get(exercise)
        if waiting is None or reply.get("token") != waiting["token"] or reply.get("again"):
            return
        del self._waiting[exercise]
        if reply.get("saved"):
            self.confirmed.append((exercise, reply["token"]))
        else:
            self.failed.append(reply["failed"])

    def _takes(self, exercise: str, turn: list[Any], saved: Any) -> None:
        opening, number = turn
        known = self._turns.get(exercise)
        if known and known[0] == opening and number < known[1]:
            return
        self._turns[exercise] = (opening, number)
        self.saved[exercise] = saved
