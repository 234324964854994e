"""A form of small answers: a cell says what is to be written, its key what is right."""

from __future__ import annotations

from typing import Final, Literal, NotRequired, TypedDict, final

from labkit.kinds.common.number_data import NumberAsk, NumberKey, Slip

FormAnswer = dict[str, str]
"""By the name of a cell, the text as written."""


@final
class Given(TypedDict):
    """A cell of a table that is not to be filled in."""

    text: str


class Blank(TypedDict):
    """A cell to fill in, by its name in an answer."""

    name: str


@final
class NumberCell(Blank, NumberAsk):
    """A number; the unit stands beside it."""

    write: Literal["number"]


class Line(Blank):
    """A cell that may stand in no column, and has a label then."""

    label: NotRequired[str]


@final
class WholeCell(Line):
    """A whole number."""

    write: Literal["whole"]


@final
class HexCell(Line):
    """A hexadecimal number, shown with so many digits."""

    write: Literal["hex"]
    digits: int


@final
class BytesCell(Line):
    """The data bytes of a frame: eight at most, unless it says how many."""

    write: Literal["bytes"]
    most: NotRequired[int]


@final
class WordCell(Line):
    """One of the words."""

    write: Literal["word"]
    words: list[str]


ExactCell = WholeCell | HexCell | BytesCell | WordCell
Cell = NumberCell | ExactCell
# Written out: mypy does not look into a union within a union.
TableCell = Given | NumberCell | WholeCell | HexCell | BytesCell | WordCell
Exact = int | str | list[int]
"""A whole or hexadecimal number, a word, bytes."""


@final
class ExactKey(TypedDict):
    """The key of a cell of which one value is right."""

    value: Exact
    slips: list[Slip[Exact]]


CellKey = NumberKey | ExactKey

NO_KEY: Final[ExactKey] = {"value": "", "slips": []}
"""Where only the trainee's side of a cell is known: nothing is judged by it."""


class GroupSlip(TypedDict):
    """A mistake that shows in several cells at once: `values` are those of all its cells."""

    id: str
    values: dict[str, float | Exact]
    tell: str
