"""A class at work by the room's protocol alone, and the room in a process of its own.

A trainee here does what a page does: sends an answer again, with the same token, until it hears
that it is saved; goes on by its cookie when the room comes back.
"""

from __future__ import annotations

import asyncio
import json
import signal
import subprocess
import sys
from collections.abc import Coroutine, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from pathlib import Path
from time import monotonic
from typing import Any, Final, TypeVar

import httpx2
from websockets.asyncio.client import ClientConnection, connect
from websockets.exceptions import ConnectionClosed, InvalidHandshake

_SERVER: Final = """
import sys
from pathlib import Path
from labkit.classroom.class_folder import ClassFolder
from labkit.room.certificate import Certificate
from labkit.room.hosting import host
def said(opened):
    print(opened.address, opened.trainers_address.partition("#")[2], flush=True)
folder, told = ClassFolder.open(Path(sys.argv[1])), [Path(word) for word in sys.argv[3:]]
more = {"second": told[0]} if len(told) == 1 else {}
more |= {"certificate": Certificate.read(*told)} if len(told) == 2 else {}
host(folder, "127.0.0.1", int(sys.argv[2]), said, browser=False, **more)
"""
AGAIN_AFTER_S: Final = 3.0
_LOST = (ConnectionClosed, InvalidHandshake, OSError, httpx2.TransportError, TimeoutError)

_T = TypeVar("_T")


def run_apart(work: Coroutine[Any, Any, _T]) -> _T:
    """Run to the end in a thread: in this one the loop of a browser's driver may be running."""
    with ThreadPoolExecutor(1) as one:
        return one.submit(asyncio.run, work).result()


class Server:
    """A room that is open in a process of its own, until it is killed."""

    def __init__(self, class_folder: Path, port: int = 0, *told: Path) -> None:
        """`told` is the second disk, or a certificate and its key."""
        self._process = subprocess.Popen(
            [sys.executable, "-c", _SERVER, str(class_folder), str(port), *map(str, told)],
            stdout=subprocess.PIPE,
            text=True,
        )
        assert self._process.stdout
        words = self._process.stdout.readline().split()
        assert len(words) == 2, "the room did not open"
        self.address, self.key = words
        self.port = int(self.address.rpartition(":")[2])

    @property
    def pid(self) -> int:
        """The process of the room."""
        return self._process.pid

    def end(self) -> None:
        """End it as a trainer does, with Ctrl+C."""
        self._process.send_signal(signal.SIGINT)
        self._process.wait(timeout=120)

    def kill(self) -> None:
        """End it at once, as a power cut does."""
        self._process.kill()
        self._process.wait()


@dataclass(frozen=True)
class Step:
    """Something that is done at a bench, as JSON."""

    did: dict[str, Any]


@dataclass
class Trainee:
    """One person of the class and what they were told is saved."""

    address: str
    code: str
    lab: str
    confirmed: dict[str, Any] = field(default_factory=dict)
    waits: list[float] = field(default_factory=list)
    """Seconds from an answer to "saved", in their order."""
    plays: list[float] = field(default_factory=list)
    """Seconds from a step at a bench to its reading."""
    back: list[float] = field(default_factory=list)
    """Seconds from a lost connection to the next one."""
    away: bool = False
    _cookies: dict[str, str] = field(default_factory=dict)
    _sent: int = 0

    @property
    def _headers(self) -> dict[str, str]:
        cookies = "; ".join(f"{name}={value}" for name, value in self._cookies.items())
        return {"origin": self.address, **({"cookie": cookies} if cookies else {})}

    async def join(self) -> None:
        """Join by the code, and open the workbook's page."""
        async with httpx2.AsyncClient(base_url=self.address, timeout=60) as client:
            said = json.dumps({"code": self.code, "take": True})
            answer = await client.post("/join", content=said, headers=self._headers)
            answer.raise_for_status()
            self._cookies |= dict(answer.cookies.items())
            (await client.get(f"/lab/{self.lab}/desk", headers=self._headers)).raise_for_status()

    async def hand_in(self) -> None:
        """Hand the workbook in."""
        async with httpx2.AsyncClient(base_url=self.address, timeout=60) as client:
            answer = await client.post(f"/lab/{self.lab}/hand-in", json={}, headers=self._headers)
            answer.raise_for_status()

    async def opened(self) -> dict[str, Any]:
        """The workbook as a page gets it."""
        async with httpx2.AsyncClient(base_url=self.address, timeout=60) as client:
            answer = await client.get(f"/lab/{self.lab}/desk", headers=self._headers)
            answer.raise_for_status()
            opened: dict[str, Any] = answer.json()
            return opened

    async def shown(self, exercise: str) -> dict[str, Any]:
        """What an exercise shows now."""
        async with httpx2.AsyncClient(base_url=self.address, timeout=60) as client:
            place = f"/lab/{self.lab}/shown/{exercise}"
            answer = await client.get(place, headers=self._headers)
            answer.raise_for_status()
            shown: dict[str, Any] = answer.json()
            return shown

    async def work(self, answers: Sequence[tuple[str, Any, float]]) -> None:
        """Give answers, or take a `Step`, each after so many seconds, until all are confirmed."""
        todo = list(answers)
        lost: float | None = None
        while todo:
            try:
                place = f"{self.address.replace('http', 'ws')}/lab/{self.lab}/talk"
                async with connect(
                    place, additional_headers=self._headers, open_timeout=5
                ) as socket:
                    if lost is not None:
                        self.back.append(monotonic() - lost)
                        lost = None
                        self.away = False
                    while todo:
                        exercise, answer, pause = todo[0]
                        await asyncio.sleep(pause)
                        # Who is cut off now knows already what to say.
                        todo[0] = (exercise, answer, 0.0)
                        await self._say(socket, exercise, answer)
                        todo.pop(0)
            except _LOST:
                lost = monotonic() if lost is None else lost
                self.away = True
                await asyncio.sleep(0.3)

    async def _say(self, socket: ClientConnection, exercise: str, answer: Any) -> None:
        token = f"{self.code}-{self._sent}"
        message: dict[str, Any] = {"do": "answer", "token": token, "answer": answer}
        if isinstance(answer, Step):
            message = {"do": "step", "token": token, "step": answer.did}
        said = json.dumps({"exercise": exercise, "message": message})
        began = monotonic()
        await socket.send(said)
        while True:
            async with asyncio.timeout(AGAIN_AFTER_S):
                heard = json.loads(await socket.recv())
            reply = heard.get("reply") or {}
            if reply.get("token") == token and reply.get("saved"):
                break
        if isinstance(answer, Step):
            self.plays.append(monotonic() - began)
        else:
            self.waits.append(monotonic() - began)
            self.confirmed[exercise] = answer
        self._sent += 1
