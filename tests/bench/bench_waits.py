"""What people wait for: whole commands, in units of one plain loop of Python.

    uv run --frozen python tests/bench/bench_waits.py [--only WORD] [--again N]

A unit is the processor time of `for i in range(20_000_000): s += i * i`, measured in this run
before and after each command, since a busy machine is slow for both. A command counts with all its
processes, from its start to its end. Every command runs as people type it, in a folder of its own.
"""

from __future__ import annotations

import argparse
import ctypes
import os
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

import psutil
from rich.console import Console
from rich.table import Table

TRAINEES = 20
_PR_SET_CHILD_SUBREAPER = 36  # linux/prctl.h
# Not in a function, where it takes half the time: the goals' unit was of 1.4 s.
LOOP = "s = 0\nfor i in range(20_000_000): s += i * i"
# Where Python may keep no compiled files, every command would compile all that it imports.
ENVIRONMENT = {name: of for name, of in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
LOOK_BACK = """
from bench_bench import setup
from labkit.bench.actions import PowerOff
from labkit.bench.bench import Bench
from labkit.families.devicenet.bench.conductors import CAN_H
from labkit.bench.debrief import look_back, usual_measurements
from labkit.bench.faults import Broken
from labkit.bench.measurements import Ohms
from labkit.bench.possible import possible_faults
from labkit.bench.session import Session
from labkit.bench.situation import Situation, Terminal
from labkit.families.devicenet.bench.measurements import Indicators
ten = setup(10)
bench = Bench(ten, frozenset({Broken("tap 4, right", CAN_H)})).standing(Situation(power=True))
ends = [Terminal(device, n) for device in ten.layout.devices for n in range(1, 6)]
live = Session.at(bench).take(Indicators()).take(PowerOff()).take(Ohms(ends[3], ends[1]))
meter = [choice for choice in usual_measurements(ten) if not isinstance(choice, Indicators)]
look_back(live, possible_faults(ten), meter)
"""


@dataclass(frozen=True)
class Wait:
    """One wait, its goal in units, and what spends it in an empty folder: processor seconds."""

    words: str
    goal: float
    run: Callable[[Path], float]


def labkit(*words: str) -> list[str]:
    return [sys.executable, "-m", "labkit", *words]


def seconds(command: list[str], at: Path, *, cache: Path | None = None) -> float:
    """Processor seconds of a command and all that it started, waited for or not.

    `cache` takes the place of the user's cache.

    On Linux, what a browser's processes leave behind comes to this process when their own parent
    has ended; elsewhere it is missed.
    """
    environment = {**ENVIRONMENT, "LABKIT_CACHE": str(cache)} if cache else ENVIRONMENT
    process = subprocess.Popen(
        command, cwd=at, env=environment, stdout=subprocess.PIPE, stderr=subprocess.STDOUT
    )
    assert process.stdout is not None
    told = process.stdout.read()
    _, status, usage = os.wait4(process.pid, 0)
    process.returncode = os.waitstatus_to_exitcode(status)
    if process.returncode:
        raise SystemExit(f"{command}\n{told.decode()}")
    spent = usage.ru_utime + usage.ru_stime
    with suppress(ChildProcessError):
        while True:
            orphan = os.wait3(0)[2]
            spent += orphan.ru_utime + orphan.ru_stime
    return spent


def until_marks(command: list[str], at: Path) -> float:
    """Processor seconds of the command at the moment when its first table is whole."""
    process = subprocess.Popen(command, cwd=at, env=ENVIRONMENT, stdout=subprocess.PIPE, text=True)
    watched = psutil.Process(process.pid)
    assert process.stdout is not None
    found = 0.0
    for line in process.stdout:
        if line.startswith("└") and not found:
            found = sum(watched.cpu_times()[:4])
    if process.wait() or not found:
        raise SystemExit(f"{command} showed no marks")
    return found


def a_class(at: Path, lab: str, mode: str, held: str) -> Path:
    rules = f"labs: [{lab}]\nmode: {mode}\nheld: {held}\n"
    (at / "class.yaml").write_text(f"id: c\ntitle: C\n{rules}")
    rows = "".join(f"t{number:05},Trainee {number}\n" for number in range(TRAINEES))
    (at / "roster.csv").write_text(f"id,name\n{rows}")
    return at


def deal(
    lab: str, mode: str = "practice", *options: str, held: str = "laptops"
) -> Callable[[Path], float]:
    return lambda at: seconds(labkit("deal", ".", *options), a_class(at, lab, mode, held))


def deal_first(at: Path) -> float:
    a_class(at, "plan-the-trunk", "practice", "laptops")
    return seconds(labkit("deal", "."), at, cache=at / "cache")


def deal_again(at: Path) -> float:
    deal("plan-the-trunk")(at)
    return seconds(labkit("deal", "."), at)


def demo(at: Path) -> Path:
    """The demo class, played and not scored yet."""
    seconds(labkit("demo", "d"), at)
    for item in (at / "d").glob("records*"):
        item.unlink()
    shutil.rmtree(at / "d" / "scores")
    return at


def score_first(at: Path) -> float:
    demo(at)
    return seconds(labkit("score", "d"), at, cache=at / "cache")


def look_back(_: Path) -> float:
    """The bench's own, without a command: of hand-ins it is one answer's."""
    return seconds([sys.executable, "-c", LOOK_BACK], Path(__file__).parent)


def printed(at: Path) -> float:
    """Processor seconds a handout, of a class's handouts as PDF."""
    demo(at)
    spent = seconds(labkit("print", "d", "--pdf"), at)
    pages = len(list((at / "d" / "print").rglob("*.pdf")))
    return spent / pages


WAITS = (
    Wait("labkit --help", 0.15, lambda at: seconds(labkit("--help"), at)),
    Wait(f"deal a class of {TRAINEES}, plan-the-trunk", 1.0, deal("plan-the-trunk")),
    Wait("the same, a lab that this user never dealt", 1.0, deal_first),
    Wait("the same with --jobs 2", 1.0, deal("plan-the-trunk", "practice", "--jobs", "2")),
    Wait("deal again, nothing to do", 0.5, deal_again),
    Wait(
        "score the demo class: marks on the screen",
        0.8,
        lambda at: until_marks(labkit("score", "d"), demo(at)),
    ),
    Wait(
        "score the demo class: all pages and analysis",
        2.0,
        lambda at: seconds(labkit("score", "d"), demo(at)),
    ),
    Wait("the same, a lab that this user never scored", 2.0, score_first),
    Wait(f"deal a class of {TRAINEES}, acceptance, assessed", 15, deal("acceptance", "assessed")),
    Wait("the same, held in the room", 15, deal("acceptance", "assessed", held="room")),
    Wait(
        "proof wiring-and-terminators, 100 draws",
        4,
        lambda at: seconds(labkit("proof", "wiring-and-terminators", "--draws", "100"), at),
    ),
    Wait("print a trainee's handout, as PDF", 0.4, printed),
    Wait("look back with the indicators watched, ten devices", 6, look_back),
)


def main() -> None:
    if sys.platform == "linux":
        ctypes.CDLL(None).prctl(_PR_SET_CHILD_SUBREAPER, 1, 0, 0, 0)
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--only", default="", help="waits with this word in their name")
    parser.add_argument("--again", type=int, default=1, help="the best of so many runs")
    arguments = parser.parse_args()
    console = Console()
    table = Table("what", "units", "goal", "")
    for wait in WAITS:
        if arguments.only not in wait.words:
            continue
        units = min(_units(wait) for _ in range(arguments.again))
        console.print(f"{wait.words}: {units:.2f}")
        held = "reached" if units <= wait.goal else "MISSED"
        table.add_row(wait.words, f"{units:.2f}", f"{wait.goal:g}", held)
    console.print(table)


def _units(wait: Wait) -> float:
    with tempfile.TemporaryDirectory() as name:
        before = _loop(name)
        spent = wait.run(Path(name))
        return 2 * spent / (before + _loop(name))


def _loop(at: str) -> float:
    return seconds([sys.executable, "-c", LOOP], Path(at))


if __name__ == "__main__":
    main()
