"""What an exercise of the kind `table` is made of."""

from __future__ import annotations

from typing import TypedDict

from labkit.kinds.common.cell_data import CellKey, FormAnswer, GroupSlip, TableCell

Answer = FormAnswer
"""By blank, the text as written."""


class TableAsk(TypedDict):
    """The heads of the columns, and as many cells in each row."""

    columns: list[str]
    rows: list[list[TableCell]]


class TableKey(TypedDict):
    """By blank, what is right; and mistakes that spoil whole rows."""

    cells: dict[str, CellKey]
    groups: list[GroupSlip]
