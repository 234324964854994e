"""Beginning a class: its folder, `class.yaml` as an instructor would write it, `roster.csv`."""

from __future__ import annotations

import json
import re
import unicodedata
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from labkit.classroom.class_file import ClassFields, Held, Mode, read_class_file
from labkit.classroom.class_folder import CLASS_FILE, ROSTER_FILE, ClassFolder
from labkit.classroom.errors import ClassError
from labkit.classroom.office_people import Person, roster_text
from labkit.classroom.private_place import OWNERS_FOLDER, Place
from labkit.classroom.roster import is_device, plain_text, read_roster
from labkit.exchange.clock import CLOCK

LONGEST_TITLE: Final = 200
_LONGEST_NAME: Final = 40
_ID: Final = re.compile(r"[a-z0-9][a-z0-9-]{0,59}")
_PERCENT: Final = re.compile(r"[0-9]{1,3}([.][0-9]{1,4})?")
_NEEDS_NO_QUOTES: Final = re.compile(r"\w(?:[\w ,.()/–-]*[\w.)])?")
"""Text that YAML reads as it stands; all fields are text, so that no word or number is special."""


@dataclass(frozen=True, slots=True)
class ChosenLab:
    """A lab of a class that is begun, its mode and where it is held."""

    lab: str
    mode: Mode = "practice"
    held: Held = "room"


@dataclass(frozen=True, slots=True)
class NewClass:
    """What is said of a class that is begun. `name` is its folder's, and its id.

    `pass_mark` is in %, as it was typed; "" for none, and then nobody passes or gets a certificate.
    """

    name: str
    title: str
    labs: Sequence[ChosenLab]
    date: str = ""
    place: str = ""
    pass_mark: str = ""


def proposed_name(title: str, day: str, beside: Path) -> str:
    """A folder's name after a class's title: fine on every system, and not there yet in `beside`.

    A title without a letter from A to Z is called by its day.
    """
    plain = unicodedata.normalize("NFKD", title.casefold().replace("ß", "ss"))
    letters = "".join(char for char in plain if not unicodedata.combining(char))
    name = re.sub(r"[^a-z0-9]+", "-", letters)[:_LONGEST_NAME].strip("-")
    if not name or is_device(name):
        name = "-".join(filter(None, ("class", name, re.sub(r"[^0-9-]", "", day)))).strip("-")
    there = _names_in(beside)
    number, free = 2, name
    while free in there:
        free, number = f"{name}-{number}", number + 1
    return free


def class_text(said: NewClass, by: str) -> str:
    """The `class.yaml` of a class. Raises `DefinitionError` where a field cannot be read."""
    mode: Mode = "practice" if any(lab.mode == "practice" for lab in said.labs) else "assessed"
    held: Held = "laptops" if any(lab.held == "laptops" for lab in said.labs) else "room"
    lines = [
        f"# Begun by {plain_text(by)} on {CLOCK.moment().date().isoformat()}.",
        f"id: {said.name}",
        f"title: {_scalar(said.title)}",
        *([f"date: {_scalar(said.date)}"] if said.date.strip() else []),
        *([f"place: {_scalar(said.place)}"] if said.place.strip() else []),
        "labs:",
        *(line for lab in said.labs for line in _lab_lines(lab, mode, held)),
        f"mode: {mode}",
        f"held: {held}",
        *([f"pass_mark: {_scalar(said.pass_mark)}"] if said.pass_mark.strip() else []),
    ]
    return "\n".join(lines) + "\n"


def checked(said: NewClass, by: str = "") -> ClassFields:
    """What the class's file will say, as its reader understands it. Raises with sentences."""
    if not plain_text(said.title):
        raise ClassError("The title is empty. Write what the class is called.")
    if len(said.title) > LONGEST_TITLE or len(said.place) > LONGEST_TITLE:
        raise ClassError(f"Title and place have at most {LONGEST_TITLE} characters each.")
    if said.pass_mark.strip() and not _PERCENT.fullmatch(said.pass_mark.strip()):
        raise ClassError("The pass mark is a number from 0 to 100, such as 60; or leave it empty.")
    if not said.labs:
        raise ClassError("No lab is chosen. Choose at least one.")
    if not _ID.fullmatch(said.name) or is_device(said.name):
        raise ClassError(
            f"'{plain_text(said.name)}' cannot be the folder of a class. Use small letters from a "
            "to z, digits and '-' (up to 60), and no name that a system keeps for a device."
        )
    if not all(_ID.fullmatch(lab.lab) for lab in said.labs):
        raise ClassError("There is no such lab. Choose from the list.")
    return read_class_file(class_text(said, by), CLASS_FILE)


def begin_class(beside: Path, said: NewClass, people: Sequence[Person], by: str) -> ClassFolder:
    """Begin a class in a folder of its own in `beside`: all of it, or nothing.

    Raises `ClassError` or `DefinitionError` with what hinders it; never writes over anything.
    """
    checked(said, by)
    roster = roster_text(people)
    path = beside / said.name
    if said.name in _names_in(beside):
        raise ClassError(f"{path} is there already. Choose another name for the folder.")
    Place(beside).made()
    try:
        # Whoever makes the folder has the name: two trainers do not begin the same class.
        path.mkdir(OWNERS_FOLDER)
    except FileExistsError:
        raise ClassError(f"{path} is there already. Choose another name for the folder.") from None
    place = Place(path)
    try:
        place.write(roster, ROSTER_FILE)
        _require_same(path / ROSTER_FILE, people)
        # Last: a folder is a class from when it has this file.
        place.write(class_text(said, by), CLASS_FILE)
        return ClassFolder.open(path)
    except BaseException:
        for file in (CLASS_FILE, ROSTER_FILE):
            place.remove(file)
        with suppress(OSError):
            path.rmdir()
        raise


def _require_same(roster: Path, people: Sequence[Person]) -> None:
    """Raise `ClassError` unless the roster is read as exactly these people."""
    here = tuple(person.trainee for person in people if not person.left_out)
    if read_roster(roster) != here:
        raise ClassError(
            "The roster would not be read as the people on this page. Look for odd characters in "
            "names, and type them anew."
        )


def _names_in(folder: Path) -> set[str]:
    """What is there already, whatever its case; links that lead nowhere too."""
    try:
        return {each.name.casefold() for each in folder.iterdir()}
    except FileNotFoundError:
        return set()


def _lab_lines(lab: ChosenLab, mode: Mode, held: Held) -> list[str]:
    own = [
        *([f"    mode: {lab.mode}"] if lab.mode != mode else []),
        *([f"    held: {lab.held}"] if lab.held != held else []),
    ]
    return [f"  - lab: {lab.lab}", *own] if own else [f"  - {lab.lab}"]


def _scalar(text: str) -> str:
    plain = plain_text(text).strip()
    # JSON's text is YAML's too.
    return plain if _NEEDS_NO_QUOTES.fullmatch(plain) else json.dumps(plain, ensure_ascii=False)
