"""What the log of a held class says of a person, and taking it out."""

from __future__ import annotations

import json
from collections.abc import Collection, Iterator
from typing import Any

from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.private_place import Place


def room_entries_of(folder: ClassFolder, ids: Collection[str]) -> list[dict[str, Any]]:
    """The entries of the room's log that are of a person with these ids."""
    return [entry for _, entry in _lines(folder) if entry is not None and _is_of(entry, ids)]


def take_out_of_room_log(folder: ClassFolder, ids: Collection[str]) -> None:
    """Write the room's log without a person's entries, and without what cannot be read."""
    kept = [line for line, entry in _lines(folder) if entry is not None and not _is_of(entry, ids)]
    if folder.room_log.exists():
        text = b"".join(line + b"\n" for line in kept)
        Place(folder.room).write(text, folder.room_log.name)


def _is_of(entry: dict[str, Any], ids: Collection[str]) -> bool:
    return entry.get("trainee") in ids or entry.get("by") in ids


def _lines(folder: ClassFolder) -> Iterator[tuple[bytes, dict[str, Any] | None]]:
    try:
        data = folder.room_log.read_bytes()
    except FileNotFoundError:
        return
    for line in data.split(b"\n"):
        if line.strip():
            yield line, _entry(line)


def _entry(line: bytes) -> dict[str, Any] | None:
    try:
        entry = json.loads(line)
    except (ValueError, RecursionError):
        return None
    return entry if isinstance(entry, dict) else None
