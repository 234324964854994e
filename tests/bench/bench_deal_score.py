"""How fast a class is dealt and scored, against honest yardsticks, all in one run.

    uv run python tests/bench/bench_deal_score.py [--sizes 250 500 1000]

Dealing is compared with writing the very same bytes into as many files (goal: within 3 times).
Scoring a hand-in (read, verify, draw again, mark) is compared with executing one of these workbooks
with nbclient, which is what a grader that runs notebooks has to do (goal: 5,000 times faster).
Ratios count, not seconds: both sides of each are timed in this run, on this machine.
"""

from __future__ import annotations

import argparse
import os
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TypeVar

import nbformat
from nbclient import NotebookClient
from rich.console import Console
from rich.progress import Progress
from rich.table import Table

from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.dealing.deal import deal
from labkit.classroom.dealing.seeds import scenario_of
from labkit.classroom.dealt import Deal
from labkit.classroom.exports.sheet import write_sheets
from labkit.classroom.handins.demo import LAB, _plan, _right_answer, _slip_answer
from labkit.classroom.marks.scoring import score
from labkit.classroom.pages.reports import write_pages
from labkit.exchange import hand_in, journal
from labkit.lab.definition import Lab
from labkit.lab.library import lab_library
from labkit.language.stream import Stream

T = TypeVar("T")

DEAL_GOAL = 3.0
SCORE_GOAL = 5000.0
REPEATS = 3
"""Other people's work on the machine only ever adds time: the best of some is nearest the truth."""
HELP_RUNS = 7


@dataclass
class Timed:
    """Seconds of one class of `size` trainees."""

    size: int
    deal: float
    write: float
    score: float
    pages: float
    sheet: float


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--sizes", type=int, nargs="+", default=[250, 500, 1000])
    parser.add_argument("--notebooks", type=int, default=REPEATS, help="how many to execute")
    arguments = parser.parse_args()
    console = Console()
    with tempfile.TemporaryDirectory() as name, Progress(console=console) as progress:
        root = Path(name)
        task = progress.add_task("classes", total=len(arguments.sizes))
        timed = []
        for size in arguments.sizes:
            timed.append(_class(root / str(size), size, progress))
            progress.advance(task)
        first = next((root / str(arguments.sizes[0]) / "workbooks").iterdir())
        execute = _executed(first / f"{LAB}.ipynb", arguments.notebooks, progress)
        start_up = _start_up(progress)
    _print(console, timed, execute, start_up)


def _class(path: Path, size: int, progress: Progress) -> Timed:
    path.mkdir()
    (path / "class.yaml").write_text(f"id: c\ntitle: C\nlabs: [{LAB}]\nmode: practice\n")
    rows = "".join(f"t{number:05},Trainee {number}\n" for number in range(size))
    (path / "roster.csv").write_text(f"id,name\n{rows}")
    folder = ClassFolder.open(path)
    folder.trainees  # noqa: B018  (read before the clock runs, as is the lab)
    folder.lab(LAB, lab_library())
    task = progress.add_task(f"  deal {size}", total=size)
    step = lambda done, _: progress.update(task, completed=done)  # noqa: E731
    dealt, deal_seconds = _seconds(lambda: deal(folder, lab_library(), step))
    for _ in range(REPEATS - 1):
        shutil.rmtree(folder.workbooks)
        folder.deal_file.unlink()
        dealt, seconds = _seconds(lambda: deal(folder, lab_library(), step))
        deal_seconds = min(deal_seconds, seconds)
    write_seconds = min(_same_bytes(folder.workbooks, path / "again") for _ in range(REPEATS))
    _play(folder, dealt.deal, folder.lab(LAB), progress)
    task = progress.add_task(f"  score {size}", total=size)
    found = []
    for _ in range(REPEATS):
        # From fresh records: what is marked already is not marked again, and would cost nothing.
        (path / "records.sqlite").unlink(missing_ok=True)
        found.append(_seconds(lambda: score(folder, step)))
    scoring, score_seconds = found[0][0], min(seconds for _, seconds in found)
    if any(not result.counts for result in scoring.results) or scoring.notices:
        raise SystemExit("the bench's own hand-ins were not all scored")
    _, page_seconds = _seconds(lambda: write_pages(folder, scoring))
    _, sheet_seconds = _seconds(lambda: write_sheets(scoring, folder.scores))
    return Timed(size, deal_seconds, write_seconds, score_seconds, page_seconds, sheet_seconds)


def _seconds(work: Callable[[], T]) -> tuple[T, float]:
    start = time.perf_counter()
    value = work()
    return value, time.perf_counter() - start


def _same_bytes(workbooks: Path, target: Path) -> float:
    """Seconds to make the same folders and files from bytes that are in memory already."""
    files = [
        (target / file.relative_to(workbooks), file.read_bytes())
        for file in sorted(workbooks.rglob("*"))
        if file.is_file()
    ]

    def write() -> None:
        for file, data in files:
            file.parent.mkdir(parents=True, exist_ok=True)
            file.write_bytes(data)

    _, seconds = _seconds(write)
    shutil.rmtree(target)
    return seconds


def _play(folder: ClassFolder, record: Deal, lab: Lab, progress: Progress) -> None:
    """Answer every workbook: six right, three slips, the rest blank, in a drawn order."""
    folder.hand_ins.mkdir()
    secret = folder.secret()
    task = progress.add_task(f"  play {len(record.dealt)}", total=len(record.dealt))
    sync = os.fsync
    os.fsync = lambda fd: None  # noqa: ARG005  # the played trainees' disks are not what is timed
    try:
        for item in record.dealt:
            scenario = scenario_of(secret, folder.fields.id, lab, item)
            home = folder.workbooks / item.trainee
            written = journal.Journal(home / f"{LAB}.answers.jsonl")
            stream = Stream("bench", item.trainee)
            plan = _plan(len(lab.exercises), (6, 3, 1), stream)
            for exercise, way in zip(lab.exercises, plan, strict=True):
                slip = _slip_answer(scenario, exercise, stream) if way == "slip" else None
                answer = _right_answer(scenario, exercise) if slip is None else slip
                if way != "blank":
                    written.append(journal.ANSWER, exercise=exercise.id, answer=answer)
            hand_in.pack(home / f"{LAB}.task.json", folder.hand_ins)
            progress.advance(task)
    finally:
        os.fsync = sync


def _executed(notebook: Path, times: int, progress: Progress) -> float:
    """Seconds to execute one workbook with nbclient, kernel start included: the best of some."""
    task = progress.add_task("execute with nbclient", total=times)
    best = float("inf")
    for _ in range(times):
        book = nbformat.read(notebook, as_version=4)
        client = NotebookClient(book, resources={"metadata": {"path": str(notebook.parent)}})
        _, seconds = _seconds(client.execute)
        best = min(best, seconds)
        progress.advance(task)
    return best


def _start_up(progress: Progress) -> tuple[float, float]:
    """Seconds of `labkit --help` and of a bare Python that does nothing: the best of some."""
    task = progress.add_task("start-up", total=HELP_RUNS)
    code = "from labkit.cli import main; main()"
    best = [float("inf"), float("inf")]
    for _ in range(HELP_RUNS):
        for place, words in enumerate(([sys.executable, "-c", code, "--help"], _NOTHING)):
            command = [*words]
            _, seconds = _seconds(
                lambda command=command: subprocess.run(command, capture_output=True, check=True)
            )
            best[place] = min(best[place], seconds)
        progress.advance(task)
    return best[0], best[1]


_NOTHING = [sys.executable, "-c", "pass"]


def _print(
    console: Console, timed: list[Timed], execute: float, start_up: tuple[float, float]
) -> None:
    table = Table("trainees", title="Milliseconds a trainee, and ratios")
    for heading in ("deal", "write", "deal / write", "score", "execute / score", "pages", "sheet"):
        table.add_column(heading, justify="right")
    for row in timed:
        each = 1000 / row.size
        table.add_row(
            str(row.size),
            f"{row.deal * each:.2f}",
            f"{row.write * each:.2f}",
            f"{row.deal / row.write:.1f} ×",
            f"{row.score * each:.2f}",
            f"{execute * row.size / row.score:,.0f} ×",
            f"{row.pages * each:.2f}",
            f"{row.sheet * each:.2f}",
        )
    console.print(table)
    last = timed[-1]
    _verdict(console, "deal / write", last.deal / last.write, DEAL_GOAL, last.deal / last.write)
    faster = execute * last.size / last.score
    _verdict(console, "execute / score", faster, SCORE_GOAL, SCORE_GOAL**2 / faster)
    all_in = execute * last.size / (last.score + last.pages + last.sheet)
    console.print(f"execute / (score + pages + sheet): {all_in:,.0f} ×")
    console.print(f"executing one workbook with nbclient: {execute:.2f} s")
    console.print(
        f"labkit --help: {start_up[0]:.2f} s, {start_up[0] / start_up[1]:.1f} × a bare Python"
    )
    if len(timed) > 1:
        base = timed[0]
        growth = last.size / base.size
        console.print(
            f"from {base.size} to {last.size} trainees (× {growth:g}): "
            f"deal × {last.deal / base.deal:.2f}, score × {last.score / base.score:.2f}"
        )


def _verdict(console: Console, name: str, ratio: float, goal: float, held: float) -> None:
    """`held` is at most the goal when the goal is reached, whichever way round it counts."""
    words = "goal reached" if held <= goal else "goal MISSED"
    console.print(f"{name}: {ratio:,.1f} × (goal {goal:,.0f} ×: {words})")


if __name__ == "__main__":
    main()
