"""One line of a roster added or changed: all else stays as the office program saved it.

A CSV file keeps its encoding, its separator, its line ends and every other byte; an XLSX file its
other cells, sheets and formulas. What comes out is read again before it is handed back: where
another line would be read differently, nothing is changed.
"""

from __future__ import annotations

import codecs
import csv
import io
import sys
from collections.abc import Callable, Mapping, Sequence
from typing import Any, Final

from labkit.classroom.encodings import decoded
from labkit.classroom.errors import ClassError
from labkit.classroom.roster import PARTS, header_of, plain_text
from labkit.classroom.roster_table import Table, separated, table_of
from labkit.exchange.spreadsheet import DAMAGED, is_sheet

_READ: Final = ("id", "name", *PARTS, "bench", "seat")
_MARKED: Final = {
    "utf-16": {codecs.BOM_UTF16_LE: "utf-16-le", codecs.BOM_UTF16_BE: "utf-16-be"},
    "utf-32": {codecs.BOM_UTF32_LE: "utf-32-le", codecs.BOM_UTF32_BE: "utf-32-be"},
    "utf-8-sig": {codecs.BOM_UTF8: "utf-8"},
    "utf-8": {codecs.BOM_UTF8: "utf-8"},
}
"""What each mark at a file's beginning says of the text after it."""


def columns_of(file: str, data: bytes, encoding: str | None = None) -> list[str]:
    """The columns that labkit reads in a roster, in their usual order. Raises `ClassError`."""
    header = header_of(file, table_of(file, data, encoding))
    return [column for column in _READ if column in header]


def with_person(file: str, data: bytes, encoding: str | None, cells: Mapping[str, str]) -> bytes:
    """The roster with one line more, the last; `cells` by the names of their columns.

    Raises `ClassError`: for a column that is not there, and where the line cannot be added.
    """
    before = table_of(file, data, encoding)
    header = header_of(file, before)
    row = [""] * len(header)
    for column, text in cells.items():
        if column not in header:
            raise ClassError(f"The roster {file} has no column '{column}'.")
        row[header.index(column)] = plain_text(text)
    if is_sheet(data):
        after = _sheet(file, data, lambda sheet: _put(sheet, before.rows[-1][0] + 1, row))
    else:
        text, codec, _ = _text_of(file, data, encoding)
        _, body, separator = separated(text)
        end = "" if body.endswith(("\n", "\r")) else _ending(body)
        line = end + _line(row, separator, _ending(body))
        after = data + _encoded(file, line, codec)
    _require_no_other_change(file, before, after, encoding, [*_cells(before), row])
    return after


def with_id(file: str, data: bytes, encoding: str | None, old: str, new: str) -> bytes:
    """The roster with the id `new` where `old` stands. Raises `ClassError`."""
    before, new = table_of(file, data, encoding), plain_text(new)
    place = header_of(file, before).index("id")
    wanted = [list(row) for row in _cells(before)]
    at = next(
        (at for at, row in enumerate(wanted) if at and _is_cell(row, place, old)),
        None,
    )
    if at is None:
        raise ClassError(f"Nobody with the id '{old}' is in {file}.")
    wanted[at][place] = new
    if is_sheet(data):
        line = before.rows[at][0]
        after = _sheet(file, data, lambda sheet: _put_text(sheet, line, place + 1, new))
    else:
        text, codec, mark = _text_of(file, data, encoding)
        offset, body, separator = separated(text)
        changed = _with_cell(body, separator, before.rows[at][0] - offset, place, new)
        head = text[: len(text) - len(body)]
        if mark + _encoded(file, text, codec) != data:
            raise _unsafe(file)
        after = mark + _encoded(file, head + changed, codec)
    _require_no_other_change(file, before, after, encoding, wanted)
    return after


def _cells(table: Table) -> list[list[str]]:
    return [cells for _, cells in table.rows]


def _is_cell(row: Sequence[str], place: int, text: str) -> bool:
    return place < len(row) and plain_text(row[place]) == text


def _require_no_other_change(
    file: str, before: Table, after: bytes, encoding: str | None, wanted: Sequence[Sequence[str]]
) -> None:
    read = table_of(file, after, encoding)
    width = max(map(len, wanted))

    def filled(rows: Sequence[Sequence[str]]) -> list[list[str]]:
        return [[*row, *[""] * (width - len(row))] for row in rows]

    if read.encoding != before.encoding or filled(_cells(read)) != filled(wanted):
        raise _unsafe(file)


def _unsafe(file: str) -> ClassError:
    return ClassError(
        f"{file} was not changed: another line of it would be read differently then. Look for a "
        "quotation mark that is not closed, save the roster once more as UTF-8 or XLSX, and do "
        "the same again."
    )


def _text_of(file: str, data: bytes, encoding: str | None) -> tuple[str, str, bytes]:
    """The text, the codec that writes such text without a mark, and the mark before it."""
    text, found, _ = decoded(data, encoding, file)
    name = codecs.lookup(found).name
    for mark, codec in _MARKED.get(name, {}).items():
        if data.startswith(mark):
            return text, codec, mark
    if name in ("utf-16", "utf-32"):
        return text, f"{name}-{'le' if sys.byteorder == 'little' else 'be'}", b""
    return text, name, b""


def _ending(text: str) -> str:
    """How lines end in a text; the usual end where it has none."""
    return next((ending for ending in ("\r\n", "\n", "\r") if ending in text), "\n")


def _line(row: Sequence[str], separator: str, ending: str) -> str:
    out = io.StringIO(newline="")
    # Which line ends are quoted within a cell depends on how the writer ends its own.
    csv.writer(out, delimiter=separator, lineterminator="\r\n").writerow(row)
    return out.getvalue().removesuffix("\r\n") + ending


def _encoded(file: str, text: str, codec: str) -> bytes:
    try:
        return text.encode(codec)
    except UnicodeEncodeError as error:
        letter = error.object[error.start]
        raise ClassError(
            f"{file} is saved in the encoding {codec}, which has no '{letter}'. Save the roster "
            "once more as UTF-8 or XLSX, and do the same again."
        ) from error


def _with_cell(text: str, separator: str, line: int, place: int, new: str) -> str:
    """The text with another cell in the row that begins in that line (from 1)."""
    lines = list(io.StringIO(text, newline=""))
    reader = csv.reader(lines[line - 1 :], delimiter=separator)
    row = next(reader)
    end = line - 1 + reader.line_num
    row[place] = new
    last = lines[end - 1]
    ending = _ending(last) if last.endswith(("\n", "\r")) else ""
    return "".join([*lines[: line - 1], _line(row, separator, ending), *lines[end:]])


def _sheet(file: str, data: bytes, change: Callable[[Any], None]) -> bytes:
    """The spreadsheet with a change in its first sheet."""
    import openpyxl

    out = io.BytesIO()
    try:
        book = openpyxl.load_workbook(io.BytesIO(data))
        change(book.worksheets[0])
        book.save(out)
    except DAMAGED as error:
        raise ClassError(
            f"{file} cannot be written as it is. Save it once more as CSV or XLSX, and do the same "
            "again."
        ) from error
    return out.getvalue()


def _put(sheet: Any, line: int, row: Sequence[str]) -> None:
    for column, text in enumerate(row, 1):
        if text:
            _put_text(sheet, line, column, text)


def _put_text(sheet: Any, line: int, column: int, text: str) -> None:
    """Text as it is: an id keeps its zeros, and no name becomes a formula."""
    cell = sheet.cell(row=line, column=column, value=text)
    cell.data_type, cell.number_format = "s", "@"
