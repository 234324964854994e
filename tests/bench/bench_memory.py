"""How the memory of scoring grows with hand-ins: 100, 1,000 and 10,000 of a small lab.

    uv run python tests/bench/bench_memory.py [--sizes 100 1000 10000]

Memory is what the operating system says that a scoring process held at most (`VmHWM` of Linux: the
resident set's high-water mark; `ru_maxrss` would be that of the process that started it), less what
it holds for a class of ten. The lab is a single question, because the amount of work makes no
difference to it. The last columns are of the whole of `labkit score`: with a page for everybody,
the closer look and the sheets, which need the marks of all.
"""

from __future__ import annotations

import argparse
import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from rich.console import Console
from rich.progress import Progress
from rich.table import Table

from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.dealing.deal import deal
from labkit.exchange import hand_in, journal

BASE = 10
LAB = """\
---
id: small
version: 1.0.0
title: Small
draw:
  a: {from: 1, to: 900000}
---

```exercise double
kind: quantity
title: Double it
question: What is twice {{ a }} m?
answer: 2 * a
unit: m
decimals: 0
marks: 1
working: Twice.
```
"""
SCORE = """
import re, sys
from pathlib import Path
from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.marks.scoring import score

folder = ClassFolder.open(Path(sys.argv[1]))
scoring = score(folder)
counted = sum(result.counts for result in scoring.results)
assert counted == int(sys.argv[2]), counted
if sys.argv[3] == "whole":
    from labkit.classroom.pages.debrief import write_analysis
    from labkit.classroom.pages.reports import write_pages
    from labkit.classroom.exports.sheet import write_sheets

    write_pages(folder, scoring)
    write_analysis(folder, scoring)
    write_sheets(scoring, folder.scores)
status = Path("/proc/self/status").read_text()
print(1024 * int(re.search(r"VmHWM:\\s+(\\d+) kB", status)[1]))
"""


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--sizes", type=int, nargs="+", default=[100, 1_000, 10_000])
    sizes = parser.parse_args().sizes
    console = Console()
    os.fsync = lambda fd: None  # noqa: ARG005  # making the classes is not what is measured
    peaks, wholes, seconds = {}, {}, {}
    with tempfile.TemporaryDirectory() as name, Progress(console=console) as progress:
        for size in (BASE, *sizes):
            path = _class(Path(name), size, progress)
            peaks[size] = _peak(path, size, "scored")
            (path / "records.sqlite").unlink()
            start = time.perf_counter()
            wholes[size] = _peak(path, size, "whole")
            seconds[size] = time.perf_counter() - start
    base, base_of_whole = peaks[BASE], wholes[BASE]
    table = Table(
        "hand-ins",
        title=f"Peak memory beyond the {base / 1e6:.0f} MB of a class of ten "
        f"({base_of_whole / 1e6:.0f} MB with pages)",
    )
    for heading in ("MB", "bytes a hand-in", "whole: MB", "s"):
        table.add_column(heading, justify="right")
    for size in sizes:
        more, more_of_whole = peaks[size] - base, wholes[size] - base_of_whole
        table.add_row(
            f"{size:,}",
            f"{more / 1e6:.1f}",
            f"{more / (size - BASE):,.0f}",
            f"{more_of_whole / 1e6:.1f}",
            f"{seconds[size]:.1f}",
        )
    console.print(table)


def _class(root: Path, size: int, progress: Progress) -> Path:
    path, library = root / str(size), root / f"labs-{size}"
    path.mkdir()
    (library / "small").mkdir(parents=True)
    (library / "small" / "lab.md").write_text(LAB)
    (path / "class.yaml").write_text("id: c\ntitle: C\nlabs: [small]\nmode: practice\n")
    lines = "".join(f"t{number:05},Trainee {number}\n" for number in range(size))
    (path / "roster.csv").write_text(f"id,name\n{lines}")
    folder = ClassFolder.open(path)
    task = progress.add_task(f"{size}", total=2 * size)
    made = deal(folder, library, lambda done, _: progress.update(task, completed=done))
    folder.hand_ins.mkdir()
    for item in made.deal.dealt:
        home = folder.workbooks / item.trainee
        written = journal.Journal(home / "small.answers.jsonl")
        written.append(journal.ANSWER, exercise="double", answer="4 m")
        hand_in.pack(home / "small.task.json", folder.hand_ins)
        progress.advance(task)
    return path


def _peak(path: Path, size: int, how_far: str) -> int:
    command = [sys.executable, "-c", SCORE, str(path), str(size), how_far]
    return int(subprocess.run(command, capture_output=True, text=True, check=True).stdout)


if __name__ == "__main__":
    main()
