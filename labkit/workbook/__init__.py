"""From a lab and a scenario to the two files a trainee gets: the workbook and its task file."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import orjson

from labkit.exchange.formats import TASK_ENDING, WORKBOOK_METADATA
from labkit.exchange.task_file import Task
from labkit.exchange.whole_file import write_whole
from labkit.lab.draw import Scenario
from labkit.workbook.notebook import notebook_data
from labkit.workbook.task import task_data

__all__ = ["WORKBOOK_METADATA", "WorkbookFiles", "notebook_data", "task_data"]


@dataclass(frozen=True, slots=True)
class WorkbookFiles:
    """The bytes of a workbook and of its task file, and their names."""

    notebook_name: str
    notebook: bytes
    task_name: str
    task: bytes

    @staticmethod
    def of(scenario: Scenario, task: Task, stem: str | None = None) -> WorkbookFiles:
        """Build both files. `task` is what `task_data` returns for this scenario.

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
        )

    def write(self, folder: Path, *, mode: int = 0o666) -> None:
        """Write both files into `folder`; one that is there already is left alone.

        A run that is cut short leaves no half of a file under its name. `mode` is that of POSIX,
        less the umask.
        """
        for name, data in ((self.task_name, self.task), (self.notebook_name, self.notebook)):
            if not (folder / name).exists():
                write_whole(folder / name, data, mode=mode)
