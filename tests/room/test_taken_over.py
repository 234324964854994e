"""A machine dies while a class works, and another one holds the copy on the second disk."""

from __future__ import annotations

import asyncio
import random
import shutil
from pathlib import Path
from time import monotonic

from by_protocol import Server, Trainee, run_apart
from tiny_class import MakeRoom

from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.marks.scoring import score
from labkit.exchange.journal import Journal, records
from labkit.room.room import Room

TAKEN_OVER = 4
ANSWERS = 40
SECONDS_TO_BE_BACK = 60.0
"""The trainer types one command meanwhile; the rest of two minutes is theirs."""


def _answers(seed: str) -> list[tuple[str, str, float]]:
    chance = random.Random(seed)
    return [("double", f"{chance.randrange(10**6)} m", chance.random() / 5) for _ in range(ANSWERS)]


async def _worked(server: Server, trainees: list[Trainee], places: list[Path]) -> Server:
    """Each place is a stick; the room on it goes on with the next one as its second disk."""
    for trainee in trainees:
        await trainee.join()
    await trainees[0].hand_in()
    working = [asyncio.create_task(one.work(_answers(one.code))) for one in trainees]
    chance = random.Random("machines")
    for here, second in zip(places, [*([place] for place in places[1:]), []], strict=True):
        await asyncio.sleep(0.5 + chance.random())
        server.kill()
        server = await asyncio.to_thread(Server, here / "class", server.port, *second)
        began = monotonic()
        while any(one.away for one in trainees):
            assert monotonic() - began < SECONDS_TO_BE_BACK
            await asyncio.sleep(0.05)
    await asyncio.gather(*working)
    return server


def test_no_confirmed_answer_is_lost_and_everybody_is_back(
    make_class: MakeRoom, tmp_path: Path
) -> None:
    made = make_class()
    places = [tmp_path / f"stick-{number}" for number in range(TAKEN_OVER)]
    for place in places:
        place.mkdir()
    on_cards = Room(made.folder).on_cards
    server = Server(made.path, 0, places[0])
    trainees = [Trainee(server.address, code, "tiny") for code in on_cards.values()]
    try:
        server = run_apart(_worked(server, trainees, places))
        shown = [run_apart(one.opened()) for one in trainees]
    finally:
        server.kill()
    copy = ClassFolder.open(places[-1] / "class")
    room = Room(copy)
    assert room.on_cards == on_cards
    for trainee, opened in zip(trainees, shown, strict=True):
        given = [answer for _, answer, _ in _answers(trainee.code)]
        assert opened["exercises"]["double"]["saved"]["answer"] == given[-1]
        whose = room.trainee_of(trainee.code)
        journal = Journal(copy.journals / str(whose) / "tiny.answers.jsonl").read()
        # Every answer, once, in its order.
        assert list(records(journal.entries)["double"].answers) == given
    # What was handed in at the first machine.
    first = room.workbooks.items[str(room.trainee_of(trainees[0].code)), "tiny"]
    assert room.receipt(first) is not None
    assert any((copy.path / "receipts").iterdir())


def test_a_copy_gives_the_same_marks_and_results(make_class: MakeRoom, tmp_path: Path) -> None:
    made, stick = make_class(), tmp_path / "stick"
    stick.mkdir()
    for trainee in ("ann", "ben"):
        in_own_words = {**made.right(trainee), "double": "1 m"} if trainee == "ben" else None
        made.hand_in(trainee, in_own_words)
    expected = [(one.dealt.workbook, one.share) for one in score(made.folder).results]
    server = Server(made.path, 0, stick)
    server.kill()
    # The first machine's disk is not there any more.
    shutil.rmtree(made.path)
    copy = ClassFolder.open(stick / "class")
    assert [(one.dealt.workbook, one.share) for one in score(copy).results] == expected
