"""A workbook of the shipped lab, made without any class."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from labkit.exchange.task_file import Task
from labkit.lab.draw import Scenario
from labkit.workbook import WorkbookFiles, task_data

LAB = Path(__file__).parents[2] / "labs" / "plan-the-trunk" / "lab.md"


@dataclass(frozen=True)
class Drawn:
    """One scenario with its task and files."""

    scenario: Scenario
    task: Task
    files: WorkbookFiles


def make(scenario: Scenario, *, practice: bool) -> Drawn:
    """Build the workbook of a scenario for an invented trainee."""
    task = task_data(
        scenario,
        workbook="0123456789abcdef",
        class_id="autumn",
        class_title="Autumn class",
        trainee={"id": "t01", "name": "Ansa *Merrow* <b>"},
        practice=practice,
        deadline=None,
        signing_key="0" * 64,
    )
    return Drawn(scenario, task, WorkbookFiles.of(scenario, task))
