"""In the notebook, which has no drills: exercises of one topic, on two days, and the task file."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from at_a_desk import Desk, send, task_file
from set_clock import SetClock

from labkit.doors.installed import check_for
from labkit.lab.draw import Scenario, draw
from labkit.lab.reading import read_lab

LAB = Path(__file__).parents[2] / "labs" / "plan-the-trunk" / "lab.md"
OF_ONE_TOPIC = ("longest-distance", "all-drops", "weighted-length")


@pytest.fixture(scope="module")
def scenario() -> Scenario:
    return draw(read_lab(LAB), "topics")


def right(scenario: Scenario, name: str) -> Any:
    [defined] = [each for each in scenario.lab.exercises if each.id == name]
    made = scenario.prepare(defined)
    return check_for(defined.kind).right_answer(made.ask, made.key)


def test_three_exercises_on_two_days(scenario: Scenario, tmp_path: Path, clock: SetClock) -> None:
    desk = Desk(task_file(scenario, tmp_path))
    lines = []
    for day, name in enumerate(OF_ONE_TOPIC, 5):
        clock.set(f"2031-05-{day:02}T10:00:00Z")
        widget = desk.exercise(name)
        send(widget, do="answer", token=name, answer=right(scenario, name))
        lines.append(widget.saved["verdict"].get("topic"))
        desk.restart()
    assert lines == [
        "Cable lengths: 1 of 3 right at once, in a row.",
        "Cable lengths: 2 of 3 right at once, in a row.",
        "Cable lengths: sits.",
    ]


def test_an_assessed_task_file_names_no_topic(scenario: Scenario, tmp_path: Path) -> None:
    assert '"topic"' not in task_file(scenario, tmp_path, practice=False).read_text("utf-8")
    (tmp_path / "practice").mkdir()
    practice = json.loads(task_file(scenario, tmp_path / "practice").read_bytes())
    assert practice["exercises"][0]["practice"]["topic"] == "cable lengths"
