"""One room of a class at a time, and nothing that changes its people while it is open."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Final

from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.errors import ClassError
from labkit.classroom.private_place import Place, keep_private

HELD_FILE: Final = "held.sqlite"
"""The file in the folder `room/` that is locked while the room is open."""


@contextmanager
def holding(folder: ClassFolder) -> Iterator[None]:
    """Hold a class's room alone. Raises `ClassError` while it is open elsewhere.

    SQLite's lock on a file is there on every system, and ends with the process whatever ends it.
    """
    file = Place(folder.room).made() / HELD_FILE
    keep_private(file)
    # Whoever lets it go may be another thread than the one that took it.
    held = sqlite3.connect(file, timeout=0, isolation_level=None, check_same_thread=False)
    try:
        try:
            held.execute("BEGIN EXCLUSIVE")
        except sqlite3.OperationalError:
            raise ClassError(
                f"The room of {folder.path} is open, in another window of this machine. Go on "
                "there, or end it there first (Ctrl+C)."
            ) from None
        yield
    finally:
        held.close()


def is_held(folder: ClassFolder) -> bool:
    """Whether the room of a class is open now, in any window of this machine."""
    if not (folder.room / HELD_FILE).exists():
        return False
    try:
        with holding(folder):
            return False
    except ClassError:
        return True
