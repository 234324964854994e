"""Numbers as a plan gives them: checked once, refused in a sentence."""

import math
from fractions import Fraction

from labkit.fieldbus.errors import PlanError


def whole(value: object, what: str, low: int, high: int, mend: str) -> int:
    """Return `value` as an int between `low` and `high`, both included.

    `what` names the thing ("the data length code"), `mend` says what to do. Raises `PlanError`
    for anything but a whole number in that range; a bool is no number here.
    """
    if isinstance(value, bool) or not isinstance(value, int):
        raise PlanError(f"{what} is {_shown(value)}, which is no whole number: {mend}.")
    if not low <= value <= high:
        raise PlanError(f"{what} is {value}, allowed is {low} to {high}: {mend}.")
    return value


def exact(value: object, what: str, unit: str, mend: str, *, zero: bool = False) -> Fraction:
    """Return a finite positive number (or zero, with `zero`) as an exact fraction.

    A float is read as the decimal that it prints as, so 0.1 is one tenth. Raises `PlanError` for
    NaN, infinity, a negative number, zero where it is not allowed, a bool and every other type.
    """
    if isinstance(value, bool) or not isinstance(value, int | float | Fraction):
        raise PlanError(f"{what} is {_shown(value)}, which is no number: {mend}.")
    if isinstance(value, float) and not math.isfinite(value):
        raise PlanError(f"{what} is {value}, which is no finite number: {mend}.")
    number = Fraction(repr(float(value))) if isinstance(value, float) else Fraction(value)
    if number < 0 or (number == 0 and not zero):
        least = "zero or more" if zero else "more than zero"
        raise PlanError(f"{what} is {value} {unit} and must be {least}: {mend}.")
    return number


def flag(value: object, what: str) -> bool:
    """Return `value` if it is True or False, else raise `PlanError`."""
    if not isinstance(value, bool):
        raise PlanError(f"{what} is {_shown(value)}: write True or False.")
    return value


def name(value: object, what: str) -> str:
    """Return `value` if it is a text with something in it, else raise `PlanError`."""
    if not isinstance(value, str) or not value.strip():
        raise PlanError(f"{what} is {_shown(value)}: give it a name of at least one character.")
    return value


def _shown(value: object) -> str:
    return f"{type(value).__name__} {value!r}"[:60]
