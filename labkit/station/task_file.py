"""Reading the task file that lies beside a workbook."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any, Final

from labkit.lab.formats import JOURNAL_ENDING, TASK_ENDING, TASK_FORMAT, TASK_VERSION
from labkit.station.errors import StationError

_PARTS: Final = {
    "workbook": str,
    "class": dict,
    "lab": dict,
    "trainee": dict,
    "practice": bool,
    "signing_key": str,
    "exercises": list,
}


def read_task(path: Path) -> dict[str, Any]:
    """The task in the file at `path`. Raises `StationError` with a sentence for the trainee."""
    try:
        task = json.loads(path.read_bytes())
    except FileNotFoundError:
        raise StationError(
            f"The file '{path.name}' is missing. It belongs beside the workbook: copy both files "
            "from your instructor into one folder and open the workbook again."
        ) from None
    except (OSError, ValueError, RecursionError):
        raise _damaged(path) from None
    if not isinstance(task, dict) or task.get("format") != TASK_FORMAT:
        raise _damaged(path)
    if task.get("format_version") != TASK_VERSION:
        raise StationError(
            f"'{path.name}' was made by another version of labkit. Ask your instructor to update "
            "labkit on this laptop."
        )
    if not all(isinstance(task.get(name), kind) for name, kind in _PARTS.items()):
        raise _damaged(path)
    return task


def journal_path(task_path: Path) -> Path:
    """Where the answer journal of a task lies."""
    return task_path.with_name(task_path.name.removesuffix(TASK_ENDING) + JOURNAL_ENDING)


def _damaged(path: Path) -> StationError:
    return StationError(
        f"The file '{path.name}' is damaged. Ask your instructor for a new copy; your answers are "
        "kept in another file and are not lost."
    )
