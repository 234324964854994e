"""Hand-ins from laptops whose clocks show whatever a test wants."""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from tiny_class import Room

from labkit.exchange.hand_in import signed_text
from labkit.exchange.journal import ANSWER, HANDED_IN, OPENED
from labkit.exchange.signing import sign

DAY = "2026-11-20T"

Entry = dict[str, Any]


def moment(clock: str) -> str:
    """A time on the day of these tests: "10:00" or "10:00:30"."""
    return f"{DAY}{clock}{'' if clock.count(':') == 2 else ':00'}Z"


def opened(clock: str) -> Entry:
    """The workbook was opened."""
    return {"at": moment(clock), "session": "0", "event": OPENED, "lab": "tiny"}


def answered(clock: str, answer: Any, exercise: str = "double") -> Entry:
    """Something was answered."""
    return {**opened(clock), "event": ANSWER, "exercise": exercise, "answer": answer}


def pressed(clock: str) -> Entry:
    """The button at the end was pressed."""
    return {"at": moment(clock), "session": "0", "event": HANDED_IN}


def bring(room: Room, file: str, made: str, journal: Sequence[Entry], trainee: str = "ann") -> Path:
    """Put a well-signed hand-in with this journal into the class's folder, under any name."""
    home = room.home(trainee)
    task = json.loads((home / "tiny.task.json").read_bytes())
    content: dict[str, Any] = {
        "format": "labkit hand-in",
        "format_version": 1,
        "workbook": task["workbook"],
        "class": task["class"]["id"],
        "trainee": {"id": task["trainee"]["id"], "name": task["trainee"]["name"]},
        "lab": {name: task["lab"][name] for name in ("id", "version", "digest")},
        "made_at": moment(made),
        "unreadable_lines": 0,
        "journal": list(journal),
    }
    content["signature"] = sign(task["signing_key"], signed_text(content))
    target = room.path / "hand-ins" / f"{file}.handin.json"
    target.parent.mkdir(exist_ok=True)
    target.write_text(json.dumps(content), encoding="utf-8")
    return target
