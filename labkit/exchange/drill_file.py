"""The drills that lie beside a practice workbook: its exercises in a few other draws.

A laptop without the lab's text cannot draw. The file is the same for everybody; a workbook without
one, as an earlier labkit dealt it, has no warm-up.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from hashlib import sha256
from pathlib import Path
from typing import Any, Final, TypedDict, cast

from labkit.exchange.formats import (
    DRILLS_ENDING,
    DRILLS_FORMAT,
    TASK_ENDING,
    NewerVersionError,
    reader_of,
)
from labkit.exchange.parts import Parts, each, misfit, of
from labkit.exchange.task_file import TaskExercise


class FileDrill(TypedDict):
    """An exercise in another draw; so many of the draw's texts and cautions come before it."""

    exercise: TaskExercise
    texts: int
    cautions: int


class FileDraw(TypedDict):
    """One draw: its number, its network as SVG ("" without), and its drills.

    `texts` are Markdown that other draws have in other words. Cautions are there always.
    """

    draw: str
    picture: str
    texts: list[str]
    cautions: list[str]
    drills: list[FileDrill]


class DrillFile(TypedDict):
    """What the file holds; `lab` is the digest of the text that it was drawn from.

    `sha256` is that of the draws (`draws_digest`): no check asks whether a key fits its exercise.
    """

    format: str
    format_version: int
    lab: str
    sha256: str
    draws: list[FileDraw]


def draws_digest(draws: object) -> str:
    """The SHA-256 of draws, as hexadecimal digits: the same for the same JSON, however written."""
    text = json.dumps(draws, sort_keys=True, separators=(",", ":"))
    return sha256(text.encode()).hexdigest()


_PARTS_1: Final[Parts] = {
    "lab": of(str),
    "sha256": of(str),
    "draws": each(
        {
            "draw": of(str),
            "picture": of(str),
            "texts": of(list),
            "cautions": of(list),
            "drills": each(
                {
                    "exercise": {
                        "id": of(str),
                        "number": of(int),
                        "kind": of(str),
                        "title": of(str),
                        "question": of(str),
                        "marks": of(int, float),
                        "ask": of(dict),
                        "practice": {"key": of(dict), "working": of(str), "hints": of(list)},
                    },
                    "texts": of(int),
                    "cautions": of(int),
                }
            ),
        }
    ),
}


def _read_1(content: dict[str, Any]) -> DrillFile | None:
    if misfit(content, _PARTS_1) or content["sha256"] != draws_digest(content["draws"]):
        return None
    drills = cast(DrillFile, content)
    return drills if all(map(_fits, drills["draws"])) else None


def _fits(draw: FileDraw) -> bool:
    return all(isinstance(text, str) for text in (*draw["texts"], *draw["cautions"]))


_READERS: Final[dict[int, Callable[[dict[str, Any]], DrillFile | None]]] = {1: _read_1}


def drills_path(task_path: Path) -> Path:
    """Where the drills of a task lie."""
    return task_path.with_name(task_path.name.removesuffix(TASK_ENDING) + DRILLS_ENDING)


def read_drills(path: Path, lab: str) -> list[FileDraw]:
    """The draws in the file at `path`, of the lab with this digest.

    Empty where there is no file, where it is of another lab or version, or damaged: then there are
    no drills, and nothing else is missing.
    """
    try:
        content = json.loads(path.read_bytes())
    except (OSError, ValueError, RecursionError):
        return []
    if not isinstance(content, dict) or content.get("format") != DRILLS_FORMAT:
        return []
    try:
        reader = reader_of(_READERS, content.get("format_version"))
    except NewerVersionError:
        return []
    drills = reader(content) if reader else None
    return drills["draws"] if drills and drills["lab"] == lab else []
