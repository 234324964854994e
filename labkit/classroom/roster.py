"""The roster: who is in a class. A CSV file with the columns `id` and `name`."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from labkit.classroom.errors import ClassError
from labkit.classroom.roster_dates import is_a_date
from labkit.classroom.roster_table import Table, read_table, roster_bytes, table_of

MAX_TRAINEES: Final = 100_000
MAX_NAME: Final = 200
# A folder's name has room for 255 bytes; labs' names and endings come on top of the id.
MAX_ID_BYTES: Final = 128
_ID: Final = re.compile(r"[\w][\w.@+-]{0,63}")
# Names that Windows keeps for devices, with any ending.
_DEVICE: Final = re.compile(r"(con|prn|aux|nul|com\d|lpt\d)(\..*)?", re.IGNORECASE)
# Neither a spreadsheet nor a page can hold these; the last ones turn the writing direction of all
# that follows, so that one text looks like another.
_UNPRINTABLE: Final = re.compile(
    r"[\x00-\x1f\x7f-\x9f\ud800-\udfff\ufffe\uffff"
    r"\u061c\u200b\u200e\u200f\u202a-\u202e\u2060-\u206f\ufeff]"
)
# Letters by their category that show nothing: fillers of Hangul and Khmer, an empty Braille cell,
# and marks that only change the letter before them.
_BLANKS: Final = frozenset(
    "\u034f\u115f\u1160\u17b4\u17b5\u180b\u180c\u180d\u2800\u3164\uffa0"
    + "".join(map(chr, range(0xFE00, 0xFE10)))
)
_MOST_REMARKS: Final = 3
PARTS: Final = ("first name", "last name")


@dataclass(frozen=True, slots=True)
class Trainee:
    """One person of a class. `id` is unique in the class and safe as a folder's name.

    `bench` and `seat` say where they sit, "" where the roster does not (see `dealing.seating`).
    """

    id: str
    name: str
    bench: str = ""
    seat: str = ""


def read_roster(path: Path, encoding: str | None = None) -> tuple[Trainee, ...]:
    """The trainees in the roster at `path`, a CSV or XLSX file (see `roster_table`).

    Columns are found by their names in the first line: `id`, and `name` or `first name` and
    `last name`; `bench` and `seat` say who sits beside whom (see `dealing.seating`); others do no
    harm. Raises `ClassError` naming the line: a missing column, an empty or doubled id, an id that
    could not be a folder's name.
    """
    return trainees_in(path.name, roster_bytes(path), encoding)


def trainees_in(file: str, data: bytes, encoding: str | None = None) -> tuple[Trainee, ...]:
    """The trainees in the bytes of a roster of that name; as `read_roster` otherwise."""
    return _different(file, _lines(file, data, encoding))


def require_safe_ids(path: Path, encoding: str | None, dealt: Collection[str]) -> None:
    """Raise `ClassError` for an id that is not safe as a new folder's name on every system.

    Stricter than `read_roster`: whoever is dealt already (their ids in `dealt`) keeps their id.
    """
    require_safe_ids_in(path.name, roster_bytes(path), encoding, dealt)


def require_safe_ids_in(
    file: str, data: bytes, encoding: str | None, dealt: Collection[str]
) -> None:
    """As `require_safe_ids`, of the bytes of a roster of that name."""
    lines: dict[str, int] = {}
    read = _lines(file, data, encoding)
    for line, trainee in sorted(read, key=lambda each: each[1].id not in dealt):
        plain = unicodedata.normalize("NFKC", trainee.id)
        other = lines.setdefault(id_key(trainee.id), line)
        if trainee.id in dealt:
            continue
        if other != line:
            raise ClassError(
                f"{file}, line {line}: the id '{trainee.id}' differs from the one in line "
                f"{other} only in the width or form of its letters. Choose another one."
            )
        if is_device(plain):
            raise ClassError(
                f"{file}, line {line}: the id '{trainee.id}' is the name of a device to "
                "some systems. Choose another one."
            )


def is_device(name: str) -> bool:
    """Whether some system keeps that name for a device, so that no folder can have it."""
    return _DEVICE.fullmatch(name) is not None


def id_key(trainee: str) -> str:
    """What two ids have in common that are one folder's name to some system or to some reader."""
    return unicodedata.normalize("NFKC", trainee).casefold()


def header_of(file: str, table: Table) -> list[str]:
    """The names of the columns, as they are looked for. Raises `ClassError` for a missing one."""
    if not table.rows:
        raise ClassError(f"The roster {file} is empty. Its first line is: id,name")
    header = [plain_text(cell).lower() for cell in table.rows[0][1]]
    _check_header(file, header)
    return header


def _lines(file: str, data: bytes, encoding: str | None) -> list[tuple[int, Trainee]]:
    table = table_of(file, data, encoding)
    header = header_of(file, table)
    return [_trainee(file, line, cells, header) for line, cells in table.rows[1:]]


def remarks_on(path: Path, encoding: str | None = None) -> list[str]:
    """Sentences about an encoding that was only guessed, and about seats that became dates."""
    table = read_table(path, encoding)
    remarks = []
    if table.guessed:
        remarks.append(
            f"{path.name} does not tell its encoding; it was read as {table.encoding}. If names "
            "look wrong, save it as UTF-8, or name the encoding in class.yaml "
            "('roster_encoding: cp1251')."
        )
    if table.rows:
        header = [plain_text(cell).lower() for cell in table.rows[0][1]]
        if "seat" in header:
            place = header.index("seat")
            seats = [
                (line, plain_text(cells[place]))
                for line, cells in table.rows[1:]
                if place < len(cells)
            ]
            remarks += _dates_among(path.name, seats)
    return remarks


def _dates_among(file: str, seats: Sequence[tuple[int, str]]) -> list[str]:
    dates = [(line, seat) for line, seat in seats if is_a_date(seat)]
    remarks = [
        f"{file}, line {line}: the seat '{seat}' is a date, which office programs make of a seat "
        "such as 3-4, so nobody is known to sit beside this trainee. Write C4 (row C, place 4), or "
        "make the column's cells 'Text' and type it again."
        for line, seat in dates[:_MOST_REMARKS]
    ]
    if len(dates) > _MOST_REMARKS:
        others = ", ".join(str(line) for line, _ in dates[_MOST_REMARKS:])
        remarks.append(f"{file}: so are the seats in the lines {others}.")
    return remarks


def _check_header(file: str, header: list[str]) -> None:
    shown = ", ".join(filter(None, header)) or "nothing"
    for column in ("bench", "seat", "id", "name"):
        if header.count(column) > 1:
            raise ClassError(
                f"The roster {file} has two columns '{column}'. Rename the one that is not meant."
            )
        if column in ("bench", "seat"):
            continue
        if column not in header and not (column == "name" and set(PARTS) & set(header)):
            raise ClassError(
                f"The roster {file} has no column '{column}'; its first line has "
                f"{shown}. The first line is: id,name"
            )


def _is_seen(letter: str) -> bool:
    """Whether a letter shows on paper; a name of others only is no name."""
    return unicodedata.category(letter)[0] not in "CZ" and letter not in _BLANKS


def seen_name(name: str) -> str:
    """The name, or "" where nothing of it can be seen."""
    return name if any(map(_is_seen, name)) else ""


def wrong_with(trainee: Trainee) -> str:
    """What their id or name cannot be, and what to do; "" where both are fine."""
    if not trainee.id:
        return "the id is empty. Give every trainee one."
    if not _ID.fullmatch(trainee.id) or trainee.id.endswith("."):
        return (
            f"the id '{trainee.id}' cannot be a folder's name. Use letters, digits and . _ @ + - "
            "(up to 64)."
        )
    if is_device(trainee.id) or len(trainee.id.encode()) > MAX_ID_BYTES:
        return (
            f"the id '{trainee.id}' cannot be a folder's name on every system. Choose another one."
        )
    if len(trainee.name) > MAX_NAME:
        return (
            f"the name is longer than {MAX_NAME} characters. Look for a quotation mark that is not "
            "closed."
        )
    return ""


def plain_text(text: str) -> str:
    """Text without what no sheet can hold, its spaces made single, in Unicode's composed form."""
    return unicodedata.normalize("NFC", _UNPRINTABLE.sub("", " ".join(text.split())))


def _trainee(file: str, line: int, cells: list[str], header: list[str]) -> tuple[int, Trainee]:
    def cell(column: str) -> str:
        index = header.index(column) if column in header else len(cells)
        return plain_text(cells[index]) if index < len(cells) else ""

    name = cell("name") or " ".join(filter(None, map(cell, PARTS)))
    name = seen_name(name)
    trainee = Trainee(cell("id"), name)
    if wrong := wrong_with(trainee):
        raise ClassError(f"{file}, line {line}: {wrong}")
    return line, Trainee(trainee.id, name or trainee.id, cell("bench"), cell("seat"))


def _different(file: str, trainees: list[tuple[int, Trainee]]) -> tuple[Trainee, ...]:
    if not trainees:
        raise ClassError(f"The roster {file} names nobody. Add a line a trainee: id,name")
    if len(trainees) > MAX_TRAINEES:
        raise ClassError(f"The roster {file} has more than {MAX_TRAINEES} lines.")
    lines: dict[str, int] = {}
    for line, trainee in trainees:
        # Folders' names are the same to some systems whatever their case.
        key = trainee.id.casefold()
        if key in lines:
            raise ClassError(
                f"{file}, line {line}: the id '{trainee.id}' is there already (line {lines[key]}). "
                "Give every trainee an id of their own."
            )
        lines[key] = line
    return tuple(trainee for _, trainee in trainees)
