"""While the trainee thinks, the bench plays its bus: the first reading on it is ready."""

from __future__ import annotations

import threading
from pathlib import Path
from typing import Any

import pytest
from at_a_desk import Desk, task_file

from labkit.bench.bench import Bench
from labkit.bench.front import BenchFront
from labkit.fieldbus.errors import PlanError
from labkit.kinds.diagnosis import page as diagnosis_page
from labkit.lab.draw import draw
from labkit.lab.reading import read_lab

LAB = Path(__file__).parents[1] / "lab" / "labs" / "find-and-wire" / "lab.md"


@pytest.fixture
def page(tmp_path: Path) -> diagnosis_page.DiagnosisPage:
    file = task_file(draw(read_lab(LAB), "ahead"), tmp_path)
    found = Desk(file).exercise("quiet-line").answering.page
    assert isinstance(found, diagnosis_page.DiagnosisPage)
    return found


def volts(page: diagnosis_page.DiagnosisPage, kind: str) -> Any:
    device = page.front.setup.scanner
    step = {"kind": kind, "a": f"{device}/4", "b": f"{device}/1"}
    return page.take(step, None)["entry"]["text"]


def test_the_bus_is_played_after_a_step_and_never_twice(
    page: diagnosis_page.DiagnosisPage, monkeypatch: pytest.MonkeyPatch
) -> None:
    played: list[Any] = []
    trace = Bench.__dict__["trace"]
    plays = trace.func

    def counted(bench: Bench) -> Any:
        played.append(bench)
        return plays(bench)

    monkeypatch.setattr(trace, "func", counted)
    volts(page, "volts")
    page.ahead.join()
    assert len(played) == 1
    shown = volts(page, "busy volts")
    assert len(played) == 1
    assert isinstance(page.front, BenchFront)
    session = page.front.session
    assert session is not None
    bench = session.bench
    fresh = Bench(bench.setup, bench.faults, bench.situation)
    measured: Any = session.steps[-1].did
    assert measured.take(fresh).text == shown


def test_with_power_off_nothing_is_played(page: diagnosis_page.DiagnosisPage) -> None:
    page.take({"kind": "power off"}, None)
    assert not page.ahead.is_alive()
    assert page.ahead.ident is None


def test_trouble_while_nobody_asks_stays_quiet_and_no_threads_are_no_trouble(
    page: diagnosis_page.DiagnosisPage,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    told: list[Any] = []
    monkeypatch.setattr(threading, "excepthook", told.append)

    def fails(_bench: Bench) -> None:
        raise PlanError("It cannot be played.")

    monkeypatch.setattr(Bench, "play", fails)
    assert volts(page, "volts").endswith("V")
    page.ahead.join()
    assert told == []

    def no_threads(_self: Any) -> None:
        raise RuntimeError("can't start new thread")

    monkeypatch.setattr(threading.Thread, "start", no_threads)
    assert volts(page, "volts").endswith("V")
