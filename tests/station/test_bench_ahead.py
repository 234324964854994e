"""While the trainee thinks, the bench plays its bus: the first reading on it is ready."""

from __future__ import annotations

import threading
from pathlib import Path
from typing import Any

import pytest
from at_a_desk import Desk, task_file

from labkit.bench.bench import Bench
from labkit.fieldbus.errors import PlanError
from labkit.lab.draw import draw
from labkit.lab.reading import read_lab
from labkit.station.widgets import diagnosis

LAB = Path(__file__).parents[1] / "lab" / "labs" / "find-and-wire" / "lab.md"


@pytest.fixture
def widget(tmp_path: Path) -> diagnosis.DiagnosisExercise:
    file = task_file(draw(read_lab(LAB), "ahead"), tmp_path)
    found = Desk(file).exercise("quiet-line")
    assert isinstance(found, diagnosis.DiagnosisExercise)
    return found


def volts(widget: diagnosis.DiagnosisExercise, kind: str) -> Any:
    device = widget._front.setup.scanner
    return widget.take({"kind": kind, "a": f"{device}/4", "b": f"{device}/1"})["entry"]["text"]


def test_the_bus_is_played_after_a_step_and_never_twice(
    widget: diagnosis.DiagnosisExercise, monkeypatch: pytest.MonkeyPatch
) -> None:
    played: list[Any] = []
    trace = Bench.__dict__["trace"]
    plays = trace.func

    def counted(bench: Bench) -> Any:
        played.append(bench)
        return plays(bench)

    monkeypatch.setattr(trace, "func", counted)
    volts(widget, "volts")
    widget._ahead.join()
    assert len(played) == 1
    shown = volts(widget, "busy volts")
    assert len(played) == 1
    session = widget._front.session
    assert session is not None
    bench = session.bench
    fresh = Bench(bench.setup, bench.faults, bench.situation)
    measured: Any = session.steps[-1].did
    assert measured.take(fresh).text == shown


def test_with_power_off_nothing_is_played(widget: diagnosis.DiagnosisExercise) -> None:
    widget.take({"kind": "power off"})
    assert not widget._ahead.is_alive()
    assert widget._ahead.ident is None


def test_trouble_while_nobody_asks_stays_quiet_and_no_threads_are_no_trouble(
    widget: diagnosis.DiagnosisExercise,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    told: list[Any] = []
    monkeypatch.setattr(threading, "excepthook", told.append)

    def fails(_bench: Bench) -> None:
        raise PlanError("It cannot be played.")

    monkeypatch.setattr(Bench, "play", fails)
    assert volts(widget, "volts").endswith("V")
    widget._ahead.join()
    assert told == []

    def no_threads(_self: Any) -> None:
        raise RuntimeError("can't start new thread")

    monkeypatch.setattr(threading.Thread, "start", no_threads)
    assert volts(widget, "volts").endswith("V")
