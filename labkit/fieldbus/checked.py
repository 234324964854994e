"""Values as a plan, a switch, a frame or a circuit gives them: checked, or refused in a sentence.

Each check hands the value back, made plain, or raises `PlanError` (or the kind of it that the
caller names) with a sentence: what is wrong, where, what to do. A truth value is no number.

Plans are made by the thousand and nearly all their values are good, so each check lets a plain
good value through on a comparison or two, and words are put together only for a bad one. To that
end the thing is named in two halves, `what` and `of`: "the length", "a thin segment". `of` may be a
(kind, name) pair, said as "resistor 'r1'".
"""

import sys
from collections.abc import Iterable
from fractions import Fraction
from math import inf
from typing import Final, TypeVar

from labkit.fieldbus.errors import PlanError

T = TypeVar("T")
Owner = str | tuple[str, str]

LONGEST_S: Final = 1e9
"""Longest time that a plan may hold, s: some thirty years."""
LONGEST_NAME: Final = 60
_LARGEST: Final = sys.float_info.max
_LEAST_EXACT, _MOST_EXACT = 1e-9, 1e15
_LONGEST_SHOWN: Final = 60


def number(
    value: object,
    what: str,
    unit: str,
    low: float = 0.0,
    high: float = _LARGEST,
    *,
    of: Owner = "",
    above: bool = False,
    error: type[PlanError] = PlanError,
) -> float:
    """`value` as a finite float, from `low` (more than `low` when `above`) to `high`, in `unit`."""
    if type(value) is float and low < value <= high:
        return value
    if type(value) is int and low < value <= high:
        return float(value)
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        start = _subject(what, of)
        raise error(f"{start} is {_shown(value)}, which is no number; give it{_in(unit)}.")
    at_low = value == low <= high and not above and abs(value) <= _LARGEST
    if low < value <= high or at_low:
        return float(value)
    raise error(_out_of_range(value, _subject(what, of), unit, low, high, above))


def whole(
    value: object,
    what: str,
    low: int,
    high: int,
    mend: str = "",
    *,
    of: Owner = "",
    error: type[PlanError] = PlanError,
) -> int:
    """`value` itself, a whole number from `low` to `high`, both included.

    `mend` says what to do about another one.
    """
    if type(value) is int and low <= value <= high:
        return value
    start = _subject(what, of)
    if isinstance(value, bool) or not isinstance(value, int):
        mend = mend or f"give one from {low} to {high}, in digits"
        raise error(f"{start} is {_shown(value)}, which is no whole number: {mend}.")
    if low <= value <= high:
        return value
    mend = mend or "choose a number in that range"
    raise error(f"{start} is {_figure(value)}, outside {low} to {high}: {mend}.")


def seconds(value: object, what: str, *, above_zero: bool = False) -> float:
    """`value`, in s, a time of zero or more (above zero if `above_zero`) up to `LONGEST_S`."""
    return number(value, what, "s", 0.0, LONGEST_S, above=above_zero)


def exact(value: object, what: str, unit: str, mend: str, *, zero: bool = False) -> Fraction:
    """A finite positive number (or zero, with `zero`) as an exact fraction, after `fraction`.

    Refused too is a number beyond all use, under 1e-9 or above 1e15 in the unit.
    """
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        raise PlanError(f"{_subject(what, '')} is {_shown(value)}, which is no number: {mend}.")
    if _LEAST_EXACT <= value <= _MOST_EXACT or (zero and value == 0):
        return fraction(value)
    start = f"{_subject(what, '')} is {_figure(value)}{unit and ' ' + unit}"
    if value != value or value == inf:
        raise PlanError(f"{start}, which is no finite number: {mend}.")
    if value <= 0:
        raise PlanError(f"{start} and must be {'zero or more' if zero else 'above zero'}: {mend}.")
    raise PlanError(f"{start}, which is beyond all use: {mend}.")


def fraction(value: float) -> Fraction:
    """A checked number as an exact fraction; a float is the decimal it prints as: 0.1 a tenth."""
    return Fraction(repr(float(value))) if isinstance(value, float) else Fraction(value)


def flag(value: object, what: str, *, of: Owner = "") -> bool:
    """`value`, True or False."""
    if value is True or value is False:
        return value
    raise PlanError(f"{_subject(what, of)} is {_shown(value)}; write true or false.")


def byte_string(value: object, what: str, most: int, least: int = 0) -> bytes:
    """`value` as bytes, `least` to `most` of them; a list of byte values is taken too."""
    if isinstance(value, (bytes, bytearray)):
        data = bytes(value)
    elif isinstance(value, (list, tuple)):
        data = bytes(whole(each, f"byte {at} of {what}", 0, 255) for at, each in enumerate(value))
    else:
        raise PlanError(
            f"{_subject(what, '')} must be bytes, not {_shown(value)}; "
            "give a list of byte values 0 to 255."
        )
    if not least <= len(data) <= most:
        allowed = f"{least} to {most}" if least != most else str(most)
        raise PlanError(
            f"{_subject(what, '')} holds {len(data)} bytes where {allowed} belong; "
            "check its length."
        )
    return data


def text(value: object, what: str, *, of: Owner = "", error: type[PlanError] = PlanError) -> str:
    """`value`, a text with something in it: any name will do."""
    if isinstance(value, str) and value.strip():
        return value
    start = _subject(what, of)
    raise error(f"{start} is {_shown(value)}; give it as text of at least one character.")


def name(value: object, of: str) -> str:
    """`value` as a name that is drawn: 1 to 60 printable characters, no blanks around it."""
    if not isinstance(value, str):
        raise PlanError(f"The name of {of} is {_shown(value)}; give it as text.")
    if 0 < len(value) <= LONGEST_NAME and value.isprintable() and value == value.strip():
        return value
    if not value or value != value.strip():
        raise PlanError(f"The name of {of} is {value!r}; give a name without blanks around it.")
    raise PlanError(
        f"The name of {of} is {value!r}; use at most {LONGEST_NAME} printable characters."
    )


def every(values: object, kind: type[T], what: str) -> tuple[T, ...]:
    """`values` as a tuple of `kind`."""
    if isinstance(values, (str, bytes)) or not isinstance(values, Iterable):
        raise PlanError(f"{what} must be a list of {kind.__name__}, not {_shown(values)}.")
    items = tuple(values)
    for item in items:
        if not isinstance(item, kind):
            raise PlanError(f"{what} must hold only {kind.__name__} objects; found {item!r}.")
    return items


def _out_of_range(value: float, start: str, unit: str, low: float, high: float, above: bool) -> str:
    """The sentence for a number outside its range; NaN is outside every range."""
    if value != value or abs(value) > _LARGEST:
        return f"{start} is {_figure(value)}; give it as a finite number{_in(unit)}."
    after = unit and f" {unit}"
    bound = "more than" if above else "at least"
    most = f" and at most {high:g}" if high != _LARGEST else ""
    return f"{start} is {value:g}{after}; it must be {bound} {low:g}{most}{after}."


def _subject(what: str, of: Owner) -> str:
    owner = f"{of[0]} {of[1]!r}" if isinstance(of, tuple) else of
    named = f"{what} of {owner}" if owner else what
    return named[:1].upper() + named[1:]


def _in(unit: str) -> str:
    return f" in {unit}" if unit else " in digits"


def _shown(value: object) -> str:
    """The value as one would write it, kept short; some cannot be written at all."""
    try:
        return repr(value)[:_LONGEST_SHOWN]
    except (ValueError, RecursionError):
        return f"a {type(value).__name__} too large to show"


def _figure(value: float) -> str:
    """The number in a form that stays short, also for a whole number of a thousand digits."""
    if isinstance(value, int):
        return str(value) if abs(value) <= _MOST_EXACT else "a number of more than 15 digits"
    return f"{value:g}"
