"""A step that makes no sense at the bench is kept, and told as not done; never as not saved."""

from __future__ import annotations

import json
import shutil
from pathlib import Path
from typing import Any

import pytest
from at_a_desk import Desk, task_file

from labkit.bench.front import BenchFront
from labkit.kinds.diagnosis.page import DiagnosisPage
from labkit.lab.draw import draw
from labkit.lab.reading import read_lab
from labkit.station.widgets.exercise import ExerciseWidget

LAB = Path(__file__).parents[1] / "lab" / "labs" / "find-and-wire" / "lab.md"
SENSELESS = [
    {"kind": "unplug", "connector": "nowhere"},
    {"kind": "dance"},
    "power off",
    None,
]


def opened(folder: Path) -> ExerciseWidget:
    [file] = folder.glob("*.task.json")
    return Desk(file).exercise("quiet-line")


def front(widget: ExerciseWidget) -> BenchFront:
    page = widget.answering.page
    assert isinstance(page, DiagnosisPage)
    assert isinstance(page.front, BenchFront)
    return page.front


@pytest.fixture(scope="module", params=[True, False], ids=["practice", "assessed"])
def dealt(tmp_path_factory: pytest.TempPathFactory, request: pytest.FixtureRequest) -> Path:
    folder = tmp_path_factory.mktemp("dealt")
    task_file(draw(read_lab(LAB), "refused"), folder, practice=request.param)
    return folder


@pytest.fixture
def folder(dealt: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(dealt, tmp_path / "workbook"))


def told(
    widget: ExerciseWidget, monkeypatch: pytest.MonkeyPatch, token: str, step: object
) -> dict[str, Any]:
    sent: list[dict[str, Any]] = []
    monkeypatch.setattr(widget, "send", sent.append)
    widget._received(widget, {"do": "step", "token": token, "step": step}, None)
    [message] = sent
    return message


def kept(folder: Path) -> list[object]:
    [journal] = folder.glob("*.jsonl")
    lines = [json.loads(line) for line in journal.read_text(encoding="utf-8").splitlines()]
    return [line["step"] for line in lines if "step" in line]


@pytest.mark.parametrize("step", SENSELESS, ids=str)
def test_what_is_on_the_disk_is_not_told_as_not_saved(
    folder: Path, monkeypatch: pytest.MonkeyPatch, step: object
) -> None:
    widget = opened(folder)
    before = front(widget).state()
    message = told(widget, monkeypatch, "one", step)
    assert kept(folder) == [step]
    assert message["saved"]
    assert message["failed"].startswith("Not done: ")
    assert "reply" not in message
    assert front(widget).state() == before
    # The page sends again what it hears nothing of: it is kept once, and told the same.
    assert told(widget, monkeypatch, "one", step) == message
    assert kept(folder) == [step]


def test_a_refused_step_has_no_effect_when_the_workbook_is_opened_again(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    widget = opened(folder)
    for number, step in enumerate([*SENSELESS, {"kind": "power off"}, *SENSELESS]):
        told(widget, monkeypatch, str(number), step)
    again = opened(folder)
    assert len(kept(folder)) == 2 * len(SENSELESS) + 1
    assert front(again).state() == front(widget).state()
    assert front(again).steps == front(widget).steps == [{"kind": "power off"}]
