"""What fairness costs a workbook: choosing its draw, against building it from the first draw.

    uv run python tests/bench/bench_fair_deal.py [--trainees 96] [--labs plan-the-trunk ...]

Three ways in one run: the first draw of each trainee, whatever it is; draws that are equally hard;
and those whose answers also differ from the neighbours'. Seconds are of this thread's own
processor time; the ratio to the first way is what counts. The sample that sets a lab's bounds is
drawn once a class and is shown apart.
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Callable
from dataclasses import replace
from typing import TypeVar

from rich.console import Console
from rich.progress import track
from rich.table import Table

from labkit.classroom.dealing.fairness import bounds_of
from labkit.classroom.dealing.picking import Picker
from labkit.classroom.dealing.seating import dealing_order, neighbours
from labkit.classroom.dealing.seeds import scenario_of
from labkit.classroom.dealt import Bounds, Dealt
from labkit.classroom.roster import Trainee
from labkit.lab.definition import Lab
from labkit.lab.library import lab_library
from labkit.lab.reading import read_lab
from labkit.lab.reading.lineage import LAB_FILE
from labkit.workbook import WorkbookFiles, task_data

T = TypeVar("T")

SECRET = "5a" * 32
ROW = 8


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--trainees", type=int, default=96)
    parser.add_argument("--labs", nargs="+", default=["plan-the-trunk"])
    arguments = parser.parse_args()
    people = [
        Trainee(f"t{n:03}", f"Trainee {n}", "", f"{n // ROW + 1}/{n % ROW + 1}")
        for n in range(arguments.trainees)
    ]
    console = Console()
    table = Table("lab", "way", title="Processor milliseconds a workbook")
    for heading in ("choose", "choose and build", "ratio", "draws", "spread", "most equal"):
        table.add_column(heading, justify="right")
    for name in arguments.labs:
        lab = read_lab(lab_library() / name / LAB_FILE)
        bounds, seconds = _seconds(lambda lab=lab: bounds_of(lab))
        console.print(f"{name}: the sample that sets the bounds took {seconds:.2f} s, once a class")
        _rows(table, lab, bounds, people, console)
    console.print(table)


def _rows(table: Table, lab: Lab, bounds: Bounds, people: list[Trainee], console: Console) -> None:
    anything = replace(bounds, low=None, high=None, copyable=(), equal=0)
    ways = {
        "first draw": (anything, {}),
        "equally hard": (replace(bounds, copyable=()), {}),
        "and unlike neighbours": (bounds, neighbours(people)),
    }
    first = None
    for words, (kept, beside) in ways.items():
        picker = Picker(SECRET, "bench", {lab.id: lab}, {lab.id: kept}, beside, (), strict=False)
        choose = build = 0.0
        items: list[Dealt] = []
        for person in track(dealing_order(people), words, console=console, transient=True):
            (item, _), spent = _seconds(lambda p=person, k=picker: k.pick(p, lab, 1))
            choose += spent
            build += _seconds(lambda i=item: _build(lab, i))[1]
            items.append(item)
        first = first or choose + build
        hard = [item.difficulty for item in items if item.difficulty is not None]
        each = 1000 / len(people)
        table.add_row(
            lab.id,
            words,
            f"{choose * each:.1f}",
            f"{(choose + build) * each:.1f}",
            f"{(choose + build) / first:.2f} ×",
            f"{sum(item.variant + 1 for item in items) / len(items):.1f}",
            f"{max(hard) - min(hard):.2g}" if hard else "–",
            str(max((count for item in items for count in item.equal), default="–")),
        )


def _build(lab: Lab, item: Dealt) -> WorkbookFiles:
    scenario = scenario_of(SECRET, "bench", lab, item)
    task = task_data(
        scenario,
        workbook=item.workbook,
        class_id="bench",
        class_title="Bench",
        trainee={"id": item.trainee, "name": item.name},
        practice=True,
        deadline=None,
        signing_key="0" * 64,
    )
    return WorkbookFiles.of(scenario, task)


def _seconds(work: Callable[[], T]) -> tuple[T, float]:
    start = time.thread_time()
    value = work()
    return value, time.thread_time() - start


if __name__ == "__main__":
    main()
