"""A class at work in the room: how long from an answer to "saved", and what a kill costs.

    uv run --frozen python tests/bench/bench_room.py [--trainees N] [--kills N] [--lab ID]

Trainees come by protocol, over loopback, all on this machine, which also serves them. Each gives
wrong and right answers to every exercise of the lab and measures at its benches, something every
two seconds on average. Reported are the waits (so many of a hundred are shorter), the processor
time and memory of the room, and with kills whether anything that was confirmed is lost.
"""

from __future__ import annotations

import argparse
import asyncio
import json
import random
import sys
import tempfile
from pathlib import Path
from statistics import quantiles
from typing import Any

import psutil
from rich.console import Console

sys.path.append(str(Path(__file__).parents[1] / "room"))

from by_protocol import Server, Step, Trainee

from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.dealing.deal import deal
from labkit.doors.installed import check_for
from labkit.exchange.journal import Journal, records
from labkit.lab.library import lab_library
from labkit.room.room import Room

PAUSE_S = 4.0
"""At most, and at least nothing."""
ROUNDS = 2
AT_A_BENCH = ("power on", "indicators", "power off")
"""What is done at each bench, round after round: the reading needs some seconds of bus."""


def made_class(folder: Path, people: int, lab: str) -> ClassFolder:
    """A practice class of that many, dealt."""
    folder.mkdir()
    (folder / "class.yaml").write_text(
        f"id: load\ntitle: Load\nlabs: [{lab}]\nmode: practice\n", encoding="utf-8"
    )
    roster = "".join(f"t{number:03},Person {number}\n" for number in range(people))
    (folder / "roster.csv").write_text(f"id,name\n{roster}", encoding="utf-8")
    made = ClassFolder.open(folder)
    deal(made, lab_library(), jobs=-1)
    return ClassFolder.open(folder)


def answers_of(room: Room, trainee: str, lab: str) -> list[tuple[str, Any, float]]:
    """What one person answers: a known mistake first where there is one, then what is right."""
    chance = random.Random(trainee)
    item = room.workbooks.items[trainee, lab]
    scenario = room.workbooks.scenario(item)
    found: list[tuple[str, Any, float]] = []
    for _ in range(ROUNDS):
        for exercise in scenario.lab.exercises:
            prepared, check = scenario.prepare(exercise), check_for(exercise.kind)
            slips = list(check.slip_answers(prepared.ask, prepared.key).values())
            right = check.right_answer(prepared.ask, prepared.key)
            steps = [Step({"kind": kind}) for kind in AT_A_BENCH]
            benches = steps if exercise.kind == "diagnosis" else []
            for answer in (*benches, *slips[:1], right):
                found.append((exercise.id, answer, chance.random() * PAUSE_S))
    return found


async def at_work(
    server: Server, trainees: list[Trainee], todo: dict[str, list[Any]], folder: Path, kills: int
) -> Server:
    """Everybody joins, then works; the room is killed meanwhile."""
    for trainee in trainees:
        await trainee.join()
    working = asyncio.gather(*(one.work(todo[one.code]) for one in trainees))
    chance = random.Random("kills")
    for _ in range(kills):
        await asyncio.sleep(1 + 2 * chance.random())
        server.kill()
        server = await asyncio.to_thread(Server, folder, server.port)
        while any(one.away for one in trainees):
            await asyncio.sleep(0.1)
    await working
    return server


def main() -> None:
    asked = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    asked.add_argument("--trainees", type=int, default=40)
    asked.add_argument("--kills", type=int, default=0)
    asked.add_argument("--lab", default="plan-the-trunk")
    wanted = asked.parse_args()
    console = Console(highlight=False)
    with tempfile.TemporaryDirectory() as place:
        folder = made_class(Path(place) / "class", wanted.trainees, wanted.lab)
        room = Room(folder)
        todo = {
            code: answers_of(room, trainee, wanted.lab) for trainee, code in room.on_cards.items()
        }
        server = Server(folder.path)
        trainees = [Trainee(server.address, code, wanted.lab) for code in todo]
        try:
            server = asyncio.run(at_work(server, trainees, todo, folder.path, wanted.kills))
            process = psutil.Process(server.pid)
            used, memory = process.cpu_times(), process.memory_info().rss / 1e6
            playing = [(each.cpu_times(), each.memory_info().rss) for each in process.children()]
        finally:
            server.kill()
        waits = sorted(1000 * wait for one in trainees for wait in one.waits)
        cuts = quantiles(waits, n=100)
        console.print(
            f"{wanted.trainees} trainees, {len(waits)} answers: from an answer to 'saved' "
            f"p50 {cuts[49]:.0f} ms, p95 {cuts[94]:.0f} ms, p99 {cuts[98]:.0f} ms, "
            f"longest {waits[-1]:.0f} ms; the room used {used.user + used.system:.0f} s of "
            f"processor and {memory:.0f} MB"
        )
        for spent, held in playing:
            console.print(
                f"a process that plays: {spent.user + spent.system:.0f} s of processor and "
                f"{held / 1e6:.0f} MB"
            )
        plays = sorted(wait for one in trainees for wait in one.plays)
        if plays:
            console.print(
                f"{len(plays)} steps at benches: p50 {quantiles(plays, n=100)[49]:.2f} s, p95 "
                f"{quantiles(plays, n=100)[94]:.2f} s, longest {plays[-1]:.2f} s"
            )
        if wanted.kills:
            back = sorted(wait for one in trainees for wait in one.back)
            lost = sum(
                lost_answers(folder, str(room.trainee_of(one.code)), one) for one in trainees
            )
            console.print(
                f"killed {wanted.kills} times: {lost} confirmed answers lost; back after "
                f"p50 {quantiles(back, n=100)[49]:.1f} s, longest {back[-1]:.1f} s"
            )


def lost_answers(folder: ClassFolder, trainee: str, one: Trainee) -> int:
    """Of one person, exercises whose last confirmed answer is not the journal's."""
    journal = Journal(folder.journals / trainee / f"{one.lab}.answers.jsonl").read()
    found = records(journal.entries)
    return sum(
        json.dumps(found[exercise].answer, sort_keys=True) != json.dumps(answer, sort_keys=True)
        for exercise, answer in one.confirmed.items()
    )


if __name__ == "__main__":
    main()
