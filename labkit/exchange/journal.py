"""The answer journal: an append-only file of one JSON object a line.

Each entry is on disk (fsync) before `append` returns. A torn last line, as a power cut leaves it,
is closed before the next entry, and is reported on reading instead of swallowing what follows.
"""

from __future__ import annotations

import json
import math
import secrets
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final

from labkit.exchange.append_only import AddLine, add_line
from labkit.exchange.clock import CLOCK
from labkit.exchange.formats import NewerVersionError, reader_of

MAX_ANSWER: Final = 20_000
"""Characters of JSON that one answer may take."""
MAX_DEPTH: Final = 20
"""How deep the lists and groups of one entry may be nested."""

OPENED: Final = "opened"
ANSWER: Final = "answer"
HINT: Final = "hint"
STEP: Final = "step"
HANDED_IN: Final = "handed in"
DRILL: Final = "drill"
"""One more like an exercise, with other numbers: outside the marks, so none of those below."""
OF_EXERCISES: Final = (ANSWER, HINT, STEP)
EVENTS: Final = (OPENED, *OF_EXERCISES, HANDED_IN)
"""Other events are kept, signed and handed in as they are, and nobody takes them for an answer."""


@dataclass(frozen=True, slots=True)
class JournalText:
    """A journal as read: its entries in order, and how many lines could not be read."""

    entries: tuple[dict[str, Any], ...]
    unreadable: int


@dataclass(frozen=True, slots=True)
class ExerciseRecord:
    """What a journal says of one exercise: the last answer, how many, when, hints taken.

    `steps` are what was done between the answers, where a kind has such steps. `tokens` are those
    of the page's messages that are kept: one that comes again is done already. Where several worked
    at it, `by` is whose hand gave the last answer, and `hands` took each step ("" where none is
    kept).
    """

    answer: Any = None
    answered: bool = False
    at: str = ""
    tries: int = 0
    hints: int = 0
    answers: tuple[Any, ...] = field(default=())
    steps: tuple[Any, ...] = field(default=())
    tokens: frozenset[str] = frozenset()
    by: str = ""
    hands: tuple[str, ...] = field(default=())


class Journal:
    """The journal file of one workbook at one station; `add` is how a line comes onto the disk."""

    def __init__(self, path: Path, add: AddLine = add_line) -> None:
        self.path = path
        self._add = add
        self._session = secrets.token_hex(4)

    def append(self, event: str, **details: Any) -> dict[str, Any]:
        """Write one entry and wait until it is on disk. Raises `OSError`, or `ValueError`.

        What is returned is what is written: half a surrogate pair, which a page can send and no
        file can hold, became a question mark.
        """
        entry = {"at": CLOCK.now(), "session": self._session, "event": event, **details}
        line = line_of(entry)
        data = line.encode("utf-8", "replace")
        self._add(self.path, data)
        whole: dict[str, Any] = entry if line.isascii() else json.loads(data)
        return whole

    def read(self) -> JournalText:
        """Everything written so far; nothing when the file is not there yet.

        Raises `OSError`, or `NewerVersionError` with a sentence for the trainee.
        """
        try:
            return parse(self.path.read_bytes())
        except FileNotFoundError:
            return JournalText((), 0)
        except NewerVersionError:
            raise NewerVersionError(
                f"'{self.path.name}' was written by a newer version of labkit. Ask your instructor "
                "to update labkit on this laptop; your answers are kept."
            ) from None


def line_of(entry: Mapping[str, Any]) -> str:
    """An entry as a line of the file. Raises `ValueError`, a sentence, where it can be none."""
    if _too_deep(entry):
        raise ValueError(f"The answer is nested more than {MAX_DEPTH} deep.")
    try:
        line = json.dumps(entry, ensure_ascii=False, separators=(",", ":"), allow_nan=False)
    except (TypeError, ValueError) as error:
        raise ValueError("The answer holds something that is no number and no text.") from error
    if len(line) > MAX_ANSWER:
        raise ValueError(f"The answer is longer than {MAX_ANSWER} characters.")
    return line


def parse(data: bytes) -> JournalText:
    """Read a journal's bytes; lines that are not entries are counted, not raised.

    Raises `NewerVersionError` where a later labkit wrote in it.
    """
    entries, unreadable, reader = [], 0, _READERS[1]
    for line in data.split(b"\n"):
        if not line.strip():
            continue
        entry = reader(line)
        if not isinstance(entry, dict) or not isinstance(entry.get("event"), str):
            unreadable += 1
            continue
        entries.append(entry)
        if entry["event"] == OPENED:
            # What follows is of the version that this says; version 1 says none.
            reader = reader_of(_READERS, entry.get("format_version", 1)) or reader
    return JournalText(tuple(entries), unreadable)


def _entry(line: bytes) -> Any:
    """The JSON value of a line that every reader of JSON understands alike; None for any other."""
    try:
        entry = json.loads(
            line, parse_constant=_not_a_number, parse_float=_finite, parse_int=_plain_int
        )
    except (ValueError, RecursionError):
        return None
    if _too_deep(entry):
        return None
    if b"\\u" in line:
        # Half a surrogate pair, escaped, is no text: it would spoil the whole hand-in.
        return json.loads(json.dumps(entry, ensure_ascii=False).encode("utf-8", "replace"))
    return entry


_READERS: Final[dict[int, Callable[[bytes], Any]]] = {1: _entry}


def _not_a_number(word: str) -> None:
    raise ValueError(f"{word} is not JSON")


def _finite(text: str) -> float:
    value = float(text)
    if not math.isfinite(value):
        raise ValueError(f"{text} is too large")
    return value


def _plain_int(text: str) -> int | float:
    """Whole numbers beyond 64 bits become floats, as they do in most readers of JSON."""
    value = int(text)
    return value if -(2**63) <= value < 2**63 else _finite(text)


def _too_deep(value: Any, left: int = MAX_DEPTH) -> bool:
    if not isinstance(value, list | tuple | dict):
        return False
    items = value.values() if isinstance(value, dict) else value
    return left == 0 or any(_too_deep(item, left - 1) for item in items)


def records(entries: Iterable[Mapping[str, Any]]) -> dict[str, ExerciseRecord]:
    """The record of each exercise that was worked at; the last answer counts.

    Entries of other events are no work at it, and their tokens none of a page's messages. A message
    that stands there twice, as a disk that failed may leave it, was done once.
    """
    found: dict[str, dict[str, Any]] = {}
    for entry in entries:
        exercise = entry.get("exercise")
        if not isinstance(exercise, str) or entry.get("event") not in OF_EXERCISES:
            continue
        blank = {"answers": [], "steps": [], "hands": [], "hints": 0, "at": "", "by": ""}
        here = found.setdefault(exercise, {**blank, "tokens": set()})
        by = str(entry.get("by", ""))
        if isinstance(token := entry.get("token"), str):
            if token in here["tokens"]:
                continue
            here["tokens"].add(token)
        if entry.get("event") == ANSWER and "answer" in entry:
            here["answers"].append(entry["answer"])
            here["at"], here["by"] = str(entry.get("at", "")), by
        elif entry.get("event") == STEP and "step" in entry:
            here["steps"].append(entry["step"])
            here["hands"].append(by)
        elif entry.get("event") == HINT:
            number = entry.get("hint")
            here["hints"] = max(here["hints"], number if isinstance(number, int) else 0)
    return {
        exercise: ExerciseRecord(
            answer=here["answers"][-1] if here["answers"] else None,
            answered=bool(here["answers"]),
            at=here["at"],
            tries=len(here["answers"]),
            hints=here["hints"],
            answers=tuple(here["answers"]),
            steps=tuple(here["steps"]),
            tokens=frozenset(here["tokens"]),
            by=here["by"],
            hands=tuple(here["hands"]),
        )
        for exercise, here in found.items()
    }
