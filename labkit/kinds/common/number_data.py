"""What asks for a number with a unit, and what is right: an exercise, or a cell of a table."""

from __future__ import annotations

from typing import Generic, NotRequired, TypedDict, TypeVar

Value = TypeVar("Value")


class NumberForm(TypedDict, total=False):
    """How the number is written: a whole one; so many decimals that a comma can only begin them."""

    whole: bool
    decimals: int


class NumberAsk(NumberForm):
    """What the trainee sees; the symbol of the unit."""

    unit: str


class Slip(TypedDict, Generic[Value]):
    """A known mistake: the wrong value that it leads to, and what to tell."""

    id: str
    value: Value
    tell: str


class RightNumber(TypedDict):
    """Which numbers are right; all count the unit that is asked for.

    With `up_to` the value is the least that keeps a rule, with `down_to` the most: from it to there
    all are right, and `breaks` is a sentence on the rule. Without, those near it are right.
    """

    value: float
    tolerance: float
    decimals: int
    up_to: NotRequired[float]
    down_to: NotRequired[float]
    breaks: NotRequired[str]


class NumberKey(RightNumber):
    """What decides."""

    slips: list[Slip[float]]
