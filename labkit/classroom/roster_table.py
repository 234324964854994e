"""The cells of a roster file: CSV in any usual encoding and separator, or a sheet of an XLSX.

Nothing in a cell is worked out: a formula is text here.
"""

from __future__ import annotations

import csv
import io
import re
import zipfile
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from labkit.classroom.encodings import decoded
from labkit.classroom.errors import ClassError
from labkit.errors import sentences
from labkit.exchange.spreadsheet import DAMAGED, is_sheet

MAX_BYTES: Final = 50_000_000
MAX_UNPACKED: Final = 300_000_000
MAX_COLUMNS: Final = 1_000
_MAX_ROWS: Final = 200_000
_LIST_ROWS: Final = 20_000
_LIST_UNPACKED: Final = 30_000_000
"""A list that is read while somebody waits for the page that shows it."""
_LOOKED_AT: Final = 20_000
_ZEROS: Final = re.compile("0{2,20}")
_SEPARATORS: Final = ",;\t|"
# What spreadsheets write to keep a number from losing its zeros: ="007".
_KEPT_TEXT: Final = re.compile(r'="([^"]*)"')


@dataclass(frozen=True, slots=True)
class Table:
    """The rows that hold something, each with the line (from 1) where it begins.

    `encoding` is the one that a CSV file was read in; `guessed` that it was found by trying.
    `sheets` are the names of a spreadsheet's; the first one is read.
    """

    rows: tuple[tuple[int, list[str]], ...]
    encoding: str = ""
    guessed: bool = False
    sheets: tuple[str, ...] = ()


def read_table(path: Path, encoding: str | None = None) -> Table:
    """The table in a file. Raises `ClassError` with a sentence."""
    return table_of(path.name, roster_bytes(path), encoding)


def roster_bytes(path: Path) -> bytes:
    """A roster as it lies there. Raises `ClassError` with a sentence."""
    try:
        with path.open("rb") as stream:
            data = stream.read(MAX_BYTES + 1)
    except PermissionError as error:
        raise ClassError(f"The roster cannot be read. {sentences(error)[0]}") from error
    except OSError as error:
        raise ClassError(
            f"The roster {path} cannot be read ({error.strerror}). Put a CSV file with the columns "
            "'id' and 'name' there."
        ) from error
    if len(data) > MAX_BYTES:
        raise ClassError(f"The roster {path.name} is longer than a roster may be.")
    return data


def table_of(
    file: str, data: bytes, encoding: str | None = None, *, as_shown: bool = False
) -> Table:
    """The table in the bytes of a file of that name. Raises `ClassError` with a sentence.

    `as_shown` is for a list that nobody wrote for labkit: lines of text may stand above its table,
    and a number keeps the zeros that its sheet shows before it ("007"). A roster is never read so:
    the ids of classes that were dealt stay what they were.
    """
    if is_sheet(data):
        return _sheet(file, data, as_shown=as_shown)
    if data.startswith(b"\xd0\xcf\x11\xe0"):
        raise ClassError(
            f"The roster {file} is an old spreadsheet or protected by a password. Save it as "
            "CSV or XLSX, without a password."
        )
    text, found, guessed = decoded(data, encoding, file)
    return Table(tuple(_lines(file, text, as_shown=as_shown)), found, guessed)


def _lines(file: str, text: str, *, as_shown: bool) -> list[tuple[int, list[str]]]:
    offset, text, separator = separated(text)
    if as_shown and not offset:
        separator = _most_lines_have(text)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator)
    rows, line = [], 1
    try:
        for cells in reader:
            if any(cell.strip() for cell in cells):
                plain = [_KEPT_TEXT.sub(r"\1", cell) for cell in cells[:MAX_COLUMNS]]
                rows.append((line + offset, plain))
            # A quoted cell may run over several lines: a row is where it begins.
            line = reader.line_num + 1
    except csv.Error as error:
        raise ClassError(
            f"{file}, line {line + offset}: this is not a line of a CSV file ({error}). Look for a "
            "quotation mark that is not closed."
        ) from error
    return rows


def separated(text: str) -> tuple[int, str, str]:
    """Lines taken off the top, the rest, and what separates its cells."""
    first, _, rest = text.partition("\n")
    told = re.fullmatch(r'"?sep=(.)"?\s*', first.strip("\r"), re.IGNORECASE)
    if told:
        return 1, rest, told[1]
    filled = next((line for line in text.splitlines() if line.strip()), "")
    bare = re.sub(r'"[^"]*"', "", filled)
    return 0, text, max(_SEPARATORS, key=bare.count)


def _most_lines_have(text: str) -> str:
    """What separates the cells of most lines; the title above a table has other signs in it.

    Of signs in as many lines it is the one that most lines have equally often, then any but the
    comma, which stands in names.
    """
    lines = re.sub(r'"[^"]*"', "", text[:_LOOKED_AT]).splitlines()

    def fits(sign: str) -> tuple[int, int]:
        counts = [count for line in lines if (count := line.count(sign))]
        return len(counts), max(map(counts.count, counts), default=0)

    return max(reversed(_SEPARATORS), key=fits)


def _sheet(file: str, data: bytes, *, as_shown: bool) -> Table:
    import openpyxl
    from openpyxl.utils.exceptions import InvalidFileException

    most_rows = _LIST_ROWS if as_shown else _MAX_ROWS
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as packed:
            unpacked = sum(part.file_size for part in packed.infolist())
            if unpacked > (_LIST_UNPACKED if as_shown else MAX_UNPACKED):
                raise ClassError(f"The roster {file} unpacks to more than a roster may hold.")
        book = openpyxl.load_workbook(io.BytesIO(data), read_only=True, data_only=False)
        sheets = book.worksheets
        if not sheets:
            raise ClassError(f"The roster {file} has no sheet with cells in it.")
        # What the file says of its own size may be a lie.
        sheets[0].reset_dimensions()
        rows = []
        for line, cells in enumerate(sheets[0].iter_rows(), 1):
            if line > most_rows:
                raise ClassError(f"The roster {file} has more than {most_rows} lines.")
            read = _shown if as_shown else _text
            texts = [read(cell) for cell in cells[:MAX_COLUMNS]]
            if any(text.strip() for text in texts):
                rows.append((line, texts))
    except (InvalidFileException, *DAMAGED) as error:
        raise ClassError(
            f"The roster {file} is damaged or not a spreadsheet. Save it once more as CSV or XLSX."
        ) from error
    return Table(tuple(rows), "XLSX", sheets=tuple(sheet.title for sheet in sheets))


def _text(cell: Any) -> str:
    """A cell's value as a person would write it: 7, not 7.0."""
    value = cell.value
    if value is None:
        return ""
    if isinstance(value, float) and value.is_integer() and abs(value) < 1e15:
        return str(int(value))
    return str(value)


def _shown(cell: Any) -> str:
    """A cell as its sheet shows it: 007, where its format has as many zeros."""
    text = _text(cell)
    if text.isdecimal() and _ZEROS.fullmatch(str(cell.number_format)):
        return text.zfill(len(cell.number_format))
    return text
