"""What whoever puts marks right has seen: nothing is done to a class that is another one by now."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from hashlib import sha256
from typing import Final, Self

from sqlalchemy import Connection, func, select

from labkit.classroom.class_folder import CLASS_FILE, ClassFolder
from labkit.classroom.errors import ClassError
from labkit.classroom.marks.by_exercise import came_in
from labkit.classroom.records.schema import DECIDING
from labkit.classroom.records.store import Records

_HAPPENED: Final[Mapping[str, str]] = {
    "voids": "an exercise was taken out of the marks or brought back",
    "editions": "a lab is marked by another text or by other rules",
    "manual_marks": "a mark was given by hand",
    "counting": "another hand-in counts for somebody",
    "together": "two were let work together, or parted",
    "renamed": "an id was corrected",
    "erasures": "somebody was erased",
}


@dataclass(frozen=True, slots=True)
class SeenClass:
    """The numbers of the last entries that decide about results, a table each, and a digest of what
    lies in the class's `hand-ins` and in `class.yaml`."""

    entries: tuple[int, ...]
    files: str

    @classmethod
    def of(cls, folder: ClassFolder, records: Records) -> Self:
        """A class as it is now."""
        with records.reading() as connection:
            return cls(_entries(connection), _files(folder))

    def require(self, folder: ClassFolder, records: Records) -> None:
        """Raise `ClassError` unless the class is as it was seen."""
        with records.reading() as connection:
            self.require_entries(connection)
        if self.files != _files(folder):
            raise _changed("something came into 'hand-ins', or class.yaml was changed")

    def require_entries(self, connection: Connection) -> None:
        """Raise `ClassError` unless the records decide as they did."""
        now = _entries(connection)
        for table, seen, last in zip(DECIDING, self.entries, now, strict=True):
            if seen != last:
                raise _changed(_HAPPENED[table.name])


def _changed(what: str) -> ClassError:
    return ClassError(
        f"Nothing was done: meanwhile {what}. Look once more at what would change, and do it then."
    )


def _entries(connection: Connection) -> tuple[int, ...]:
    lasts = (connection.execute(select(func.max(table.c.id))).scalar() for table in DECIDING)
    return tuple(last or 0 for last in lasts)


def _files(folder: ClassFolder) -> str:
    rules = (folder.path / CLASS_FILE).read_bytes()
    return sha256(repr((came_in(folder), rules)).encode()).hexdigest()
