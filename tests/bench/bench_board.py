"""The board asked for every two seconds while a class works: how long that takes.

    uv run --frozen python tests/bench/bench_board.py [--people N] [--live N] [--seconds N]
        [--lab ID]

Of a class of that many some are live, by protocol, over loopback, and answer something every two
seconds on average; three trainers' pages ask for `/trainer/now`. Reported are the waits of the
pages, those from an answer to "saved", and what an answer of the board weighs.
"""

from __future__ import annotations

import argparse
import asyncio
import json
import sys
import tempfile
from dataclasses import dataclass, field
from pathlib import Path
from statistics import quantiles
from time import monotonic

import httpx2
import psutil
from rich.console import Console

sys.path += [str(Path(__file__).parents[1] / "room"), str(Path(__file__).parent)]

from bench_room import answers_of, made_class, until
from by_protocol import Server, Trainee

from labkit.room.room import Room

CONSOLE = Console(highlight=False)
PAGES = 3
EVERY_S = 2.0


@dataclass
class Page:
    """A trainer's page: what it waited for, and the bytes of the last answer."""

    waits: list[float] = field(default_factory=list)
    size: int = 0


async def looks(server: Server, over: asyncio.Event, page: Page) -> None:
    """Sign in, then look again and again."""
    origin = {"origin": server.address}
    async with httpx2.AsyncClient(base_url=server.address, timeout=60) as client:
        said = json.dumps({"key": server.key, "name": "Mira"})
        signed = await client.post("/trainer/sign-in", content=said, headers=origin)
        signed.raise_for_status()
        cookie = {"cookie": "; ".join(f"{name}={value}" for name, value in signed.cookies.items())}
        while not over.is_set():
            began = monotonic()
            answer = await client.get("/trainer/now", headers=cookie)
            page.waits.append(monotonic() - began)
            answer.raise_for_status()
            page.size = len(answer.content)
            await asyncio.sleep(EVERY_S)


async def at_work(server: Server, room: Room, wanted: argparse.Namespace) -> None:
    """The live ones work while the board is looked at."""
    live = list(room.on_cards.items())[: wanted.live]
    trainees = [Trainee(server.address, code, wanted.lab) for _, code in live]
    todo = [answers_of(room, trainee, wanted.lab) for trainee, _ in live]
    for one in trainees:
        await one.join()
    over, pages = asyncio.Event(), [Page() for _ in range(PAGES)]
    working = [until(over, one, each) for one, each in zip(trainees, todo, strict=True)]
    going_on = asyncio.gather(*(looks(server, over, page) for page in pages), *working)
    await asyncio.sleep(wanted.seconds)
    over.set()
    await going_on
    tell("the board", [wait for page in pages for wait in page.waits])
    tell("from an answer to 'saved'", [wait for one in trainees for wait in one.waits])
    process = psutil.Process(server.pid)
    used, memory = process.cpu_times(), process.memory_info().rss / 1e6
    CONSOLE.print(
        f"an answer of the board: {pages[0].size / 1000:.0f} kB; the room used "
        f"{used.user + used.system:.0f} s of processor and {memory:.0f} MB"
    )


def tell(what: str, waits: list[float]) -> None:
    """How long that took."""
    cuts = [1000 * cut for cut in quantiles(waits, n=100)]
    CONSOLE.print(
        f"{what}: {len(waits)} times, p50 {cuts[49]:.0f} ms, p95 {cuts[94]:.0f} ms, "
        f"longest {1000 * max(waits):.0f} ms"
    )


def main() -> None:
    asked = argparse.ArgumentParser(description=str(__doc__).splitlines()[0])
    asked.add_argument("--people", type=int, default=1000)
    asked.add_argument("--live", type=int, default=40)
    asked.add_argument("--seconds", type=float, default=60)
    asked.add_argument("--lab", default="plan-the-trunk")
    wanted = asked.parse_args()
    with tempfile.TemporaryDirectory() as place:
        room = Room(made_class(Path(place) / "class", wanted.people, wanted.lab))
        server = Server(Path(place) / "class")
        try:
            asyncio.run(at_work(server, room, wanted))
        finally:
            server.kill()


if __name__ == "__main__":
    main()
