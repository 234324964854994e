"""What the log of a held class says of a person, and taking it out."""

from __future__ import annotations

from collections.abc import Collection
from typing import Any

from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.private_place import Place
from labkit.classroom.room_entries import room_entries, room_lines


def room_entries_of(folder: ClassFolder, ids: Collection[str]) -> list[dict[str, Any]]:
    """The entries of the room's log that are of a person with these ids."""
    return [entry for entry in room_entries(folder.room_log) if _is_of(entry, ids)]


def take_out_of_room_log(folder: ClassFolder, ids: Collection[str]) -> None:
    """Write the room's log without a person's entries, and without what cannot be read."""
    lines = room_lines(folder.room_log)
    kept = [line for line, entry in lines if entry is not None and not _is_of(entry, ids)]
    if folder.room_log.exists():
        text = b"".join(line + b"\n" for line in kept)
        Place(folder.room).write(text, folder.room_log.name)


def _is_of(entry: dict[str, Any], ids: Collection[str]) -> bool:
    return any(entry.get(name) in ids for name in ("trainee", "by", "host"))
