"""The cells of an XLSX file's first sheet as text.

It may come from a stranger: what it unpacks to is looked at before it is, and a formula stays the
text that it is.
"""

from __future__ import annotations

import io
import zipfile
from collections.abc import Iterator
from typing import Any, Final

from labkit.errors import LabkitError
from labkit.exchange.spreadsheet import DAMAGED

MAX_UNPACKED: Final = 20_000_000


class SheetError(LabkitError):
    """Why it cannot be read, in a sentence."""


def rows_of_sheet(data: bytes, most_cells: int) -> list[tuple[int, list[str]]]:
    """The rows that hold something, each with its number. Raises `SheetError`.

    No more is read once `most_cells` cells are.
    """
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as packed:
            unpacked = sum(part.file_size for part in packed.infolist())
        if unpacked > MAX_UNPACKED:
            raise SheetError("the sheet unpacks to more than a table may have.")
        return list(_rows(data, most_cells))
    except DAMAGED as error:
        raise SheetError("the sheet is damaged or protected by a password.") from error


def _rows(data: bytes, most_cells: int) -> Iterator[tuple[int, list[str]]]:
    from openpyxl import load_workbook

    book = load_workbook(io.BytesIO(data), read_only=True, keep_links=False)
    try:
        count = 0
        for number, row in enumerate(book.worksheets[0].iter_rows(values_only=True), 1):
            cells = [_text(value) for value in row]
            if not any(cells):
                continue
            yield number, cells
            count += len(cells)
            if count > most_cells:
                return
    finally:
        book.close()


def _text(value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, float):
        return f"{value:.15g}"
    return str(value).strip()
