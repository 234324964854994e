"""Messages lost, late, doubled, out of order, a room that is killed, a disk that is full.

What was confirmed is on disk, once, each page's in its order; and every page ends with the truth.
"""

from __future__ import annotations

import asyncio
import random
from typing import Any

import httpx2
from between import Between, Ills, standing
from by_protocol import Server, run_apart
from full_disk import FullDisk
from page_by_protocol import Page
from tiny_class import MakeRoom
from tiny_class import Room as Class

from labkit.exchange.journal import ANSWER, HINT, Journal, records
from labkit.room.room import Room

ILLS = Ills(lost=0.08, doubled=0.15, late=0.5, late_s=0.8, cut=0.03, frozen=0.03)
GIVEN = 25
WINDOWS = ("ann", "ann", "ben")
SETTLED_S = 120.0


async def seat(address: str, code: str) -> dict[str, str]:
    """Join straight at the room; the cookie holds for every way to it."""
    async with httpx2.AsyncClient(base_url=address, trust_env=False) as client:
        said = {"code": code, "take": True}
        answer = await client.post("/join", json=said, headers={"origin": address})
        answer.raise_for_status()
        return dict(answer.cookies.items())


async def at_work(page: Page, name: str) -> None:
    """Somebody in a hurry: other answers before the first is saved, now and then a hint."""
    chance = random.Random(name)
    for number in range(GIVEN):
        exercise = chance.choice(["double", "double", "plan"])
        if exercise == "double" and chance.random() < 0.1:
            page.give(exercise, "hint")
        elif exercise == "double":
            page.give(exercise, answer=f"{number} m")
        else:
            page.give(exercise, answer={"pump": str(number)})
        if chance.random() < 0.5:
            await asyncio.sleep(chance.random() * 0.6)
        while chance.random() < 0.5 and page.waits(exercise):
            await asyncio.sleep(0.1)


async def lived(server: Server, between: Between, codes: dict[str, str], kill: Any) -> list[Page]:
    """Everybody works, meanwhile something befalls the room; then all calms down."""
    seats = {who: await seat(server.address, codes[who]) for who in set(WINDOWS)}
    names = [f"{who}{number}" for number, who in enumerate(WINDOWS)]
    pages = [
        Page(between.address, "tiny", name, seats[who])
        for name, who in zip(names, WINDOWS, strict=True)
    ]
    working = asyncio.gather(*map(at_work, pages, names))
    await asyncio.sleep(2)
    await asyncio.to_thread(kill)
    await working
    between.calm()
    try:
        async with asyncio.timeout(SETTLED_S):
            await asyncio.gather(*(page.settled() for page in pages))
            # Without sockets nobody is told what another window saved since it looked.
            await asyncio.gather(*(page.settled() for page in pages))
    finally:
        await asyncio.gather(*(page.close() for page in pages))
    return pages


def require_truth(made: Class, pages: list[Page]) -> None:
    for who in set(WINDOWS):
        journal = Journal(made.folder.journals / who / "tiny.answers.jsonl").read()
        found = records(journal.entries)
        mine = [page for page, whose in zip(pages, WINDOWS, strict=True) if whose == who]
        kept = [e for e in journal.entries if e["event"] in (ANSWER, HINT)]
        tokens = [entry["token"] for entry in kept]
        assert len(set(tokens)) == len(tokens), "something was done twice"
        given = {each["token"]: each for page in mine for each in page.given}
        for entry in kept:
            assert entry.get("answer") == given[entry["token"]].get("answer")
        for page in mine:
            assert page.failed == []
            # How many depends on how long it was away: who gives another answer meanwhile
            # waits for that one.
            assert page.confirmed
            assert {token for _, token in page.confirmed} <= set(tokens)
            for exercise, record in found.items():
                # The last that the page was told of, and nothing that it gave before came later.
                order = [int(t.partition(".")[2]) for t in tokens if t in of(page, exercise)]
                assert order == sorted(order)
                assert page.saved[exercise]["answer"] == record.answer
                assert len(page.saved[exercise]["hints"]) == min(2, record.hints)
                assert of(page, exercise)[-1] in tokens
        for exercise, record in found.items():
            numbers = [e for e in kept if e["exercise"] == exercise and e["event"] == ANSWER]
            assert record.tries == len(numbers)


def of(page: Page, exercise: str) -> list[str]:
    """The tokens of what a page gave to an exercise."""
    return [each["token"] for each in page.given if each["exercise"] == exercise]


def test_a_room_that_is_killed_behind_a_bad_way(make_class: MakeRoom) -> None:
    made = make_class()
    codes = Room(made.folder).on_cards
    servers = [Server(made.path)]
    between = Between(servers[0].port, "way", ILLS)

    def kill() -> None:
        servers[-1].kill()
        servers.append(Server(made.path, servers[0].port))

    try:
        with standing(between):
            pages = run_apart(lived(servers[0], between, codes, kill))
    finally:
        servers[-1].kill()
    require_truth(made, pages)


def test_a_disk_that_is_full_for_a_while_behind_a_way_without_sockets(
    make_class: MakeRoom,
) -> None:
    made = make_class()
    server = Server(made.path)
    between = Between(server.port, "disk", ILLS)
    between.sockets = False
    full: list[bytes] = []

    def fill() -> None:
        async def some_seconds() -> None:
            await asyncio.sleep(2)

        journal = made.folder.journals / "ann" / "tiny.answers.jsonl"
        with FullDisk(server.pid):
            full.append(journal.read_bytes())
            run_apart(some_seconds())
            full.append(journal.read_bytes())

    try:
        with standing(between):
            codes = Room(made.folder).on_cards
            pages = run_apart(lived(server, between, codes, fill))
    finally:
        server.kill()
    assert full[0] == full[1], "something was kept, or a part of it"
    require_truth(made, pages)
    journal = Journal(made.folder.journals / "ann" / "tiny.answers.jsonl").read()
    assert journal.unreadable == 0
