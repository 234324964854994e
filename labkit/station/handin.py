"""The hand-in: the one file a trainee gives back."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

from labkit.exchange.clock import CLOCK
from labkit.exchange.formats import HAND_IN_ENDING, HAND_IN_FORMAT, HAND_IN_VERSION, TASK_ENDING
from labkit.exchange.journal import HANDED_IN, Journal
from labkit.exchange.signing import sign
from labkit.exchange.whole_file import write_whole
from labkit.station.task_file import journal_path, read_task


def pack(task_path: Path, folder: Path | None = None) -> Path:
    """Make the hand-in of the workbook whose task file is `task_path`, and return where it is.

    It goes into `folder`, or beside the workbook. An older one is replaced whole or not at all.
    Raises `StationError` when the task cannot be read and `OSError` when nothing can be written.
    """
    task = read_task(task_path)
    journal = Journal(journal_path(task_path))
    journal.append(HANDED_IN)
    content = hand_in(task, journal)
    target = (folder or task_path.parent) / file_name(task)
    write_whole(target, json.dumps(content, ensure_ascii=False, indent=1).encode())
    return target


def hand_in(task: dict[str, Any], journal: Journal) -> dict[str, Any]:
    """The hand-in's data: who, which lab, the journal, and a signature over all of it."""
    text = journal.read()
    content: dict[str, Any] = {
        "format": HAND_IN_FORMAT,
        "format_version": HAND_IN_VERSION,
        "workbook": task["workbook"],
        "class": task["class"]["id"],
        "trainee": {"id": task["trainee"]["id"], "name": task["trainee"]["name"]},
        "lab": {name: task["lab"][name] for name in ("id", "version", "digest")},
        "made_at": CLOCK.now(),
        "unreadable_lines": text.unreadable,
        "journal": list(text.entries),
    }
    content["signature"] = sign(task["signing_key"], signed_text(content))
    return content


def signed_text(content: dict[str, Any]) -> bytes:
    """The bytes that the signature covers: everything but itself, keys in order, no spaces."""
    rest = {name: value for name, value in content.items() if name != "signature"}
    return json.dumps(rest, ensure_ascii=False, sort_keys=True, separators=(",", ":")).encode(
        "utf-8", "surrogatepass"
    )


def task_file_of(notebook: Path) -> Path:
    """Where the task file of a workbook lies."""
    return notebook.with_name(notebook.stem + TASK_ENDING)


def file_name(task: dict[str, Any]) -> str:
    """Lab, trainee and, of a retake, the attempt in a name that every file system takes."""
    lab, trainee = (_plain(task[part]["id"]) for part in ("lab", "trainee"))
    attempt = task.get("attempt")
    # No id holds a comma: a retake's name is never that of another trainee.
    again = f",attempt-{attempt}" if isinstance(attempt, int) and attempt > 1 else ""
    return f"{lab}--{trainee}{again}{HAND_IN_ENDING}"


def _plain(name: str) -> str:
    """Every id that a roster allows stays as it is: no two trainees' hand-ins share a name."""
    return re.sub(r"[^\w.@+-]+", "-", name)[:64] or "-"
