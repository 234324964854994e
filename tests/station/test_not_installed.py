"""A workbook that needs a kind or a network family which is not installed says so."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from at_a_desk import Desk, task_file

from labkit.lab.draw import draw
from labkit.lab.library import lab_library
from labkit.lab.reading import read_lab
from labkit.station.errors import StationError


def desk_with(tmp_path: Path, change: Any) -> tuple[Desk, str]:
    """A desk with a bench whose task is changed, and the exercise's name."""
    file = task_file(
        draw(read_lab(lab_library() / "wiring-and-terminators" / "lab.md"), "away"), tmp_path
    )
    task = json.loads(file.read_bytes())
    exercise = next(item for item in task["exercises"] if "setup" in item["ask"])
    change(exercise)
    file.write_text(json.dumps(task), encoding="utf-8")
    return Desk(file), exercise["id"]


def test_a_kind_that_is_not_there(tmp_path: Path) -> None:
    desk, name = desk_with(tmp_path, lambda exercise: exercise.update(kind="not-here"))
    with pytest.raises(StationError, match="does not know the exercise kind 'not-here'"):
        desk.exercise(name)


def test_a_network_family_that_is_not_there(tmp_path: Path) -> None:
    def change(exercise: dict[str, Any]) -> None:
        exercise["ask"]["setup"]["family"] = "not-here"

    desk, name = desk_with(tmp_path, change)
    with pytest.raises(StationError, match="does not know the network family 'not-here'"):
        desk.exercise(name)
