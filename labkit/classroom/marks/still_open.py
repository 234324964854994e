"""What is not finished yet in a class that somebody wants to close."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.held import is_held
from labkit.classroom.marks.by_hand import to_mark
from labkit.classroom.room_entries import RELEASED, room_entries


@dataclass(frozen=True, slots=True)
class StillOpen:
    """Something to be done first, and the command for it ("" where there is none)."""

    sentence: str
    command: str = ""


def still_open(folder: ClassFolder) -> Iterator[StillOpen]:
    """What stands open, most urgent first. Raises `ClassError` before the deal."""
    if is_held(folder):
        yield StillOpen("The room is open: end it first, so that nothing more comes in.")
    found = to_mark(folder)
    for sentence in found.arrivals.sentences(folder):
        yield StillOpen(sentence, "labkit score CLASS")
    if found.waiting:
        people = len({one.result.dealt.trainee for one in found.waiting})
        yield StillOpen(
            f"{len(found.waiting)} answers of {people} people wait for a mark by hand.",
            "labkit mark CLASS",
        )
    for lab in _not_released(folder):
        yield StillOpen(
            f"The results of '{lab}' are not released: nobody sees them in the room.",
            "labkit host CLASS",
        )


def _not_released(folder: ClassFolder) -> Iterator[str]:
    """Assessed labs of a class that was held in the room, without their release."""
    if not folder.room_log.exists():
        return
    entries = room_entries(folder.room_log)
    released = {entry.get("lab") for entry in entries if entry.get("act") == RELEASED}
    for lab in folder.fields.labs:
        if not folder.fields.practice(lab) and lab not in released:
            yield lab
