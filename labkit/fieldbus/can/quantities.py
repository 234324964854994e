"""Numbers as a plan gives them: checked once, refused in a sentence."""

import math
from fractions import Fraction

from labkit.fieldbus.errors import PlanError

_SMALLEST = 1e-9
_LARGEST = 1e15
_LONGEST_SHOWN = 60


def whole(value: object, what: str, low: int, high: int, mend: str) -> int:
    """Return `value` as an int between `low` and `high`, both included.

    `what` names the thing ("the data length code"), `mend` says what to do. Raises `PlanError`
    for anything but a whole number in that range; a bool is no number here.
    """
    if isinstance(value, bool) or not isinstance(value, int):
        raise PlanError(f"{what} is {_shown(value)}, which is no whole number: {mend}.")
    if not low <= value <= high:
        shown = _number(value) if abs(value) > _LARGEST else value
        raise PlanError(f"{what} is {shown}, allowed is {low} to {high}: {mend}.")
    return value


def exact(value: object, what: str, unit: str, mend: str, *, zero: bool = False) -> Fraction:
    """Return a finite positive number (or zero, with `zero`) as an exact fraction.

    A float is read as the decimal that it prints as, so 0.1 is one tenth. Raises `PlanError` for
    NaN, infinity, a negative number, zero where it is not allowed, a number beyond all use (under
    1e-9 or above 1e15 in the unit), a bool and every other type.
    """
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise PlanError(f"{what} is {_shown(value)}, which is no number: {mend}.")
    if isinstance(value, float) and not math.isfinite(value):
        raise PlanError(f"{what} is {value}, which is no finite number: {mend}.")
    if value < 0 or (value == 0 and not zero):
        least = "zero or more" if zero else "more than zero"
        raise PlanError(f"{what} is {_number(value)} {unit} and must be {least}: {mend}.")
    if value != 0 and not _SMALLEST <= value <= _LARGEST:
        raise PlanError(f"{what} is {_number(value)} {unit}, which is beyond all use: {mend}.")
    return fraction(value)


def fraction(value: float) -> Fraction:
    """Return a number that has been checked as an exact fraction, a float as it prints."""
    return Fraction(repr(float(value))) if isinstance(value, float) else Fraction(value)


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
    return f"{type(value).__name__} {value!r}"[:_LONGEST_SHOWN]


def _number(value: float) -> str:
    """The number in a form that stays short, also for a whole number of a thousand digits."""
    return f"{value:g}" if abs(value) <= _LARGEST else "a number of more than 15 digits"
