"""What scoring a large class costs: time and memory a hand-in, at a small and at a large size.

    uv run python tests/bench/bench_records.py [--sizes 1000 10000] [--jobs 1 2]

Memory is what the operating system says that the scoring process held at most (peak resident set),
less what a process holds that has everything loaded and scores a class of ten. It should hardly
grow with the number of hand-ins: the record of the deal and the list of files are held whole. Each
size is scored in a process of its own, from fresh records. Ratios count, not seconds.
"""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any

from bench_deal_score import _play
from rich.console import Console
from rich.progress import Progress
from rich.table import Table

from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.dealing.deal import deal
from labkit.classroom.handins.demo import LAB
from labkit.lab.library import lab_library

BASE = 10

SCORE = """
import json, resource, sys, time
from pathlib import Path
from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.dealing.deal_record import read_deal
from labkit.classroom.marks.scoring import score

def peak():
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024  # MB on Linux

folder = ClassFolder.open(Path(sys.argv[1]))
kept = read_deal(folder)
start, spent = time.perf_counter(), time.process_time()
scoring = score(folder, jobs=int(sys.argv[2]))
seconds, spent = time.perf_counter() - start, time.process_time() - spent
start = time.perf_counter()
counted = sum(result.counts for result in scoring.results)
reading = time.perf_counter() - start
start = time.perf_counter()
score(folder)
again = time.perf_counter() - start
assert counted == len(kept.dealt), "the bench's own hand-ins were not all scored"
print(json.dumps({"peak": peak(), "score": seconds, "cpu": spent, "read": reading,
                  "again": again}))
"""


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--sizes", type=int, nargs="+", default=[1_000, 10_000])
    parser.add_argument("--jobs", type=int, nargs="+", default=[1])
    arguments = parser.parse_args()
    console = Console()
    rows: list[tuple[int, int, dict[str, Any]]] = []
    with tempfile.TemporaryDirectory() as name, Progress(console=console) as progress:
        for size in (BASE, *arguments.sizes):
            path = _class(Path(name) / str(size), size, progress)
            for jobs in arguments.jobs if size != BASE else [1]:
                (path / "records.sqlite").unlink(missing_ok=True)
                found = _scored(path, jobs)
                found["file"] = (path / "records.sqlite").stat().st_size
                rows.append((size, jobs, found))
    _print(console, rows)


def _class(path: Path, size: int, progress: Progress) -> Path:
    path.mkdir()
    (path / "class.yaml").write_text(f"id: c\ntitle: C\nlabs: [{LAB}]\nmode: practice\n")
    lines = "".join(f"t{number:05},Trainee {number}\n" for number in range(size))
    (path / "roster.csv").write_text(f"id,name\n{lines}")
    folder = ClassFolder.open(path)
    task = progress.add_task(f"deal {size}", total=size)
    step = lambda done, _: progress.update(task, completed=done)  # noqa: E731
    sync = os.fsync
    os.fsync = lambda fd: None  # noqa: ARG005  # dealing is not what is timed here
    try:
        dealt = deal(folder, lab_library(), step)
    finally:
        os.fsync = sync
    _play(folder, dealt.deal, folder.lab(LAB), progress)
    return path


def _scored(path: Path, jobs: int) -> dict[str, Any]:
    done = subprocess.run(
        [sys.executable, "-c", SCORE, str(path), str(jobs)],
        capture_output=True,
        text=True,
        check=True,
    )
    found: dict[str, Any] = json.loads(done.stdout)
    return found


def _print(console: Console, rows: list[tuple[int, int, dict[str, Any]]]) -> None:
    base = rows[0][2]["peak"]
    table = Table("hand-ins", "jobs", title=f"Beyond the {base:.0f} MB of a class of {BASE}")
    headings = ("MB", "ms each", "CPU ms", "again ms", "read ms", "KB each")
    for heading in headings:
        table.add_column(heading, justify="right")
    for size, jobs, found in rows[1:]:
        table.add_row(
            f"{size:,}",
            str(jobs),
            f"{found['peak'] - base:.1f}",
            f"{1000 * found['score'] / size:.2f}",
            f"{1000 * found['cpu'] / size:.2f}",
            f"{1000 * found['again'] / size:.2f}",
            f"{1000 * found['read'] / size:.2f}",
            f"{found['file'] / size / 1000:.1f}",
        )
    console.print(table)
    console.print("(CPU ms are those of the scoring process itself, without its helpers.)")
    small, large = rows[1][2], rows[-1][2]
    growth = rows[-1][0] / rows[1][0]
    console.print(
        f"hand-ins × {growth:g}: peak memory of the whole process × "
        f"{large['peak'] / small['peak']:.2f}, CPU time a hand-in × "
        f"{large['cpu'] / rows[-1][0] / (small['cpu'] / rows[1][0]):.2f}"
    )


if __name__ == "__main__":
    main()
