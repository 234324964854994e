"""Reading the kind `table`: columns, rows, given cells and blanks."""

from __future__ import annotations

from collections import ChainMap
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Annotated, Any, Final

from pydantic import Field, model_validator

from labkit.doors.prepared import Prepared, Preparer
from labkit.kinds.common.cell_data import CellKey, GroupSlip, TableCell
from labkit.kinds.common.read_apart import check_ids
from labkit.kinds.table.data import TableAsk, TableKey
from labkit.kinds.table.read_cells import Blank, BlankFields, read_blank
from labkit.lab.reading.field_reader import FieldReader
from labkit.lab.reading.fields import ExerciseFields, Id, Strict, Text
from labkit.language.expression import Formula, Prose, Value
from labkit.language.problems import definition_error
from labkit.language.stream import Stream

MOST_ROWS: Final = 60
ITEM: Final = "item"
NUMBER: Final = "number"

Names = Mapping[str, Value]


class CellFields(BlankFields):
    """A cell: plain text is given to the trainee, a group of fields with `answer` is a blank."""

    given: str | None = None
    answer: Text | None = None  # type: ignore[assignment]

    @model_validator(mode="before")
    @classmethod
    def _plain_text_is_given(cls, data: Any) -> Any:
        return {"given": data} if isinstance(data, str) else data


class RowSlipFields(Strict):
    """A mistake that spoils a whole row: a formula for each of its blanks, in order."""

    id: Id = Field(description="Small letters, digits and '-'.")
    answers: list[Text] = Field(
        min_length=1, description="A formula for each blank of the row, in their order."
    )
    tell: Text = Field(description="What the trainee reads.")


class RowFields(Strict):
    """A row; with `each`, a row for every item of a list, known to the cells as `item`."""

    each: Text | None = Field(
        default=None,
        description="A formula that gives a list: then a row for each item, which cells know as "
        "item, its place as number.",
    )
    cells: list[CellFields] = Field(
        min_length=1,
        description="One for each column, each behind '- ': a text is given, {answer: 2 * "
        "length, unit: m} is a blank.",
    )
    slips: list[RowSlipFields] = Field(
        default_factory=list, description="Known mistakes that spoil the whole row."
    )


class TableFields(ExerciseFields):
    """`columns` are the heads; every row has as many cells."""

    columns: Annotated[list[Text], Field(min_length=1, max_length=12)] = Field(
        description="The heads."
    )
    rows: Annotated[list[RowFields], Field(min_length=1, max_length=MOST_ROWS)] = Field(
        description="Each with a cell for each column."
    )


@dataclass(frozen=True, slots=True)
class _RowSlip:
    id: str
    answers: tuple[Formula, ...]
    tell: Prose


@dataclass(frozen=True, slots=True)
class _Row:
    each: Formula | None
    cells: tuple[Prose | Blank, ...]
    slips: tuple[_RowSlip, ...]

    @property
    def blanks(self) -> list[tuple[int, Blank]]:
        """The blanks with the numbers of their columns, from 1."""
        return [(n, cell) for n, cell in enumerate(self.cells, 1) if isinstance(cell, Blank)]

    def turns(self, values: Names) -> Iterator[Names]:
        """What the cells' formulas may use, for every row that this one stands for."""
        if self.each is None:
            yield values
            return
        items = self.each.evaluate(values)
        if not isinstance(items, list | tuple) or not 1 <= len(items) <= MOST_ROWS:
            raise definition_error(
                self.each.place,
                f"'{self.each.text}' does not give a list of 1 to {MOST_ROWS} items.",
            )
        for number, item in enumerate(items, 1):
            # A lab's names are worked out when they are needed: never copied here.
            yield ChainMap({ITEM: item, NUMBER: number}, values)  # type: ignore[arg-type]


class TableReader:
    """Reads a `table` exercise."""

    fields = TableFields

    def read(self, fields: TableFields, reader: FieldReader) -> Preparer:
        """The preparer of this exercise."""
        heads = [reader.prose(text, "columns", n) for n, text in enumerate(fields.columns)]
        rows = [
            _read_row(row, len(heads), reader, "rows", index)
            for index, row in enumerate(fields.rows)
        ]
        if not any(row.blanks for row in rows):
            raise reader.error(
                "no cell is left to fill in.",
                "Give at least one cell an 'answer', such as {answer: 2 * a, unit: m}.",
                "rows",
            )
        return _preparer(heads, rows, reader)


def _read_row(row: RowFields, width: int, reader: FieldReader, *path: str | int) -> _Row:
    if len(row.cells) != width:
        raise reader.error(
            f"has {len(row.cells)} cells, but there are {width} columns.",
            "Give every row a cell for each column.",
            *(*path, "cells"),
        )
    each = None
    if row.each is not None:
        each = reader.formula(row.each, *path, "each")
        for name in (ITEM, NUMBER):
            if name in reader.known:
                raise reader.error(
                    f"'{name}' is a name of this lab, but here it is to stand for the row's own.",
                    "Give the lab's name another one.",
                    *(*path, "each"),
                )
        reader = replace(reader, known=reader.known | {ITEM, NUMBER})
    cells = tuple(
        _read_cell(cell, reader, *path, "cells", index) for index, cell in enumerate(row.cells)
    )
    check_ids([slip.id for slip in row.slips], "slip", reader, *path, "slips")
    blanks = sum(1 for cell in cells if isinstance(cell, Blank))
    slips = tuple(
        _read_slip(slip, blanks, reader, *path, "slips", index)
        for index, slip in enumerate(row.slips)
    )
    return _Row(each, cells, slips)


def _read_cell(cell: CellFields, reader: FieldReader, *path: str | int) -> Prose | Blank:
    if cell.given is not None:
        # What belongs to a blank has no meaning beside a given text.
        extra = sorted(cell.model_fields_set - {"given"})
        if extra:
            raise reader.error(
                f"is given, so '{extra[0]}' has no use.", "Keep one of the two.", *path
            )
        return reader.prose(cell.given, *path)
    return read_blank(cell, reader, *path)


def _read_slip(slip: RowSlipFields, blanks: int, reader: FieldReader, *path: str | int) -> _RowSlip:
    if len(slip.answers) != blanks:
        raise reader.error(
            f"has {len(slip.answers)} formulas, but the row has {blanks} blanks.",
            "Write one formula for each blank, in their order.",
            *(*path, "answers"),
        )
    answers = tuple(
        reader.formula(text, *path, "answers", index) for index, text in enumerate(slip.answers)
    )
    return _RowSlip(slip.id, answers, reader.prose(slip.tell, *path, "tell"))


def _preparer(heads: list[Prose], rows: list[_Row], reader: FieldReader) -> Preparer:
    def prepare(values: Names, _stream: Stream) -> Prepared:
        ask_rows: list[list[TableCell]] = []
        keys: dict[str, CellKey] = {}
        groups: list[GroupSlip] = []
        for row in rows:
            for names in row.turns(values):
                number = len(ask_rows) + 1
                ask_rows.append(
                    [
                        _ask(cell, f"{number}.{column}", names)
                        for column, cell in enumerate(row.cells, 1)
                    ]
                )
                for column, blank in row.blanks:
                    keys[f"{number}.{column}"] = blank.key(names)
                groups += _groups(row, number, names)
        if len(ask_rows) > MOST_ROWS:
            raise reader.error(f"make {len(ask_rows)} rows; at most {MOST_ROWS} fit.", "", "rows")
        ask: TableAsk = {"columns": [head.render(values) for head in heads], "rows": ask_rows}
        key: TableKey = {"cells": keys, "groups": groups}
        return Prepared(ask, key)

    return prepare


def _ask(cell: Prose | Blank, name: str, names: Names) -> TableCell:
    if isinstance(cell, Prose):
        return {"text": cell.render(names)}
    return cell.cell(name, names)


def _groups(row: _Row, number: int, names: Names) -> Iterator[GroupSlip]:
    for slip in row.slips:
        values: dict[str, Any] = {}
        for (column, blank), formula in zip(row.blanks, slip.answers, strict=True):
            values[f"{number}.{column}"] = blank.slip_value(formula, names)
        if None not in values.values():
            yield {"id": slip.id, "values": values, "tell": slip.tell.render(names)}
