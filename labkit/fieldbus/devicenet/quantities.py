"""Checked numbers and names: what every value object of a plan lets in.

Each function returns the value, made plain, or raises `PlanError` with a sentence.
"""

import math
from collections.abc import Iterable
from typing import TypeVar

from labkit.fieldbus.errors import PlanError

NAME_LENGTH = 60

T = TypeVar("T")


def number(
    value: object,
    what: str,
    unit: str,
    *,
    low: float = 0.0,
    high: float | None = None,
    above: bool = False,
) -> float:
    """`value` as a finite float, at least `low` (more than `low` when `above`), at most `high`."""
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise PlanError(f"{what} is {value!r}; give it as a number in {unit}.")
    try:
        plain = float(value)
    except OverflowError:
        plain = math.inf
    if not math.isfinite(plain):
        raise PlanError(f"{what} is {plain}; give it as a finite number in {unit}.")
    if plain < low or (above and plain == low):
        bound = "more than" if above else "at least"
        raise PlanError(f"{what} is {plain:g} {unit}; it must be {bound} {low:g} {unit}.")
    if high is not None and plain > high:
        raise PlanError(f"{what} is {plain:g} {unit}; it must be at most {high:g} {unit}.")
    return plain


def whole(value: object, what: str, low: int, high: int) -> int:
    """`value` as a whole number from `low` to `high`."""
    if isinstance(value, bool) or not isinstance(value, int):
        raise PlanError(f"{what} is {value!r}; give a whole number from {low} to {high}.")
    if not low <= value <= high:
        raise PlanError(f"{what} is {value}; it must be from {low} to {high}.")
    return int(value)


def name(value: object, what: str) -> str:
    """`value` as a name of 1 to 60 printable characters without blanks around it."""
    if not isinstance(value, str):
        raise PlanError(f"The name of {what} is {value!r}; give it as text.")
    if not value or value != value.strip():
        raise PlanError(f"The name of {what} is {value!r}; give a name without blanks around it.")
    if len(value) > NAME_LENGTH or not value.isprintable():
        raise PlanError(
            f"The name of {what} is {value!r}; use at most {NAME_LENGTH} printable characters."
        )
    return value


def every(values: object, kind: type[T], what: str) -> tuple[T, ...]:
    """`values` as a tuple of `kind`."""
    if isinstance(values, str | bytes) or not isinstance(values, Iterable):
        raise PlanError(f"{what} must be a list of {kind.__name__}, not {values!r}.")
    items = tuple(values)
    for item in items:
        if not isinstance(item, kind):
            raise PlanError(f"{what} must hold only {kind.__name__} objects; found {item!r}.")
    return items
