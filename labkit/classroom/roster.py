"""The roster: who is in a class. A CSV file with the columns `id` and `name`."""

from __future__ import annotations

import codecs
import csv
import io
import re
import unicodedata
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from labkit.classroom.errors import ClassError

MAX_TRAINEES: Final = 100_000
MAX_NAME: Final = 200
# A folder's name has room for 255 bytes; labs' names and endings come on top of the id.
MAX_ID_BYTES: Final = 128
_ID: Final = re.compile(r"[\w][\w.@+-]{0,63}")
# Names that Windows keeps for devices, with any ending.
_DEVICE: Final = re.compile(r"(con|prn|aux|nul|com\d|lpt\d)(\..*)?", re.IGNORECASE)
# Neither a spreadsheet nor a page can hold these.
_UNPRINTABLE: Final = re.compile(r"[\x00-\x1f\x7f-\x9f\ufffe\uffff]")


@dataclass(frozen=True, slots=True)
class Trainee:
    """One person of a class. `id` is unique in the class and safe as a folder's name."""

    id: str
    name: str


def read_roster(path: Path) -> tuple[Trainee, ...]:
    """Read the roster at `path`: commas, semicolons or tabs; UTF-8, UTF-16 or the usual Windows
    encoding.

    Raises `ClassError` naming the line: a missing column, an empty or doubled id, an id that could
    not be a folder's name.
    """
    try:
        data = path.read_bytes()
    except OSError as error:
        raise ClassError(
            f"The roster {path} cannot be read ({error.strerror}). Put a CSV file with the columns "
            "'id' and 'name' there."
        ) from error
    rows = _rows(path.name, _decoded(data))
    if not rows:
        raise ClassError(f"The roster {path.name} is empty. Its first line is: id,name")
    header = [cell.strip().lower() for cell in rows[0][1]]
    for column in ("id", "name"):
        if column not in header:
            raise ClassError(
                f"The roster {path.name} has no column '{column}'; its first line has "
                f"{', '.join(header) or 'nothing'}. The first line is: id,name"
            )
    trainees = [_trainee(path.name, line, cells, header) for line, cells in rows[1:]]
    return _different(path.name, trainees)


def _decoded(data: bytes) -> str:
    if data.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        return data.decode("utf-16", errors="replace")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        return data.decode("cp1252", errors="replace")


def _rows(file: str, text: str) -> list[tuple[int, list[str]]]:
    first = next((line for line in text.splitlines() if line.strip()), "")
    separator = max(",;\t", key=first.count)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator)
    rows, line = [], 1
    try:
        for cells in reader:
            if any(cell.strip() for cell in cells):
                rows.append((line, cells))
            # A quoted cell may run over several lines: a row is where it begins.
            line = reader.line_num + 1
    except csv.Error as error:
        raise ClassError(
            f"{file}, line {line}: this is not a line of a CSV file ({error}). Look for a "
            "quotation mark that is not closed."
        ) from error
    return rows


def _trainee(file: str, line: int, cells: list[str], header: list[str]) -> tuple[int, Trainee]:
    def cell(column: str) -> str:
        index = header.index(column)
        value = cells[index] if index < len(cells) else ""
        plain = _UNPRINTABLE.sub("", " ".join(value.split()))
        return unicodedata.normalize("NFC", plain)

    trainee = Trainee(cell("id"), cell("name"))
    if not trainee.id:
        raise ClassError(f"{file}, line {line}: the id is empty. Give every trainee one.")
    if not _ID.fullmatch(trainee.id) or trainee.id.endswith("."):
        raise ClassError(
            f"{file}, line {line}: the id '{trainee.id}' cannot be a folder's name. Use letters, "
            "digits and . _ @ + - (up to 64)."
        )
    if _DEVICE.fullmatch(trainee.id) or len(trainee.id.encode()) > MAX_ID_BYTES:
        raise ClassError(
            f"{file}, line {line}: the id '{trainee.id}' cannot be a folder's name on every "
            "system. Choose another one."
        )
    if len(trainee.name) > MAX_NAME:
        raise ClassError(
            f"{file}, line {line}: the name is longer than {MAX_NAME} characters. Look for a "
            "quotation mark that is not closed."
        )
    return line, Trainee(trainee.id, trainee.name or trainee.id)


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
