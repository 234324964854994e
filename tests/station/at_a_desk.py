"""A workbook at a desk without a browser: messages go in as the page sends them."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from labkit.lab.draw import Scenario
from labkit.station.widgets.exercise import ExerciseWidget
from labkit.station.workbook import Workbook
from labkit.workbook import WorkbookFiles, task_data


def task_file(scenario: Scenario, folder: Path, *, practice: bool = True) -> Path:
    """The task file of a scenario, written with its workbook into `folder`."""
    task = task_data(
        scenario,
        workbook="desk",
        class_id="desk",
        class_title="Desk",
        trainee={"id": "t01", "name": "Ansa Merrow"},
        practice=practice,
        deadline=None,
        signing_key="0" * 64,
    )
    WorkbookFiles.of(scenario, task).write(folder)
    [file] = folder.glob("*.task.json")
    return file


class Desk:
    """A task file with an engine that can be restarted."""

    def __init__(self, file: Path) -> None:
        self.file = file
        self.restart()

    def restart(self) -> None:
        """A new engine: everything that is not in a file is forgotten."""
        self.workbook = Workbook.open(str(self.file))

    def exercise(self, name: str) -> ExerciseWidget:
        """The widget of an exercise, as the notebook's cell makes it."""
        return self.workbook.exercise(name)

    def written(self, event: str) -> list[dict[str, Any]]:
        """The journal's entries of one sort."""
        return [e for e in self.workbook.journal.read().entries if e["event"] == event]


def send(widget: ExerciseWidget, **message: Any) -> dict[str, Any]:
    """What the page hears of a message that it sends; {} where it hears nothing."""
    heard: list[dict[str, Any]] = []
    widget.send = lambda content, buffers=None: heard.append(content)  # noqa: ARG005
    widget._received(widget, message, [])
    assert len(heard) <= 1
    return heard[0] if heard else {}
