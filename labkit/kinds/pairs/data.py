"""What an exercise of the kind `pairs` is made of."""

from __future__ import annotations

from typing import TypedDict

from labkit.kinds.common.cell_data import ExactKey, FormAnswer, TableCell

Answer = FormAnswer
"""By thing, its number in the lab's text, the words of the partner that is chosen."""


class PairsAsk(TypedDict):
    """Two heads; in each row, in drawn order, a thing and a cell with the words of all partners."""

    columns: list[str]
    rows: list[list[TableCell]]


class PairsKey(TypedDict):
    """By thing, its partner and the known confusions."""

    cells: dict[str, ExactKey]
