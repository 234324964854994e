"""How long a trainer waits for a mark to be saved, in a large class and while others work.

    uv run --frozen python tests/bench/bench_marking.py [--people N] [--at-work N]
        [--marks N] [--lab ID]

Everybody hands in as from a stick, but for those at work, who come by protocol and give an answer
every two seconds on average. The list is asked for, which marks all that came in; then one trainer
opens an answer, gives its marks and goes on to the next. Reported are the waits, of so many of a
hundred, over loopback on the machine that serves them. "Saved" is on the disk.
"""

from __future__ import annotations

import argparse
import asyncio
import json
import sys
import tempfile
import threading
from pathlib import Path
from statistics import quantiles
from time import monotonic
from typing import Any
from unittest.mock import patch

import httpx2
from rich.console import Console

sys.path += [str(Path(__file__).parents[1] / name) for name in ("room", "bench")]

from bench_room import answers_of, made_class
from by_protocol import Server, Trainee

from labkit.classroom.class_folder import ClassFolder
from labkit.doors.installed import check_for
from labkit.exchange.hand_in import pack
from labkit.exchange.journal import ANSWER, OPENED, Journal
from labkit.room.room import Room

CONSOLE = Console(highlight=False)


def hand_in(folder: ClassFolder, room: Room, trainee: str, lab: str) -> None:
    """Answer everything rightly; a text is the author's own."""
    scenario = room.workbooks.scenario(room.workbooks.items[trainee, lab])
    home = folder.path / "workbooks" / trainee
    journal = Journal(home / f"{lab}.answers.jsonl")
    journal.append(OPENED, lab=lab)
    for exercise in scenario.lab.exercises:
        prepared, check = scenario.prepare(exercise), check_for(exercise.kind)
        right = check.right_answer(prepared.ask, prepared.key_as_needed)
        journal.append(ANSWER, exercise=exercise.id, answer=right)
    folder.hand_ins.mkdir(exist_ok=True)
    pack(home / f"{lab}.task.json", folder.hand_ins)


class AtWork(threading.Thread):
    """Trainees who answer meanwhile."""

    def __init__(self, server: Server, folder: ClassFolder, lab: str, people: list[str]) -> None:
        super().__init__(daemon=True)
        room = Room(folder)
        self._trainees = [Trainee(server.address, room.on_cards[who], lab) for who in people]
        self._answers = [answers_of(room, who, lab) for who in people]

    def run(self) -> None:
        async def work() -> None:
            for trainee in self._trainees:
                await trainee.join()
            pairs = zip(self._trainees, self._answers, strict=True)
            await asyncio.gather(*(trainee.work(answers) for trainee, answers in pairs))

        asyncio.run(work())

    @property
    def waits(self) -> list[float]:
        """What they waited for "saved"."""
        return [wait for trainee in self._trainees for wait in trainee.waits]


class Marker:
    """A trainer by protocol."""

    def __init__(self, server: Server) -> None:
        headers = {"origin": server.address}
        self._client = httpx2.Client(base_url=server.address, headers=headers, timeout=600)
        said = json.dumps({"key": server.key, "name": "Mira"})
        self._client.post("/trainer/sign-in", content=said).raise_for_status()
        self.waits: dict[str, list[float]] = {}

    def _timed(self, what: str, path: str, said: object = None, **asked: str) -> Any:
        began = monotonic()
        if said is None:
            answer = self._client.get(path, params=asked)
        else:
            answer = self._client.post(path, content=json.dumps(said))
        answer.raise_for_status()
        self.waits.setdefault(what, []).append(monotonic() - began)
        return answer.json()

    def listed(self, what: str) -> Any:
        """The exercises that wait."""
        return self._timed(what, "/trainer/marking/list")

    def marks(self, lab: str, exercise: str, number: int) -> None:
        """Mark so many answers of one exercise, one after the other."""
        where = {"lab": lab, "exercise": exercise}
        found = self._timed("an exercise opened", "/trainer/marking/exercise", **where)
        for one in found["works"][:number]:
            asked = {"work": one["work"], "exercise": exercise}
            seen = self._timed("an answer opened", "/trainer/marking/answer", **asked)
            shares = {item["id"]: 1 for item in seen["rubric"]} or {"all": 1}
            about = {name: seen[name] for name in ("work", "exercise", "digest", "last")}
            said = {**about, "shares": shares}
            heard = self._timed("a mark saved", "/trainer/marking/give", said)
            assert "saved" in heard, heard

    def sees(self) -> None:
        """The people of the sign-offs."""
        self._timed("the sign-offs' people", "/trainer/sign-offs/people")


def told(what: str, waits: list[float]) -> None:
    """One line of figures, in ms."""
    if len(waits) < 2:
        CONSOLE.print(f"{what}: {1000 * waits[0]:.0f} ms")
        return
    parts = quantiles(waits, n=100, method="inclusive")
    figures = [1000 * parts[at] for at in (49, 94, 98)]
    longest = 1000 * max(waits)
    CONSOLE.print(
        f"{what}, {len(waits)}: p50, p95, p99, longest "
        f"{', '.join(f'{one:.0f}' for one in (*figures, longest))} ms"
    )


def measure(folder: ClassFolder, working: list[str], lab: str, marks: int) -> None:
    """Hold the class, and mark in it."""
    server = Server(folder.path)
    try:
        at_work = AtWork(server, folder, lab, working)
        mira = Marker(server)
        listed = mira.listed("the list for the first time: all is marked by calculation")
        for _ in range(5):
            mira.listed("the list")
        if working:
            at_work.start()
        waits = [one for each in listed["labs"] for one in each["exercises"] if one["waiting"]]
        for one in waits:
            mira.marks(lab, one["exercise"], marks // len(waits))
        mira.sees()
        for what, times in mira.waits.items():
            told(what, times)
        if at_work.waits:
            told('trainees, from an answer to "saved" meanwhile', at_work.waits)
    finally:
        server.kill()


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--people", type=int, default=1000)
    parser.add_argument("--at-work", type=int, default=40)
    parser.add_argument("--marks", type=int, default=200)
    parser.add_argument("--lab", default="network-power")
    chosen = parser.parse_args()
    with tempfile.TemporaryDirectory() as made:
        began = monotonic()
        folder = made_class(Path(made) / "class", chosen.people, chosen.lab)
        room = Room(folder)
        people = list(room.people)
        working, done = people[: chosen.at_work], people[chosen.at_work :]
        # Only the room's own waiting for the disk is measured.
        with patch("os.fsync"):
            for trainee in done:
                hand_in(folder, room, trainee, chosen.lab)
        CONSOLE.print(
            f"{len(done)} hand-ins, {len(working)} at work, in {monotonic() - began:.0f} s"
        )
        measure(folder, working, chosen.lab, chosen.marks)


if __name__ == "__main__":
    main()
