"""How long a trainer waits for the marks of a large class on the board's page.

    uv run --frozen python tests/bench/bench_marks.py [--people N] [--labs ID ...] [--opened N]

Everybody hands in every lab, nine of ten exercises right and the others a known mistake where there
is one; the class is scored. Reported are, in a headless Chromium over loopback on the machine that
serves the page: how long until the first rows stand there and until all do, for the first time and
again; sorting and searching; then, by protocol, opening people and answers, so many of a hundred;
and how long it takes to look at what taking an exercise out would change.
"""

from __future__ import annotations

import argparse
import random
import re
import subprocess
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path
from time import monotonic, sleep
from typing import Any
from unittest.mock import patch

import httpx2
from rich.console import Console

sys.path += [str(Path(__file__).parents[1] / name) for name in ("room", "bench", "browser")]

from bench_marking import told
from serving import FLAGS, WHOLE, installed

from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.dealing.deal import deal
from labkit.classroom.dealing.deal_record import read_deal
from labkit.classroom.dealing.seeds import scenario_of
from labkit.classroom.dealt import Dealt
from labkit.classroom.exports.sheet import write_sheets
from labkit.classroom.marks.scoring import score
from labkit.doors.installed import check_for
from labkit.exchange.hand_in import pack
from labkit.exchange.journal import ANSWER, OPENED, Journal
from labkit.lab.library import lab_library

CONSOLE = Console(highlight=False)
PAINTED = "() => new Promise((done) => requestAnimationFrame(() => setTimeout(done)))"


def hand_in(folder: ClassFolder, item: Dealt, secret: str, lab: Any) -> None:
    """Answer everything, one of ten wrongly."""
    scenario = scenario_of(secret, folder.fields.id, lab, item)
    chance = random.Random(item.workbook)
    home = folder.workbooks / item.trainee
    journal = Journal(home / f"{item.lab}.answers.jsonl")
    journal.append(OPENED, lab=item.lab)
    for exercise in scenario.lab.exercises:
        prepared, check = scenario.prepare(exercise), check_for(exercise.kind)
        slips = list(check.slip_answers(prepared.ask, prepared.key).values())
        right = check.right_answer(prepared.ask, prepared.key)
        answer = slips[0] if slips and chance.random() < 0.1 else right
        journal.append(ANSWER, exercise=exercise.id, answer=answer)
    pack(home / f"{item.lab}.task.json", folder.hand_ins)


def made_class(path: Path, people: int, labs: list[str]) -> None:
    """A class that is dealt, handed in and scored."""
    path.mkdir()
    text = f"id: load\ntitle: Load\nlabs: [{', '.join(labs)}]\nmode: practice\npass_mark: 90\n"
    (path / "class.yaml").write_text(text, encoding="utf-8")
    roster = "".join(f"t{number:04},Person {number}\n" for number in range(people))
    (path / "roster.csv").write_text(f"id,name\n{roster}", encoding="utf-8")
    with patch("os.fsync"):
        deal(ClassFolder.open(path), lab_library(), jobs=-1)
        folder = ClassFolder.open(path)
        folder.hand_ins.mkdir(exist_ok=True)
        secret, texts = folder.secret(), {lab: folder.lab(lab, dealt=True) for lab in labs}
        for item in read_deal(folder).dealt:
            hand_in(folder, item, secret, texts[item.lab])
        write_sheets(score(folder, jobs=-1), folder.scores)


def in_browser(address: str, place: str) -> None:
    """The page as a trainer opens it."""
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        page = playwright.chromium.launch(executable_path=installed(WHOLE), args=FLAGS).new_page()
        page.set_default_timeout(300_000)
        page.goto(address)
        page.get_by_role("button", name="Go on").click()
        page.get_by_role("heading", name="Classes").wait_for()
        people = 0
        for time in ("for the first time", "again"):
            began = monotonic()
            page.goto(place)
            page.locator(".ms-table tbody tr").first.wait_for()
            first = monotonic() - began
            people = int(page.locator(".ms-count").inner_text().split()[0])
            page.locator(".ms-table tbody tr").nth(people - 1).wait_for(state="attached")
            whole = monotonic() - began
            CONSOLE.print(f"the table {time}: first rows {first:.2f} s, all {people} {whole:.2f} s")
        column = page.get_by_role("button", name="Whole class")
        find = page.get_by_label("Find a person")
        acts: dict[str, Callable[[], None]] = {
            "sorted by a column": column.click,
            "searched for one": lambda: find.fill("t0042"),
        }
        for what, does in acts.items():
            began = monotonic()
            does()
            page.evaluate(PAINTED)
            CONSOLE.print(f"{what}: {1000 * (monotonic() - began):.0f} ms until it is painted")


class Trainer:
    """A trainer by protocol."""

    def __init__(self, address: str, key: str) -> None:
        client = httpx2.Client(base_url=address, headers={"origin": address}, timeout=600)
        client.post("/sign-in", json={"key": key, "name": "Mira"}).raise_for_status()
        self._client = client

    def asks(self, part: str, **asked: str) -> tuple[Any, float]:
        began = monotonic()
        answer = self._client.get(f"/class/class/{part}", params=asked)
        answer.raise_for_status()
        return answer.json(), monotonic() - began

    def looks(self, **said: str) -> float:
        """How long a look at what would change takes."""
        began = monotonic()
        self._client.post("/class/class/marks/look", json=said).raise_for_status()
        while self.asks("work")[0]["work"]["going_on"]:
            sleep(0.2)
        wrong = self.asks("work")[0]["work"]["wrong"]
        assert wrong == [], wrong
        return monotonic() - began


def measure(address: str, key: str, opened: int) -> None:
    in_browser(f"{address}/#{key}", f"{address}/class/class/marks")
    trainer = Trainer(address, key)
    rows = trainer.asks("marks/table")[0]["rows"]
    chosen = random.Random(1).sample(rows, min(opened, len(rows)))
    people, answers = [], []
    for row in chosen:
        person, took = trainer.asks("marks/person", id=row["id"])
        people.append(took)
        lab = person["labs"][len(people) % len(person["labs"])]
        exercise = lab["exercises"][len(people) % len(lab["exercises"])]["exercise"]
        answers.append(trainer.asks("marks/answer", work=lab["work"], exercise=exercise)[1])
    told("a person opened", people)
    told("an answer opened", answers)
    took = trainer.asks("marks/came-in")[1]
    CONSOLE.print(f"what came in since, for the first time: {took:.1f} s")
    took = trainer.looks(act="void", lab=lab["lab"], exercise=exercise)
    CONSOLE.print(f"a look at what taking an exercise out would change: {took:.0f} s")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--people", type=int, default=1000)
    parser.add_argument("--opened", type=int, default=200)
    labs = ["plan-the-trunk", "addresses-and-rates", "network-power"]
    parser.add_argument("--labs", nargs="+", default=labs)
    chosen = parser.parse_args()
    with tempfile.TemporaryDirectory() as made:
        began = monotonic()
        made_class(Path(made) / "class", chosen.people, chosen.labs)
        took = monotonic() - began
        CONSOLE.print(f"{chosen.people} people, {len(chosen.labs)} labs, in {took:.0f} s")
        command = [sys.executable, "-m", "labkit", "board", made, "--no-browser", "--port", "8679"]
        board = subprocess.Popen(command, stdout=subprocess.PIPE, text=True)
        try:
            line = board.stdout.readline() if board.stdout else ""
            said = re.search(r"(http://[\d.:]+)/#(\S+)", line)
            assert said
            measure(said[1], said[2], chosen.opened)
        finally:
            board.terminate()


if __name__ == "__main__":
    main()
