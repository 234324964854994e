"""Reading `draw:` — what each name is drawn from."""

from __future__ import annotations

import re
from decimal import Decimal
from typing import Final

from labkit.lab.definition import Listing, Parameter, Span
from labkit.lab.reading.field_reader import FieldReader
from labkit.lab.reading.fields import DrawFields

MAX_SPAN: Final = 1_000_000
_NUMBER: Final = re.compile(r"[+-]?\d+(\.\d+)?")


def read_parameter(name: str, fields: DrawFields, reader: FieldReader) -> Parameter:
    """Read one drawn name. Raises `DefinitionError` with its place and a mend."""
    path = ("draw", name)
    count = reader.formula(fields.count, *path, "count") if fields.count is not None else None
    if fields.different and count is None:
        raise reader.error(
            "'different' is for several values.", "Add 'count', or drop it.", *path, "different"
        )
    choices = _listing(fields.one_of) if fields.one_of is not None else _span(fields, reader, path)
    if fields.one_of is not None and any((fields.first, fields.last, fields.step)):
        raise reader.error("has both 'one of' and a range.", "Keep one of the two.", *path)
    return Parameter(name, reader.place(*path), choices, count, fields.different)


def _listing(values: list[str]) -> Listing:
    return Listing(tuple(_scalar(value) for value in values))


def _scalar(value: str) -> int | float | str:
    if not _NUMBER.fullmatch(value):
        return value
    return float(value) if "." in value else int(value)


def _span(fields: DrawFields, reader: FieldReader, path: tuple[str, ...]) -> Span:
    if fields.first is None or fields.last is None:
        raise reader.error(
            "does not say what to draw from.",
            "Write 'one of: [a, b]' or 'from: 1' and 'to: 9'.",
            *path,
        )
    first = reader.number(fields.first, *path, "from")
    last = reader.number(fields.last, *path, "to")
    step = reader.number(fields.step, *path, "step") if fields.step is not None else Decimal(1)
    if step <= 0:
        raise reader.error(
            "must be more than 0.",
            "Write how far apart the values lie, such as 0.5.",
            *path,
            "step",
        )
    if last < first:
        raise reader.error(
            f"{last} is below 'from' ({first}).",
            f"Exchange them: from: {last}, to: {first}",
            *path,
            "to",
        )
    if (last - first) / step > MAX_SPAN:
        raise reader.error(f"has over {MAX_SPAN} values.", "Take a larger step.", *path)
    if (last - first) % step:
        raise reader.error(
            f"{last} is not reached from {first} in steps of {step}.",
            f"Write {first + (last - first) // step * step}, or change the step.",
            *path,
            "to",
        )
    return Span(first, last, step)
