"""What a form wants to stand in a block: texts, groups, and rows that know which they were."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any, Final, Union

from labkit.lab.reading.source import read_fields
from labkit.language.problems import DefinitionError, Place, Problem

Wanted = Union[str, "Written", list["Row"], dict[str, "Wanted"]]
"""Of one field. A group has no more fields than are to be written."""


@dataclass(frozen=True, slots=True)
class Written:
    """A field's lines as they are to stand in the file."""

    lines: str

    @property
    def data(self) -> Any:
        """What they say. Raises `DefinitionError`, whose lines count from 1."""
        return read_fields(f"{_ANY}:{self.behind_its_name(2)}\n", "", 1).data[_ANY]

    @property
    def problem(self) -> Problem | None:
        """Why they cannot be read, where they cannot; its line counts from the first of them."""
        try:
            self.data  # noqa: B018
        except DefinitionError as error:
            first = error.problems[0]
            line = first.place.line - self.behind_its_name(2).startswith("\n")
            return Problem(Place("", max(line, 1)), first.message, first.mend)
        return None

    def behind_its_name(self, indent: int) -> str:
        """How they stand behind the field's name and its colon."""
        first, *others = self.lines.strip("\n").split("\n")
        if first.startswith(("|", ">")):
            return "\n".join([f" {first}", *indented(others, indent)])
        if others or _BELOW.match(first):
            return "\n".join(["", *indented([first, *others], indent)])
        return f" {first}"


@dataclass(frozen=True, slots=True)
class Row:
    """An item of a list: which one of the list in the file it was (None: none), and what it is."""

    was: int | None
    now: Wanted


_ANY: Final = "field"
_BELOW: Final = re.compile(r"""-(\s|$)|[^\s{\["'][^{\["']*:(\s|$)""")
"""A line that begins a list or a group of fields stands below the name, not behind it."""


def indented(lines: list[str], by: int) -> list[str]:
    """The lines, moved to the right; blank ones stay empty."""
    return [" " * by + line if line.strip() else "" for line in lines]


def same(data: Any, wanted: Wanted) -> bool:
    """Whether data of a file say what is wanted. A line end at the end of a text does not count."""
    if isinstance(wanted, str):
        return isinstance(data, str) and as_typed(data) == as_typed(wanted)
    if isinstance(wanted, Written):
        return _says(wanted, data)
    if isinstance(wanted, list):
        return (
            isinstance(data, list)
            and len(data) == len(wanted)
            and all(same(item, row.now) for item, row in zip(data, wanted, strict=True))
        )
    return (
        isinstance(data, dict)
        and data.keys() == wanted.keys()
        and all(same(data[name], value) for name, value in wanted.items())
    )


def as_typed(text: str) -> str:
    """A text as an author types it: the line end of its last line is none of it."""
    return text.replace("\r\n", "\n").replace("\r", "\n").rstrip("\n")


def _says(wanted: Written, data: Any) -> bool:
    try:
        return bool(wanted.data == data)
    except DefinitionError:
        return False
