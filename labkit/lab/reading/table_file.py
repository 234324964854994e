"""A table that lies beside a lab, as an office program saves it: CSV or XLSX, read and checked.

A lab may come from a stranger: only the file itself is read, no more of it than a table needs, and
what begins as a formula of an office program is refused.
"""

from __future__ import annotations

import csv
import io
import os
import re
import unicodedata
from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from hashlib import sha256
from pathlib import Path
from typing import Final, NoReturn

from labkit.exchange.spreadsheet import is_sheet
from labkit.lab.reading.fields import id_like
from labkit.lab.reading.own_file import NoOwnFileError, bytes_of_own, name_meant, where_it_is
from labkit.lab.reading.sheet_file import SheetError, rows_of_sheet
from labkit.lab.reading.source import Source
from labkit.language.expression import RESERVED
from labkit.language.number import THREE, QuantityError, read_number
from labkit.language.problems import DefinitionError, Place, Problem, definition_error
from labkit.language.quantity import Unit, unit_named, what_unit
from labkit.language.tables import Row, Table

MAX_TABLES: Final = 20
MAX_FILE: Final = 1_000_000
MAX_CELLS: Final = 10_000
MAX_CELL: Final = 500
_NAME: Final = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{0,99}")
_SOURCE: Final = re.compile(r"#\s*source\s*:\s*(.*\S)", re.IGNORECASE)
_HEADING: Final = re.compile(r"(.*?)\s*(\[[^\[\]]*\]|\([^()]*\))?")
_NUMBER: Final = re.compile(r"[+\-\u2212]?(?!0\d)\d[\d.,'\u2019 \u00a0]*(?:[eE][+-]?\d{1,2})?")
_NUMBER_WITH_UNIT: Final = re.compile(r"([+\-\u2212]?\d[\d.,]*)\s*[^\d\s.,][^\d]*")
_POINT_BEFORE_THREE: Final = re.compile(r"\d{1,3}\.\d{3}")
_ENDINGS: Final = (".csv", ".xlsx")
_TEXT: Final = "text"
"""In the place of a unit: the column is text, whatever its cells look like."""
_TAKEN: Final = frozenset(dir(dict)) | RESERVED


@dataclass(frozen=True, slots=True)
class TableFile:
    """A table's file: what the lab calls it, its name and data, and what it holds."""

    called: str
    name: str
    data: bytes = field(repr=False)
    table: Table = field(repr=False)

    @property
    def digest(self) -> str:
        """The SHA-256 of its data."""
        return sha256(self.data).hexdigest()


@dataclass(frozen=True, slots=True)
class _Column:
    heading: str
    name: str
    unit: Unit | None
    text: bool


@dataclass(frozen=True, slots=True)
class _Line:
    number: int
    cells: list[str]
    parting: str = ""

    @property
    def as_written(self) -> str:
        """Its text, whose own commas part no cells."""
        return f"{self.parting} ".join(filter(None, self.cells))


def tables_of(folder: Path, source: Source) -> tuple[TableFile, ...]:
    """The tables that the header of a definition names, those too that cannot be read.

    Raises `DefinitionError` where there are too many.
    """
    named = source.header.data.get("tables")
    if not isinstance(named, dict):
        return ()  # what is no group of fields is refused where the header is read
    if len(named) > MAX_TABLES:
        message = f"the lab names more than {MAX_TABLES} tables."
        raise definition_error(source.header.place(("tables",)), message, "Take some out.")
    return tuple(_table_file(folder, source, called, str(named[called])) for called in named)


def problems_of(tables: Iterable[TableFile]) -> list[Problem]:
    """Why some of them cannot be read."""
    return [problem for each in tables for problem in each.table.problems]


def _table_file(folder: Path, source: Source, called: str, name: str) -> TableFile:
    place = source.header.place(("tables", called))
    shown = f"{Path(source.file).parent.name}/{name}".removeprefix("/")
    data = b""
    try:
        data = _read(folder, name, place)
        table = _Reader(shown, place).table(data)
    except DefinitionError as error:
        table = Table(place, problems=error.problems)
    return TableFile(called, name, data, table)


def _read(folder: Path, name: str, place: Place) -> bytes:
    if "/" in name or "\\" in name or name.startswith("."):
        raise definition_error(
            place,
            f"the table '{name[:80]}' does not lie beside lab.md.",
            "Put the file into the lab's own folder and write its name alone.",
        )
    if name.lower().endswith((".xls", ".ods")):
        raise definition_error(
            place,
            f"the table '{name[:80]}' is in a format that is not read here.",
            "Save it as CSV or XLSX beside lab.md, and name that file.",
        )
    if not _NAME.fullmatch(name) or not name.lower().endswith(_ENDINGS):
        raise definition_error(
            place,
            f"'{name[:80]}' cannot name a table.",
            "Name a CSV or XLSX file in letters, digits, '-' and '_', such as "
            f"{name_meant(name, folder, _ENDINGS) or 'devices.csv'}.",
        )
    try:
        names = os.listdir(folder)
    except OSError:
        names = []
    if name not in names:
        mend = where_it_is(name, folder, _ENDINGS)
        raise definition_error(place, f"the table '{name}' is not there.", mend)
    try:
        data = bytes_of_own(folder / name, MAX_FILE + 1)
    except NoOwnFileError:
        raise definition_error(
            place,
            f"'{name}' is no file of its own: a link leads out of the lab's folder.",
            "Put a copy of the table there.",
        ) from None
    except OSError as error:
        reason = error.strerror or "it cannot be read"
        raise definition_error(
            place, f"the table '{name}': {reason}.", "Look at the file."
        ) from error
    if len(data) > MAX_FILE:
        raise definition_error(
            place,
            f"the table '{name}' has more than {MAX_FILE // 1_000_000} MB.",
            "Keep the rows that the lab needs.",
        )
    return data


@dataclass(slots=True)
class _Reader:
    """Reads one table, whose file is told by the name `file`; the lab names it at `place`."""

    file: str
    place: Place
    comma: bool = False
    """Whether cells may have decimal commas with three digits: commas part nothing here."""

    def table(self, data: bytes) -> Table:
        """The table in the bytes of a file. Raises `DefinitionError`."""
        lines, source = self._parted(self._sheet(data) if is_sheet(data) else self._lines(data))
        if not source:
            self._fail(
                1,
                "the table does not say where its values come from.",
                "Write a line above the heading, such as '# source: invented for this lab'.",
            )
        if len(source) > MAX_CELL:
            self._fail(1, f"the source has more than {MAX_CELL} characters.", "Shorten it.")
        heading, *rows = lines
        columns = self._columns(heading)
        if not rows:
            self._fail(heading.number, "the table has no rows.", "Write them below the heading.")
        if len(rows) * len(columns) > MAX_CELLS:
            self._fail(
                heading.number,
                f"the table has more than {MAX_CELLS} cells.",
                "Keep the rows and columns that the lab needs.",
            )
        for line in rows:
            self._check_width(line, columns)
        made = [self._column(rows, at, column) for at, column in enumerate(columns)]
        fields = {column.name: column.unit for column in columns}
        found = tuple(Row(zip(fields, values, strict=True)) for values in zip(*made, strict=True))
        return Table(self.place, fields, found, source)

    def _text(self, data: bytes) -> str:
        if data.startswith((b"\xff\xfe", b"\xfe\xff")):
            return data.decode("utf-16", errors="replace")
        if b"\0" in data:
            self._fail(1, "this is no table.", "Save the sheet as CSV from your office program.")
        try:
            return data.decode("utf-8-sig")
        except UnicodeDecodeError:
            # What office programs of Western Europe save as CSV without a word about it.
            return data.decode("cp1252", errors="replace")

    def _parted(self, rows: Iterable[_Line]) -> tuple[list[_Line], str]:
        """The heading and the rows, and the source that a line above the heading names."""
        source = ""
        found: list[_Line] = []
        for row in rows:
            if not found and row.cells[0].startswith("#"):
                note = _SOURCE.match(row.as_written)
                source = note[1] if note else source
            else:
                found.append(row)
        if not found:
            self._fail(1, "the table is empty.", "Write a heading and rows below it.")
        return found, source

    def _lines(self, data: bytes) -> Iterator[_Line]:
        """The lines of a CSV file that hold something."""
        text = self._text(data)
        lines = text.splitlines()
        first = next((line for line in lines if line.strip(' ,;\t"') and not _is_note(line)), "")
        parting = max(",;\t", key=Counter(re.sub(r'"[^"]*"', "", first)).__getitem__)
        self.comma = parting != ","
        reader = csv.reader(io.StringIO(text, newline=""), delimiter=parting, strict=True)
        begins = 1
        try:
            for cells in reader:
                number, begins = begins, reader.line_num + 1
                stripped = [cell.strip() for cell in cells]
                if any(stripped):
                    yield _Line(number, stripped, parting)
        except csv.Error:
            self._fail(
                begins,
                "from here on the table cannot be read: a quotation mark has no other one.",
                "Look at the quotation marks of this row, or save the sheet as CSV anew.",
            )

    def _sheet(self, data: bytes) -> Iterator[_Line]:
        """The rows of an XLSX file's first sheet that hold something."""
        try:
            rows = rows_of_sheet(data, 2 * MAX_CELLS)
        except SheetError as error:
            self._fail(1, str(error), "Save the sheet as CSV from your office program.")
        return (_Line(number, cells) for number, cells in rows)

    def _columns(self, heading: _Line) -> list[_Column]:
        written = heading.cells
        while written and not written[-1]:
            written = written[:-1]
        columns: list[_Column] = []
        for number, lines in enumerate(written, 1):
            cell = " ".join(lines.split())
            match = _HEADING.fullmatch(cell)
            assert match  # anything is words without brackets behind them
            words, behind = match[1], match[2] or ""
            name = _name_in(words)
            if not name:
                such = f"column {number} {behind}".strip()
                self._fail(
                    heading.number,
                    f"the heading '{cell[:60]}' gives no name for formulas.",
                    f"A name has letters a to z and digits, first a letter: such as '{such}'.",
                )
            if name in _TAKEN:
                self._fail(
                    heading.number,
                    f"'{name}' cannot be the name of a column.",
                    f"Write another word, such as '{name} no' or what it is of.",
                )
            if any(name == each.name for each in columns):
                self._fail(
                    heading.number, f"two columns are called '{name}'.", "Give one another name."
                )
            inside = behind[1:-1].strip()
            text = inside.lower() == _TEXT
            unit = self._unit(heading.number, inside) if inside and not text else None
            columns.append(_Column(cell, name, unit, text))
        return columns

    def _unit(self, line: int, written: str) -> Unit:
        try:
            return unit_named(written)
        except QuantityError as error:
            sentence, mend = what_unit(written[:60], error)
            otherwise = "A note that is no unit stands without brackets."
            self._fail(line, sentence, f"{mend} {otherwise}")

    def _check_width(self, line: _Line, columns: list[_Column]) -> None:
        while len(line.cells) > len(columns) and not line.cells[-1]:
            line.cells.pop()
        if len(line.cells) != len(columns):
            self._fail(
                line.number,
                f"this row has {len(line.cells)} cells, the heading {len(columns)}.",
                "Fill each cell; a text that holds the sign between cells stands in quotation "
                "marks.",
            )

    def _column(self, rows: list[_Line], at: int, column: _Column) -> list[float | int | str]:
        cells = [line.cells[at] for line in rows]
        for line, cell in zip(rows, cells, strict=True):
            self._check_cell(line.number, cell, column)
        numbers = sum(1 for cell in cells if _NUMBER.fullmatch(cell))
        of_numbers = column.unit or 2 * numbers > len(cells)
        if column.text or not of_numbers:
            return list(cells)
        return [
            self._number(line.number, cell, column) for line, cell in zip(rows, cells, strict=True)
        ]

    def _check_cell(self, line: int, cell: str, column: _Column) -> None:
        if not cell:
            self._fail(
                line,
                "this cell is empty.",
                "Fill it ('none' in a column of text), or take the row out.",
                column,
            )
        if cell.startswith(("=", "@")):
            self._fail(
                line,
                f"'{cell[:40]}' is a formula of an office program.",
                "Write its value: nothing in a table is worked out.",
                column,
            )
        if len(cell) > MAX_CELL:
            self._fail(
                line, f"this cell has more than {MAX_CELL} characters.", "Shorten it.", column
            )

    def _number(self, line: int, cell: str, column: _Column) -> float | int:
        with_unit = _NUMBER_WITH_UNIT.fullmatch(cell)
        if column.unit and with_unit:
            self._fail(
                line,
                f"'{cell[:40]}' holds more than a number; the unit stands in the heading.",
                f"Write {with_unit[1]} alone.",
                column,
            )
        if not _NUMBER.fullmatch(cell):
            self._fail(
                line,
                f"'{cell[:40]}' is no number, and this is a column of numbers.",
                "Write a number; a column of text says so in its heading: "
                f"'{column.name.replace('_', ' ')} [text]'.",
                column,
            )
        if self.comma and _POINT_BEFORE_THREE.fullmatch(cell):
            self._fail(
                line,
                f"'{cell}' can be read in two ways: thousands, or three decimals.",
                f"Write {cell.replace('.', '')} for thousands, or {cell.replace('.', ',')}.",
                column,
            )
        try:
            value = read_number(cell, THREE if self.comma else 0)
        except QuantityError as error:
            self._fail(line, f"{str(error).rstrip('.')}.", "", column)
        return int(value) if value == value.to_integral_value() else float(value)

    def _fail(self, line: int, message: str, mend: str, column: _Column | None = None) -> NoReturn:
        place = Place(self.file, line, column.heading[:60] if column else "")
        raise DefinitionError([Problem(place, message, mend)])


def _name_in(words: str) -> str:
    """The name in letters a to z that a heading gives; "" where one of its letters has none."""
    composed = unicodedata.normalize("NFC", words)
    name = id_like(composed).replace("-", "_")
    lost = any(letter.isalpha() and not id_like(letter) for letter in composed)
    return "" if lost or not re.fullmatch(r"[a-z][a-z0-9_]{0,59}", name) else name


def _is_note(line: str) -> bool:
    return line.lstrip(' "').startswith("#")
