"""A workbook to look at: in a folder of its own that goes away again, for nobody's class."""

from __future__ import annotations

import secrets
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Final

from labkit.exchange.task_file import Task
from labkit.lab.draw import Scenario
from labkit.workbook import WorkbookFiles, task_data

PREVIEW: Final = "preview"


def fresh_seed() -> str:
    """A seed that nobody had yet, short enough to be typed."""
    return secrets.token_hex(4)


def preview_task(
    scenario: Scenario, *, workbook: str, practice: bool, name: str = "", hosted: bool = False
) -> Task:
    """The task of a preview: its signing key is drawn afresh, and no class dealt its workbook."""
    return task_data(
        scenario,
        workbook=workbook,
        class_id=PREVIEW,
        class_title="Preview, counts in no class",
        trainee={"id": PREVIEW, "name": name},
        practice=practice,
        deadline=None,
        signing_key=secrets.token_hex(32),
        hosted=hosted,
    )


@contextmanager
def preview_workbook(scenario: Scenario, *, practice: bool) -> Iterator[Path]:
    """The notebook of a preview; its folder is deleted at the end.

    Its signing key is kept nowhere: what is handed in from it counts in no class.
    """
    task = preview_task(
        scenario,
        workbook=f"{PREVIEW}-{secrets.token_hex(8)}",
        practice=practice,
        name=f"Seed {scenario.seed}",
    )
    files = WorkbookFiles.of(scenario, task)
    with TemporaryDirectory(prefix="labkit-preview-", ignore_cleanup_errors=True) as folder:
        files.write(Path(folder))
        yield Path(folder) / files.notebook_name
