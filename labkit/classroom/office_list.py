"""A list of people as an office program saved it, and how it is read: which column is what."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final

from labkit.classroom.errors import ClassError
from labkit.classroom.heading_words import BENCH, FIRST, ID, LAST, NAME, SEAT, plain_heading
from labkit.classroom.roster import plain_text
from labkit.classroom.roster_table import table_of

FIELDS: Final = (ID, NAME, FIRST, LAST, BENCH, SEAT)
MOST_LINES: Final = 5_000
MOST_COLUMNS: Final = 60
MOST_BYTES: Final = 10_000_000
_LONGEST_CELL: Final = 300
"""More than any name may have, so that one that is too long is still seen to be."""

Row = tuple[int, tuple[str, ...]]
"""The line of the file where a row begins, and its cells."""


@dataclass(frozen=True, slots=True)
class OfficeList:
    """The rows of a list that hold something, all equally long. Nothing in them is worked out."""

    file: str
    rows: tuple[Row, ...]
    remarks: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Reading:
    """How a list is read: the line of its headings (0: it has none), and which column is what.

    Columns count from 0. `makes_ids`: labkit makes the ids, whatever columns there are.
    """

    heading: int = 0
    columns: Mapping[str, int] = field(default_factory=dict)
    makes_ids: bool = False


def read_list(file: str, data: bytes) -> OfficeList:
    """The list in a file that was saved as CSV or XLSX. Raises `ClassError` with a sentence."""
    if len(data) > MOST_BYTES:
        raise ClassError(
            f"{file} is larger than {MOST_BYTES // 1_000_000} MB. Save the people alone, without "
            "pictures and other sheets."
        )
    table = table_of(file, data, as_shown=True)
    if not any(one_cell(text) for _, cells in table.rows for text in cells):
        raise ClassError(
            f"{file} is empty. Is it the right file, and are people on its first sheet?"
        )
    if len(table.rows) > MOST_LINES:
        raise ClassError(f"{file} has more than {MOST_LINES} lines. Save those of the class alone.")
    width = min(MOST_COLUMNS, max(len(cells) for _, cells in table.rows))
    filled = (
        (line, tuple(one_cell(cells[at]) if at < len(cells) else "" for at in range(width)))
        for line, cells in table.rows
    )
    rows = tuple(row for row in filled if any(row[1]))
    remarks = []
    if table.guessed:
        remarks.append(
            f"{file} does not tell its encoding; it was read as {table.encoding}. If names look "
            "wrong, save it as UTF-8 or as XLSX."
        )
    if len(table.sheets) > 1:
        remarks.append(
            f"{file} has {len(table.sheets)} sheets; the first one, '{plain_text(table.sheets[0])}'"
            ", was read. If the people are on another one, move that to the front and save it."
        )
    return OfficeList(file, rows, tuple(remarks))


def one_cell(text: str) -> str:
    # Twice: where something is taken out between two spaces they are made one.
    return plain_text(plain_text(text[: 2 * _LONGEST_CELL])[:_LONGEST_CELL])


def labels(office: OfficeList, heading: int) -> dict[int, str]:
    """What each column is called that holds something below the headings: its own, or a letter."""
    said, below = headings(office, heading), below_heading(office, heading)
    filled = [at for at in range(len(office.rows[0][1])) if any(row[at] for _, row in below)]
    plain = [plain_heading(said[at]) for at in filled]
    return {
        at: said[at]
        if plain[place] and plain.count(plain[place]) == 1
        else f"{said[at]} (column {_letter(at)})".strip()
        for place, at in enumerate(filled)
    }


def below_heading(office: OfficeList, heading: int) -> list[Row]:
    """The rows in which people may stand."""
    return [(line, cells) for line, cells in office.rows if line > heading]


def headings(office: OfficeList, heading: int) -> tuple[str, ...]:
    width = len(office.rows[0][1])
    return next((cells for line, cells in office.rows if line == heading), ("",) * width)


def wrong_with_reading(office: OfficeList, reading: Reading) -> list[str]:
    """Why nobody can be read that way, and what to choose; nothing where it is fine."""
    if reading.heading and reading.heading not in {line for line, _ in office.rows}:
        return ["There is no such line of headings. Choose another one."]
    if not below_heading(office, reading.heading):
        return ["Nobody stands below the headings. Choose another line, or another file."]
    named, columns = labels(office, reading.heading), reading.columns
    if any(name not in FIELDS or at not in named for name, at in columns.items()):
        return ["There is no such column under these headings. Choose another one."]
    wrong = []
    taken = list(columns.values())
    for at in sorted({each for each in taken if taken.count(each) > 1}):
        fields = " and ".join(name for name, its in columns.items() if its == at)
        wrong.append(f"'{named[at]}' is chosen twice, as {fields}. Choose it once.")
    if ID not in columns and not reading.makes_ids:
        wrong.append("Choose the column with people's ids, or let labkit make them.")
    if NAME in columns and (FIRST in columns or LAST in columns):
        wrong.append("Choose either the whole name, or first and last name; not both.")
    if not {NAME, FIRST, LAST} & columns.keys():
        wrong.append("Choose the column with people's names.")
    return wrong


def _letter(at: int) -> str:
    """The letter by which a spreadsheet calls a column: A, B … Z, AA …"""
    name = ""
    while at >= 0:
        at, rest = divmod(at, 26)
        name, at = chr(ord("A") + rest) + name, at - 1
    return name
