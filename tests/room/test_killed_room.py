"""The room is killed while a class works: what was confirmed is there, and everybody is back."""

from __future__ import annotations

import asyncio
import random
from typing import Any

from by_protocol import Server, Trainee, run_apart
from tiny_class import MakeRoom

from labkit.exchange.journal import Journal, records
from labkit.room.room import Room

KILLS = 6


def _answers(seed: str, count: int) -> list[tuple[str, Any, float]]:
    chance = random.Random(seed)
    return [("double", f"{chance.randrange(10**6)} m", chance.random() / 10) for _ in range(count)]


async def _worked(server: Server, trainees: list[Trainee], class_folder: Any) -> Server:
    for trainee in trainees:
        await trainee.join()
    working = [asyncio.create_task(one.work(_answers(one.code, 60))) for one in trainees]
    chance = random.Random("kills")
    for _ in range(KILLS):
        await asyncio.sleep(0.2 + chance.random())
        server.kill()
        server = await asyncio.to_thread(Server, class_folder, server.port)
    await asyncio.gather(*working)
    return server


def test_nothing_that_was_confirmed_is_lost(make_class: MakeRoom) -> None:
    made = make_class()
    room = Room(made.folder)
    server = Server(made.path)
    trainees = [Trainee(server.address, code, "tiny") for code in room.on_cards.values()]
    try:
        server = run_apart(_worked(server, trainees, made.path))
        shown = [run_apart(one.opened())["exercises"]["double"]["saved"] for one in trainees]
    finally:
        server.kill()
    for trainee, saved in zip(trainees, shown, strict=True):
        whose = room.trainee_of(trainee.code)
        journal = Journal(made.folder.journals / str(whose) / "tiny.answers.jsonl").read()
        record = records(journal.entries)["double"]
        assert saved["answer"] == trainee.confirmed["double"] == record.answer
        # Every answer once, however often it was sent; a line that a kill tore is no answer.
        assert record.tries == 60
        assert len(trainee.waits) == 60
    assert sum(len(trainee.back) for trainee in trainees) >= KILLS
