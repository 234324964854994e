"""Names and versions of the files that pass between machines.

A later labkit reads what an earlier one wrote: each format has a table of its versions' readers.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final, TypeVar

from labkit.errors import LabkitError

TASK_FORMAT: Final = "labkit task"
TASK_VERSION: Final = 1
TASK_ENDING: Final = ".task.json"
WORKBOOK_METADATA: Final = "labkit"
"""What of a notebook's metadata is ours: which workbook it is, and that it starts by itself."""

DRILLS_FORMAT: Final = "labkit drills"
DRILLS_VERSION: Final = 1
DRILLS_ENDING: Final = ".drills.json"

HAND_IN_FORMAT: Final = "labkit hand-in"
HAND_IN_VERSION: Final = 1
HAND_IN_ENDING: Final = ".handin.json"

JOURNAL_ENDING: Final = ".answers.jsonl"

_Reader = TypeVar("_Reader")


class NewerVersionError(LabkitError):
    """A later labkit wrote the file; whoever reads it says what to do."""


def reader_of(readers: Mapping[int, _Reader], version: object) -> _Reader | None:
    """The reader of a version; None for what never was one. Raises `NewerVersionError`."""
    if type(version) is not int:  # True is no version, and 1.0 is none
        return None
    if version > max(readers):
        raise NewerVersionError("It was made by a newer version of labkit: update labkit.")
    return readers.get(version)
