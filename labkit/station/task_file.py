"""Reading the task file that lies beside a workbook."""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any, Final

from labkit.exchange.formats import JOURNAL_ENDING, TASK_ENDING, TASK_FORMAT, TASK_VERSION
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
_TEXTS: Final = {
    "class": ("id", "title"),
    "lab": ("id", "version", "title", "digest"),
    "trainee": ("id", "name"),
}
_OF_EXERCISE: Final = {
    "id": str,
    "number": int,
    "kind": str,
    "title": str,
    "question": str,
    "marks": int | float,
    "ask": dict,
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
    if not _complete(task):
        raise _damaged(path)
    return task


def _complete(task: dict[str, Any]) -> bool:
    return (
        _holds(task, _PARTS)
        and all(_holds(task[part], dict.fromkeys(names, str)) for part, names in _TEXTS.items())
        and all(_holds(exercise, _OF_EXERCISE) for exercise in task["exercises"])
    )


def _holds(part: Any, kinds: Mapping[str, Any]) -> bool:
    return isinstance(part, dict) and all(
        isinstance(part.get(name), kind) for name, kind in kinds.items()
    )


def journal_path(task_path: Path) -> Path:
    """Where the answer journal of a task lies."""
    return task_path.with_name(task_path.name.removesuffix(TASK_ENDING) + JOURNAL_ENDING)


def _damaged(path: Path) -> StationError:
    return StationError(
        f"The file '{path.name}' is damaged. Ask your instructor for a new copy; your answers are "
        "kept in another file and are not lost."
    )
