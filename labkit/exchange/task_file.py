"""The task file that lies beside a workbook: what is asked of whom, as the widgets read it.

A practice task has a `practice` part in each exercise; in an assessed one it is absent, not hidden.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import Any, Final, NotRequired, TypedDict, cast

from labkit.errors import LabkitError
from labkit.exchange.formats import (
    JOURNAL_ENDING,
    TASK_ENDING,
    TASK_FORMAT,
    WORKBOOK_METADATA,
    NewerVersionError,
    reader_of,
)
from labkit.exchange.parts import Parts, each, misfit, of


class TaskFileError(LabkitError):
    """A sentence to the trainee that says what is wrong with a task file and what to do."""


class TaskClass(TypedDict):
    """The class that a workbook was dealt in."""

    id: str
    title: str


class TaskLab(TypedDict):
    """The definition that a workbook was drawn from; `digest` is its text's."""

    id: str
    version: str
    title: str
    digest: str
    minutes: NotRequired[int | None]


class Person(TypedDict):
    """Whose workbook it is."""

    id: str
    name: str


class TaskPicture(TypedDict):
    """The trainee's network: an SVG drawing, and what tells it apart in words."""

    svg: str
    facts: str


class TaskHint(TypedDict):
    """A hint; it costs a share of the marks."""

    text: str
    costs: float


class TaskExample(TypedDict):
    """An exercise with the numbers of another draw, worked."""

    draw: int
    question: str
    answer: str
    working: str


class TaskPractice(TypedDict):
    """What a practice exercise may tell; version 0.1 had no examples. Not each has a `topic`."""

    key: Any
    working: str
    hints: list[TaskHint]
    example: NotRequired[TaskExample | None]
    topic: NotRequired[str]


class TaskExercise(TypedDict):
    """One exercise. What its kind asks (`ask`) and decides by (`key`) are JSON of that kind's."""

    id: str
    number: int
    kind: str
    title: str
    question: str
    marks: float
    ask: Any
    practice: NotRequired[TaskPractice]


Task = TypedDict(
    "Task",
    {
        "format": str,
        "format_version": int,
        "workbook": str,
        "class": TaskClass,
        "lab": TaskLab,
        "trainee": Person,
        "attempt": NotRequired[int],
        "practice": bool,
        "opens": NotRequired[str],
        "deadline": NotRequired[str | None],
        "signing_key": str,
        "picture": NotRequired[TaskPicture | None],
        "example_pictures": NotRequired[dict[str, str]],
        "exercises": list[TaskExercise],
    },
)
"""What a task file holds. Only a retake has its `attempt`; the key signs the hand-in."""

_PARTS_1: Final[Parts] = {
    "workbook": of(str),
    "class": {"id": of(str), "title": of(str)},
    "lab": {"id": of(str), "version": of(str), "title": of(str), "digest": of(str)},
    "trainee": {"id": of(str), "name": of(str)},
    "practice": of(bool),
    "signing_key": of(str),
    "exercises": each(
        {
            "id": of(str),
            "number": of(int),
            "kind": of(str),
            "title": of(str),
            "question": of(str),
            "marks": of(int, float),
            "ask": of(dict),
        }
    ),
}


def _read_1(content: dict[str, Any]) -> Task | None:
    return None if misfit(content, _PARTS_1) else cast(Task, content)


_READERS: Final[dict[int, Callable[[dict[str, Any]], Task | None]]] = {1: _read_1}


def read_task(path: Path) -> Task:
    """The task in the file at `path`. Raises `TaskFileError` with a sentence for the trainee."""
    try:
        content = json.loads(path.read_bytes())
    except FileNotFoundError:
        raise TaskFileError(
            f"The file '{path.name}' is missing. It belongs beside the workbook: copy both files "
            "from your instructor into one folder and open the workbook again."
        ) from None
    except (OSError, ValueError, RecursionError):
        raise _damaged(path) from None
    if not isinstance(content, dict) or content.get("format") != TASK_FORMAT:
        raise _damaged(path)
    try:
        reader = reader_of(_READERS, content.get("format_version"))
    except NewerVersionError:
        raise TaskFileError(
            f"'{path.name}' was made by another version of labkit. Ask your instructor to update "
            "labkit on this laptop."
        ) from None
    task = reader(content) if reader else None
    if task is None:
        raise _damaged(path)
    return task


def task_file_of(notebook: Path) -> Path:
    """Where the task file of a workbook lies, of one that was renamed too: both say which it is."""
    by_name = notebook.with_name(notebook.stem + TASK_ENDING)
    workbook = _workbook_of(notebook)
    for file in (by_name, *sorted(notebook.parent.glob(f"*{TASK_ENDING}"))):
        with suppress(TaskFileError):
            if read_task(file)["workbook"] == workbook:
                return file
    return by_name


def _workbook_of(notebook: Path) -> str | None:
    """Which workbook a notebook says it is; None for a notebook of another sort."""
    try:
        return str(json.loads(notebook.read_bytes())["metadata"][WORKBOOK_METADATA]["workbook"])
    except (OSError, ValueError, RecursionError, LookupError, TypeError):
        return None


def workbooks_in(folder: Path) -> list[Path]:
    """The workbooks that lie in a folder, by name; of one and its copies the first."""
    found: dict[Path, Path] = {}
    for notebook in sorted(folder.glob("*.ipynb")):
        file = task_file_of(notebook)
        if file.exists() or _workbook_of(notebook):
            found.setdefault(file, notebook)
    return list(found.values())


def journal_path(task_path: Path) -> Path:
    """Where the answer journal of a task lies."""
    return task_path.with_name(task_path.name.removesuffix(TASK_ENDING) + JOURNAL_ENDING)


def _damaged(path: Path) -> TaskFileError:
    return TaskFileError(
        f"The file '{path.name}' is damaged. Ask your instructor for a new copy; your answers are "
        "kept in another file and are not lost."
    )
