"""A class at work in the room: how long from an answer to "saved", and what a kill costs.

    uv run --frozen python tests/bench/bench_room.py [--trainees N] [--lab ID]
        [--kills N] [--taken-over N] [--minutes N] [--browsers N]

Trainees come by protocol, over loopback, all on this machine, which also serves them. Each gives
wrong and right answers to every exercise of the lab and measures at its benches, something every
two seconds on average. Reported are the waits (so many of a hundred are shorter), the processor
time and memory of the room, and whether anything that was confirmed is lost, or done twice, when
the room is killed at random moments: opened again on the same machine, or taken over from the copy
on the second disk. Besides, real browsers answer one after the other without a pause; the lab must
begin with a field for text.
"""

from __future__ import annotations

import argparse
import asyncio
import json
import random
import sys
import tempfile
import threading
from collections.abc import Sequence
from pathlib import Path
from statistics import quantiles
from time import monotonic
from typing import Any

import psutil
from rich.console import Console

sys.path += [str(Path(__file__).parents[1] / name) for name in ("room", "browser")]

from by_protocol import Server, Step, Trainee
from playwright.sync_api import sync_playwright
from serving import FLAGS, WHOLE, installed

from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.dealing.deal import deal
from labkit.doors.installed import check_for
from labkit.exchange.journal import ExerciseRecord, Journal, records
from labkit.lab.library import lab_library
from labkit.room.room import Room

CONSOLE = Console(highlight=False)
PAUSE_S = 4.0
"""At most, and at least nothing."""
ROUNDS = 2
PIECE = 8
"""Answers that somebody gives before they look whether all is over."""
KILL, TAKEN_OVER = "killed", "taken over"
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


class Held:
    """The room of a class, with a second disk where it is to be taken over."""

    def __init__(self, place: Path, *, second: bool) -> None:
        self._place, self._second, self._number = place, second, 0
        self.server = Server(place / "class", 0, *self._next())

    @property
    def folder(self) -> Path:
        """Where the class is held now."""
        return self._place / "class"

    def _stick(self) -> Path:
        return self._place.parent / f"stick-{self._number}"

    def _next(self) -> list[Path]:
        if not self._second:
            return []
        self._stick().mkdir(exist_ok=True)
        return [self._stick()]

    def fails(self, how: str) -> None:
        """The machine dies; the class goes on, on it or from the copy."""
        self.server.kill()
        if how == TAKEN_OVER:
            self._place = self._stick()
            self._number += 1
        self.server = Server(self.folder, self.server.port, *self._next())


class InBrowsers(threading.Thread):
    """Real pages, each answers the first exercise again and again, until it is `over`."""

    def __init__(self, address: str, codes: Sequence[str], lab: str) -> None:
        super().__init__()
        self.ready, self.over = threading.Event(), threading.Event()
        self.waits: list[float] = []
        """Seconds from each answer to "saved"."""
        self.given = 0
        """By each of them; the last one was "given m"."""
        self.lab = lab
        self._address, self._codes = address, codes

    def run(self) -> None:
        """Work, in this thread alone: the driver of browsers wants it so."""
        with sync_playwright() as driver:
            browser = driver.chromium.launch(executable_path=installed(WHOLE), args=FLAGS)
            pages = [self._joined(browser.new_context().new_page(), code) for code in self._codes]
            self.ready.set()
            while pages and not self.over.is_set():
                self._round(pages)
            browser.close()

    def _joined(self, page: Any, code: str) -> Any:
        page.set_default_timeout(60_000)
        page.goto(f"{self._address}/#{code}")
        page.get_by_role("button", name="Join").click()
        page.get_by_role("link", name="Begin").click()
        page.get_by_label("Your answer").wait_for()
        return page

    def _round(self, pages: list[Any]) -> None:
        self.given += 1
        began = []
        for page in pages:
            field = page.get_by_label("Your answer")
            field.fill(f"{self.given} m")
            field.press("Enter")
            began.append(monotonic())
        for page, since in zip(pages, began, strict=True):
            page.locator('.lk-exercise[data-state="saved"]').wait_for()
            self.waits.append(monotonic() - since)


async def at_work(
    held: Held,
    trainees: list[Trainee],
    todo: dict[str, list[Any]],
    failures: list[str],
    minutes: float,
    browsers: InBrowsers,
) -> list[str]:
    """Everybody joins, then works, until the room failed so often or so long; what befell it."""
    for trainee in trainees:
        await trainee.join()
    browsers.start()
    await asyncio.to_thread(browsers.ready.wait, 120)
    over = asyncio.Event()
    working = asyncio.gather(*(until(over, one, todo[one.code]) for one in trainees))
    chance, until_then, done = random.Random("failures"), monotonic() + 60 * minutes, 0
    for failure in failures:
        if monotonic() > until_then:
            break
        await asyncio.sleep(0.3 + 1.5 * chance.random())
        await asyncio.to_thread(held.fails, failure)
        while any(one.away for one in trainees):
            await asyncio.sleep(0.1)
        done += 1
    over.set()
    await working
    browsers.over.set()
    await asyncio.to_thread(browsers.join)
    return failures[:done]


async def until(over: asyncio.Event, one: Trainee, todo: list[Any]) -> None:
    """Do all of it at least once, and go on until it is over."""
    begun = False
    while not (begun and over.is_set()):
        for at in range(0, len(todo), PIECE):
            await one.work(todo[at : at + PIECE])
            if begun and over.is_set():
                return
        begun = True


def main() -> None:
    asked = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    asked.add_argument("--trainees", type=int, default=40)
    asked.add_argument("--kills", type=int, default=0)
    asked.add_argument("--taken-over", type=int, default=0)
    asked.add_argument("--minutes", type=float, default=30)
    asked.add_argument("--browsers", type=int, default=0)
    asked.add_argument("--lab", default="plan-the-trunk")
    wanted = asked.parse_args()
    failures = wanted.kills * [KILL] + wanted.taken_over * [TAKEN_OVER]
    random.Random("failures").shuffle(failures)
    with tempfile.TemporaryDirectory() as place:
        first = Path(place) / "machine"
        first.mkdir()
        people = wanted.trainees + wanted.browsers
        room = Room(made_class(first / "class", people, wanted.lab))
        codes = list(room.on_cards.values())
        todo = {
            code: answers_of(room, trainee, wanted.lab) for trainee, code in room.on_cards.items()
        }
        held = Held(first, second=wanted.taken_over > 0)
        address = held.server.address
        trainees = [Trainee(address, code, wanted.lab) for code in codes[: wanted.trainees]]
        browsers = InBrowsers(address, codes[wanted.trainees :], wanted.lab)
        try:
            working = at_work(held, trainees, todo, failures, wanted.minutes, browsers)
            failures = asyncio.run(working)
            process = psutil.Process(held.server.pid)
            used, memory = process.cpu_times(), process.memory_info().rss / 1e6
            playing = [(each.cpu_times(), each.memory_info().rss) for each in process.children()]
        finally:
            held.server.kill()
        tell_waits(trainees, used.user + used.system, memory)
        for spent, size in playing:
            CONSOLE.print(
                f"a process that plays: {spent.user + spent.system:.0f} s of processor and "
                f"{size / 1e6:.0f} MB"
            )
        tell_failures(room, ClassFolder.open(held.folder), trainees, browsers, failures)


def tell_waits(trainees: list[Trainee], used: float, memory: float) -> None:
    """What those by protocol waited for."""
    waits = sorted(1000 * wait for one in trainees for wait in one.waits)
    cuts = quantiles(waits, n=100)
    CONSOLE.print(
        f"{len(trainees)} trainees, {len(waits)} answers: from an answer to 'saved' "
        f"p50 {cuts[49]:.0f} ms, p95 {cuts[94]:.0f} ms, p99 {cuts[98]:.0f} ms, "
        f"longest {waits[-1]:.0f} ms; the room used {used:.0f} s of "
        f"processor and {memory:.0f} MB"
    )
    plays = sorted(wait for one in trainees for wait in one.plays)
    if plays:
        CONSOLE.print(
            f"{len(plays)} steps at benches: p50 {quantiles(plays, n=100)[49]:.2f} s, p95 "
            f"{quantiles(plays, n=100)[94]:.2f} s, longest {plays[-1]:.2f} s"
        )


def tell_failures(
    room: Room,
    folder: ClassFolder,
    trainees: list[Trainee],
    browsers: InBrowsers,
    failures: list[str],
) -> None:
    """What it cost that the room failed."""
    lost = twice = 0
    for one in trainees:
        found = kept_of(folder, str(room.trainee_of(one.code)), one.lab)
        lost += sum(
            json.dumps(found[exercise].answer, sort_keys=True) != json.dumps(answer, sort_keys=True)
            for exercise, answer in one.confirmed.items()
        )
        twice += abs(sum(record.tries for record in found.values()) - len(one.waits))
    if failures:
        back = sorted(wait for one in trainees for wait in one.back)
        cuts = quantiles(back, n=100)
        CONSOLE.print(
            f"{failures.count(KILL)} times killed, {failures.count(TAKEN_OVER)} times taken over: "
            f"{lost} confirmed answers lost, {twice} done twice; back after p50 {cuts[49]:.1f} s, "
            f"p95 {cuts[94]:.1f} s, longest {back[-1]:.1f} s"
        )
    if browsers.waits:
        codes = [code for code in room.on_cards.values() if code not in {t.code for t in trainees}]
        kept = [kept_of(folder, str(room.trainee_of(code)), browsers.lab) for code in codes]
        records_of_first = [next(iter(each.values())) for each in kept]
        wrong = sum(
            record.answer != f"{browsers.given} m" or record.tries != browsers.given
            for record in records_of_first
        )
        cuts = quantiles(browsers.waits, n=100)
        CONSOLE.print(
            f"{len(codes)} browsers, {len(browsers.waits)} answers, {wrong} of them with another "
            f"journal than their page: from an answer to 'saved' p50 {cuts[49]:.2f} s, "
            f"p95 {cuts[94]:.2f} s, longest {max(browsers.waits):.2f} s"
        )


def kept_of(folder: ClassFolder, trainee: str, lab: str) -> dict[str, ExerciseRecord]:
    """What the journal holds of one person."""
    return records(Journal(folder.journals / trainee / f"{lab}.answers.jsonl").read().entries)


if __name__ == "__main__":
    main()
