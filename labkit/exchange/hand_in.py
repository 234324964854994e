"""The hand-in: the one file a trainee gives back.

It is data: read by its parts, held against its signature, and nothing in it is ever run.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any, Final, TypedDict, cast

from labkit.errors import LabkitError
from labkit.exchange.clock import CLOCK, read_moment
from labkit.exchange.formats import (
    HAND_IN_ENDING,
    HAND_IN_FORMAT,
    HAND_IN_VERSION,
    NewerVersionError,
    reader_of,
)
from labkit.exchange.journal import HANDED_IN, Journal
from labkit.exchange.parts import Fits, Parts, misfit, of
from labkit.exchange.signing import sign
from labkit.exchange.task_file import Person, Task, journal_path, read_task
from labkit.exchange.whole_file import write_whole

MAX_ENTRIES: Final = 50_000
MAX_LOST: Final = 1_000_000
"""No journal has more lines, and every database holds the number."""
_MAX_TEXT: Final = 200


class HandInError(LabkitError):
    """Why something is no hand-in: it is `damaged`, or else it is another kind of file."""

    def __init__(self, sentence: str, *, damaged: bool) -> None:
        super().__init__(sentence)
        self.damaged = damaged


class HandInLab(TypedDict):
    """Which definition a hand-in answers."""

    id: str
    version: str
    digest: str


HandInContent = TypedDict(
    "HandInContent",
    {
        "format": str,
        "format_version": int,
        "workbook": str,
        "class": str,
        "trainee": Person,
        "lab": HandInLab,
        "made_at": str,
        "unreadable_lines": int,
        "journal": list[dict[str, Any]],
        "signature": str,
    },
)
"""Everything that a hand-in holds. `made_at` is what the trainee's laptop claims."""


def _short(value: Any) -> bool:
    return isinstance(value, str) and len(value) <= _MAX_TEXT


def _matching(pattern: str) -> Fits:
    return lambda value: isinstance(value, str) and re.fullmatch(pattern, value) is not None


_PARTS_1: Final[Parts] = {
    "format": of(str),
    "format_version": of(int),
    "workbook": _short,
    "class": _short,
    "trainee": {"id": _short, "name": _short},
    "lab": {"id": _short, "version": _short, "digest": _short},
    "made_at": lambda value: read_moment(value) is not None,
    "unreadable_lines": lambda value: type(value) is int and 0 <= value <= MAX_LOST,
    "journal": lambda value: (
        isinstance(value, list) and len(value) <= MAX_ENTRIES and all(map(of(dict), value))
    ),
    "signature": _matching("[0-9a-f]{64}"),
}


def _read_1(content: dict[str, Any]) -> HandInContent:
    if way := misfit(content, _PARTS_1, only=True):
        raise _misfit(" → ".join(way))
    return cast(HandInContent, content)


_READERS: Final[dict[int, Callable[[dict[str, Any]], HandInContent]]] = {1: _read_1}


def read_hand_in(content: Any) -> HandInContent:
    """The hand-in in a JSON value, whoever signed it. Raises `HandInError`."""
    if not isinstance(content, dict):
        raise HandInError("It is not a hand-in.", damaged=True)
    if content.get("format") != HAND_IN_FORMAT:
        raise HandInError("It is another kind of file, not a hand-in.", damaged=False)
    # Before the parts are looked at: another version may have others.
    try:
        reader = reader_of(_READERS, content.get("format_version"))
    except NewerVersionError:
        raise HandInError(
            "It was made by another version of labkit, a newer one: update labkit on this machine.",
            damaged=False,
        ) from None
    if reader is None:
        raise _misfit("format_version")
    return reader(content)


def _misfit(part: str) -> HandInError:
    sentence = f"Its part '{part}' is missing or not as it should be."
    return HandInError(sentence, damaged=True)


def pack(task_path: Path, folder: Path | None = None) -> Path:
    """Make the hand-in of the workbook whose task file is `task_path`, and return where it is.

    It goes into `folder`, or beside the workbook. An older one is replaced whole or not at all.
    Raises `TaskFileError` or `NewerVersionError` when task or journal cannot be read, and `OSError`
    when nothing can be written.
    """
    task = read_task(task_path)
    journal = Journal(journal_path(task_path))
    journal.read()  # A newer labkit's journal is left as it is.
    journal.append(HANDED_IN)
    content = hand_in(task, journal)
    target = (folder or task_path.parent) / file_name(
        task["lab"]["id"], task["trainee"]["id"], task.get("attempt")
    )
    write_whole(target, json.dumps(content, ensure_ascii=False, indent=1).encode())
    return target


def hand_in(task: Task, journal: Journal) -> HandInContent:
    """The hand-in's data: who, which lab, the journal, and a signature over all of it."""
    text = journal.read()
    lab = task["lab"]
    content: HandInContent = {
        "format": HAND_IN_FORMAT,
        "format_version": HAND_IN_VERSION,
        "workbook": task["workbook"],
        "class": task["class"]["id"],
        "trainee": {"id": task["trainee"]["id"], "name": task["trainee"]["name"]},
        "lab": {"id": lab["id"], "version": lab["version"], "digest": lab["digest"]},
        "made_at": CLOCK.now(),
        "unreadable_lines": text.unreadable,
        "journal": list(text.entries),
        "signature": "",
    }
    content["signature"] = sign(task["signing_key"], signed_text(content))
    return content


def signed_text(content: Mapping[str, Any]) -> bytes:
    """The bytes that the signature covers: everything but itself, keys in order, no spaces."""
    rest = {name: value for name, value in content.items() if name != "signature"}
    return json.dumps(rest, ensure_ascii=False, sort_keys=True, separators=(",", ":")).encode(
        "utf-8", "surrogatepass"
    )


def file_name(lab: str, trainee: str, attempt: int | None = None) -> str:
    """Lab, trainee and, of a retake, the attempt in a name that every file system takes."""
    # No id holds a comma: a retake's name is never that of another trainee.
    again = f",attempt-{attempt}" if isinstance(attempt, int) and attempt > 1 else ""
    return f"{_plain(lab)}--{_plain(trainee)}{again}{HAND_IN_ENDING}"


def _plain(name: str) -> str:
    """Every id that a roster allows stays as it is: no two trainees' hand-ins share a name."""
    return re.sub(r"[^\w.@+-]+", "-", name)[:64] or "-"
