"""From a lab and a scenario to the files a trainee gets: the workbook, its task and its drills."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import orjson

from labkit.exchange.formats import DRILLS_ENDING, TASK_ENDING, WORKBOOK_METADATA
from labkit.exchange.task_file import Task
from labkit.exchange.whole_file import write_whole
from labkit.lab.draw import Scenario
from labkit.workbook.drill_file import drill_bytes
from labkit.workbook.notebook import notebook_data
from labkit.workbook.task import task_data

__all__ = ["WORKBOOK_METADATA", "WorkbookFiles", "notebook_data", "task_data"]


@dataclass(frozen=True, slots=True)
class WorkbookFiles:
    """The bytes of a workbook, of its task file and, in practice, of its drills; their names."""

    notebook_name: str
    notebook: bytes
    task_name: str
    task: bytes
    drills_name: str
    drills: bytes | None

    @staticmethod
    def of(scenario: Scenario, task: Task, stem: str | None = None) -> WorkbookFiles:
        """Build the files. `task` is what `task_data` returns for this scenario.

        `stem` is the files' name without its ending; the lab's id unless another is given.
        """
        stem = stem or scenario.lab.id
        task_name = f"{stem}{TASK_ENDING}"
        notebook = notebook_data(scenario, task, task_file=task_name)
        return WorkbookFiles(
            f"{stem}.ipynb",
            orjson.dumps(notebook, option=orjson.OPT_INDENT_2),
            task_name,
            orjson.dumps(task, option=orjson.OPT_INDENT_2),
            f"{stem}{DRILLS_ENDING}",
            # An assessed lab's keys are on no laptop, in no other numbers either.
            drill_bytes(scenario.lab) if task["practice"] else None,
        )

    def write(self, folder: Path, *, mode: int = 0o666) -> None:
        """Write the files into `folder`; one that is there already is left alone.

        A run that is cut short leaves no half of a file under its name. `mode` is that of POSIX,
        less the umask.
        """
        files = (
            (self.drills_name, self.drills),
            (self.task_name, self.task),
            (self.notebook_name, self.notebook),
        )
        for name, data in files:
            if data is not None and not (folder / name).exists():
                write_whole(folder / name, data, mode=mode)
