"""What an exercise says that is taken from another lab: `from:`, and the names that it is given."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final, TypeGuard

from pydantic import Field

from labkit.lab.reading.fields import Name, Strict, Text, check_fields
from labkit.lab.reading.source import BlockPart, Fields, ProsePart
from labkit.language.problems import DefinitionError, Place, definition_error

FROM: Final = "from"
GIVEN: Final = "given"
_ID: Final = r"([a-z0-9][a-z0-9-]{0,59})"
_LINE: Final = re.compile(rf"{_ID}/{_ID}(?:\s+(\d+(?:\.\d+){{0,2}}))?")


class _TakingFields(Strict):
    """What stands in an exercise beside the fields that it changes."""

    taken_from: Text = Field(alias=FROM)
    given: dict[Name, Text] = Field(default={}, alias=GIVEN)


@dataclass(frozen=True, slots=True)
class TakenLine:
    """The other lab's folder, the exercise there, and the version that was seen, "" for any.

    `given` has formulas of the taking lab in the place of the other's names.
    """

    lab: str
    exercise: str
    version: str
    given: Mapping[str, str]


def is_taken(part: ProsePart | BlockPart) -> TypeGuard[BlockPart]:
    """Whether a part is an exercise that is still to be taken from another lab."""
    if not isinstance(part, BlockPart) or part.word != "exercise" or part.problems:
        return False
    return FROM in part.fields.data


def taken_line(block: BlockPart) -> TakenLine:
    """What it says. Raises `DefinitionError`."""
    fields = block.fields
    own = {name: value for name, value in fields.data.items() if name in (FROM, GIVEN)}
    label = f"exercise '{block.name}': "
    said: _TakingFields = check_fields(
        _TakingFields, Fields(own, fields.file, fields.line, fields.lines), label
    )
    found = _LINE.fullmatch(said.taken_from.strip())
    if found is None:
        raise definition_error(
            place_of(block),
            f"'{said.taken_from}' is not a lab and an exercise of it.",
            "Write the lab's folder, '/' and the exercise's id, such as "
            "'from: network-power/warm-copper'.",
        )
    return TakenLine(found[1], found[2], found[3] or "", said.given)


def names_exercise(value: Any) -> bool:
    """Whether a value is a lab and an exercise of it, whatever the field is called."""
    return isinstance(value, str) and _LINE.fullmatch(value.strip()) is not None


def labs_named(parts: tuple[ProsePart | BlockPart, ...]) -> list[str]:
    """The labs that exercises are taken from, in the order of the text; no line that is wrong."""
    named: dict[str, None] = {}
    for part in filter(is_taken, parts):
        try:
            named[taken_line(part).lab] = None
        except DefinitionError:
            continue  # told where the exercise is read
    return [*named]


def place_of(block: BlockPart, *path: str) -> Place:
    """The place of its `from:`, or of a field below `given:`."""
    return block.fields.place(path or (FROM,), f"exercise '{block.name}': ")
