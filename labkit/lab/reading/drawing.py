"""Reading `draw:` — what each name is drawn from."""

from __future__ import annotations

import re
from collections.abc import Mapping
from decimal import Decimal
from typing import Final

from labkit.lab.definition import Listing, Parameter, Rows, Span
from labkit.lab.reading.field_reader import FieldReader
from labkit.lab.reading.fields import DrawFields
from labkit.language.expression import Formula, Value
from labkit.language.problems import nearest
from labkit.language.tables import Table

MAX_SPAN: Final = 1_000_000
_NUMBER: Final = re.compile(r"[+-]?\d+(\.\d+)?")


def read_parameter(name: str, fields: DrawFields, reader: FieldReader) -> Parameter:
    """Read one drawn name. Raises `DefinitionError` with its place and a mend."""
    path = ("draw", name)
    if fields.where is not None:
        raise reader.error(
            "'where' chooses among the rows of a table.",
            "Add 'row of:' with the table's name, or write a rule under 'valid'.",
            *path,
            "where",
        )
    count = _count(fields, reader, path)
    choices = _listing(fields.one_of) if fields.one_of is not None else _span(fields, reader, path)
    if fields.one_of is not None and any((fields.first, fields.last, fields.step)):
        raise reader.error("has both 'one of' and a range.", "Keep one of the two.", *path)
    return Parameter(name, reader.place(*path), choices, count, fields.different)


def read_row(
    name: str,
    fields: DrawFields,
    reader: FieldReader,
    tables: Mapping[str, Table],
    known: Mapping[str, Value],
) -> Parameter:
    """Read a name drawn from a table's rows. Raises `DefinitionError` with its place and a mend.

    `known` are the values that a condition may use beside the row's own fields.
    """
    path = ("draw", name)
    table = tables.get(fields.row_of or "")
    if table is None:
        mend = nearest(fields.row_of or "", tables) or "Name its file under 'tables:' first."
        raise reader.error(
            f"there is no table '{fields.row_of}' in this lab.", mend, *path, "row of"
        )
    if fields.one_of is not None or any((fields.first, fields.last, fields.step)):
        raise reader.error(
            "has both 'row of' and values of its own.", "Keep one of the two.", *path
        )
    count = _count(fields, reader, path)
    rows = _fitting(fields, reader, path, table, known)
    return Parameter(name, reader.place(*path), rows, count, fields.different)


def _fitting(
    fields: DrawFields,
    reader: FieldReader,
    path: tuple[str, ...],
    table: Table,
    known: Mapping[str, Value],
) -> Rows:
    """The rows for which the condition holds; all of them without one."""
    called = fields.row_of or ""
    if fields.where is None:
        return Rows(table.rows, table=called)
    names = {*known, *table.fields}
    place = reader.place(*path, "where")
    condition = reader.language.formula(fields.where, place, names)
    values = reader.language.values(known)
    rows = tuple(row for row in table.rows if condition.evaluate({**values, **row}))
    if not rows:
        raise reader.error(
            f"no row of the table '{fields.row_of}' fulfils this.",
            "Loosen the condition, or add rows to the table.",
            *path,
            "where",
        )
    return Rows(rows, condition.names - {*table.fields}, called)


def _count(fields: DrawFields, reader: FieldReader, path: tuple[str, ...]) -> Formula | None:
    count = reader.formula(fields.count, *path, "count") if fields.count is not None else None
    if fields.different and count is None:
        raise reader.error(
            "'different' is for several values.", "Add 'count', or drop it.", *path, "different"
        )
    return count


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
