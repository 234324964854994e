"""What an assessed class cannot keep secret: labs whose text trainees may have.

Who has a lab's text and labkit can draw scenarios until one matches the workbook, and read the
right answers of that one. No task file prevents this; only a text that stays with the trainer does.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import islice
from pathlib import Path
from typing import Final

from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.dealt import Deal
from labkit.classroom.errors import ClassError
from labkit.lab.definition import Lab
from labkit.lab.reading.lineage import LAB_FILE
from labkit.language.problems import DefinitionError

MOST_BESIDE: Final = 500
"""So many folders beside the class are looked at for other classes."""
_WHAT: Final = (
    "who has it can find nearly all right answers on a laptop with labkit, in seconds. Take these "
    "marks as a check of a class that you watched; where they decide something, use a lab of your "
    "own that nobody has."
)


RULE: Final = (
    "A lab whose text is public is a practice lab; an assessment that matters is held in a room, "
    "with a text that nobody has."
)
_IN_ROOM: Final = "keys and hidden faults never leave this machine"
_ON_LAPTOPS: Final = (
    "no laptop holds a key or the lab's text, but the fault of a recorded bench can be found on "
    "one with labkit"
)


def remarks_on_secrecy(folder: ClassFolder, deal: Deal, library: Path) -> list[str]:
    """A sentence for each assessed lab of a class whose text trainees may have."""
    return [
        _said_open(folder, name, why)
        for name in folder.fields.labs
        if not folder.fields.practice(name) and (why := _why_open(folder, deal, name, library))
    ]


def what_stays_secret(folder: ClassFolder, deal: Deal, library: Path) -> dict[str, str]:
    """What each assessed lab of a class can keep secret in this form of class, in a sentence."""
    fields = folder.fields
    said = {}
    for name in fields.labs:
        if fields.practice(name):
            continue
        if why := _why_open(folder, deal, name, library):
            said[name] = _said_open(folder, name, why)
        else:
            keeps = f"{_IN_ROOM}, nor does its text" if fields.in_room(name) else _ON_LAPTOPS
            said[name] = f"'{name}' is assessed: {keeps}."
    return said


def _said_open(folder: ClassFolder, name: str, why: str) -> str:
    if folder.fields.in_room(name):
        return f"'{name}' is assessed in the room: {_IN_ROOM}. But {why}: {_WHAT}"
    return f"'{name}' is assessed, and {why}: {_WHAT}"


def _why_open(folder: ClassFolder, deal: Deal, name: str, library: Path) -> str:
    if (library / name / LAB_FILE).exists():
        return "its text comes with labkit"
    others = _others(folder.lab(name, library, dealt=True))
    for other, does in others.items():
        if (library / other / LAB_FILE).exists():
            return f"it {does} '{other}' of labkit"
    practised = {lab for lab, said in deal.labs.items() if said.get("mode") == "practice"}
    if name in practised:
        return "it was dealt for practice in this class"
    for other, does in others.items():
        if other in practised:
            return f"it {does} '{other}', which was dealt for practice in this class"
    for child in sorted(practised.intersection(folder.fields.labs)):
        does = _others(folder.lab(child, library, dealt=True)).get(name, "")
        if does:
            return f"'{child}', which {does} it, was dealt for practice in this class"
    for beside in _dealt_beside(folder):
        if name in beside.fields.labs and beside.fields.practice(name):
            return f"it was dealt for practice in {beside.path}"
    return ""


def _others(lab: Lab) -> dict[str, str]:
    """The labs whose text a lab holds, each with what it does."""
    taken = dict.fromkeys(lab.takes_from, "takes an exercise from")
    return taken | dict.fromkeys(lab.extends, "extends")


def _dealt_beside(folder: ClassFolder) -> Iterator[ClassFolder]:
    """The classes that were dealt, in the folders beside this one."""
    here = folder.path.resolve()
    try:
        beside = sorted(islice(here.parent.iterdir(), MOST_BESIDE))
    except OSError:
        return
    for place in beside:
        try:
            other = ClassFolder.open(place) if place != here and place.is_dir() else None
            if other and other.deal_file.exists():
                yield other
        except (ClassError, DefinitionError, OSError):
            # A folder that is no class, or one that we may not read, is nobody's business here.
            continue
