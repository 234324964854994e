"""Entries of an invented workbook of three exercises, minutes after eight o'clock."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Final

from labkit.doors.verdict import Verdict, awaiting, unreadable
from labkit.room.progress import Asked, Happened, Progress

BEGIN: Final = datetime(2026, 11, 30, 8, 0, tzinfo=UTC)
LENGTH, TRUNK, CURRENT = EXERCISES = (
    Asked("length", 1, "The longest distance", 2),
    Asked("trunk", 2, "The mixed trunk", 6),
    Asked("current", 3, "The current of a drop", 4),
)
RIGHT, WRONG, PARTLY = Verdict(1.0, ""), Verdict(0.0, ""), Verdict(0.5, "")
AWAITS, NO_WORDS = awaiting(""), unreadable("")


def after(minutes: float) -> datetime:
    """So many minutes after the beginning."""
    return BEGIN + timedelta(minutes=minutes)


def answer(minutes: float, exercise: Asked, verdict: Verdict, text: str | None = None) -> Happened:
    """An answer; without a `text` it is unlike every other one."""
    return Happened(after(minutes), exercise.id, text or f"at {minutes}", verdict)


def hint(minutes: float, exercise: Asked) -> Happened:
    """A hint that was opened, or a step at a bench, or a drill."""
    return Happened(after(minutes), exercise.id)


def handed_in(minutes: float) -> Happened:
    """The workbook was handed in."""
    return Happened(after(minutes), handed_in=True)


def worked(*entries: Happened, practice: bool = True) -> Progress:
    """What these entries come to, in a workbook that was opened at the beginning."""
    progress = Progress(EXERCISES, practice=practice)
    for entry in (Happened(BEGIN), *entries):
        progress.take(entry)
    return progress
