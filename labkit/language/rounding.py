"""Functions of a number for every lab: rounding up and down, roots and logarithms."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from typing import Any, Final

from labkit.language.no_value import NoValueError, kind_of

LARGEST_BITS: Final = 1023
_TINY: Final = 1e-12
"""A share that is lost to the computer's own numbers: 0.3 - 0.1 is a little less than 0.2."""
_SAME_FIGURES: Final = 14
"""Figures of a logarithm that are the same on all systems."""


def finite(value: float) -> float:
    """A number that every formula can go on with. Raises `NoValueError`."""
    if isinstance(value, float) and not math.isfinite(value):
        raise NoValueError(f"it gives {value}, which is not a finite number")
    # Any larger whole number is beyond every float.
    if isinstance(value, int) and value.bit_length() > LARGEST_BITS:
        raise NoValueError("the number gets too large")
    return value


def ceil(number: float) -> int:
    """The next whole number up; one that is whole but for the computer's last figures is whole."""
    nearest = _nearly_whole(number, "'ceil'")
    return math.ceil(number) if nearest is None else nearest


def floor(number: float) -> int:
    """The next whole number down, likewise."""
    nearest = _nearly_whole(number, "'floor'")
    return math.floor(number) if nearest is None else nearest


def sqrt(number: float) -> float:
    """The square root."""
    if _number(number, "'sqrt'") < 0:
        raise NoValueError(f"a square root is of a number from 0, not of {number:g}")
    return math.sqrt(number)


def log(number: float, base: float = 10) -> float:
    """The logarithm; to the base 10, as "log" is on a pocket calculator."""
    if _number(number, "a logarithm") <= 0:
        raise NoValueError(f"a logarithm is of a number above 0, not of {number:g}")
    if _number(base, "a logarithm") <= 0 or base == 1:
        raise NoValueError(f"the base of a logarithm is a number above 0 and not 1, not {base:g}")
    found = math.log10(number) if base == 10 else math.log(number) / math.log(base)
    return float(f"{found:.{_SAME_FIGURES}g}")


def ln(number: float) -> float:
    """The natural logarithm."""
    return log(number, math.e)


def _nearly_whole(number: float, taker: str) -> int | None:
    nearest = round(_number(number, taker))
    return nearest if math.isclose(number, nearest, rel_tol=_TINY, abs_tol=_TINY) else None


def _number(value: Any, taker: str) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise NoValueError(f"{taker} takes a number, not {kind_of(value)}")
    return finite(value)


OF_NUMBERS: Final[Mapping[str, Callable[..., Any]]] = {
    "ceil": ceil,
    "floor": floor,
    "ln": ln,
    "log": log,
    "sqrt": sqrt,
}
