"""What is held of a person, in a few sentences, before anybody erases it."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from hashlib import sha256
from typing import Any

from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.errors import ClassError
from labkit.classroom.people.erasing import Erasure, erase
from labkit.classroom.people.personal import held_of
from labkit.classroom.records.handed_on import to_delete
from labkit.classroom.records.store import Records


def held_in_words(folder: ClassFolder, found: dict[str, Any]) -> Iterator[str]:
    """What `held_of` found, in words."""
    trainee, records = found["trainee"], found["records"]
    names = {item["name"] for item in (*found["roster"], *found["deal"])}
    yield f"{' or '.join(sorted(names)) or 'A person without a name'} ({trainee})."
    amounts = (
        _counted(found["deal"], "workbook", "workbooks"),
        _counted(found["files"], "file", "files"),
        _counted(records["marks"], "mark", "marks"),
        _counted(records["receipts"], "receipt", "receipts"),
        _counted(found["room"], "entry of the room", "entries of the room"),
    )
    yield f"{', '.join(amounts)}."
    if serials := [row["serial"] for row in records["certificates"]]:
        yield (
            f"Certificates: {', '.join(serials)}. That they were issued stays, without the name, "
            "and they are withdrawn."
        )
    elsewhere = list(to_delete(folder, Records.of(folder), trainee))
    if elsewhere:
        yield "Outside of the class labkit reaches nothing. Written there:"
        yield from elsewhere


def _counted(items: Sequence[Any], one: str, many: str) -> str:
    return f"{len(items)} {one if len(items) == 1 else many}"


def digest_of(found: dict[str, Any]) -> str:
    """A name for all that is held of a person: another one once anything of it has changed."""
    same = {key: value for key, value in found.items() if key != "made_at"}
    return sha256(json.dumps(same).encode()).hexdigest()


def erase_seen(
    folder: ClassFolder, trainee: str, *, seen: str, reason: str, keep_marks: bool
) -> Erasure:
    """Erase a person of whom somebody has `seen` what is held: `digest_of` of it.

    Raises `ClassError`.
    """
    if digest_of(held_of(folder, trainee)) != seen:
        raise ClassError("Something more came to be held of them meanwhile: look at it once more.")
    return erase(folder, trainee, reason=reason, keep_marks=keep_marks)
