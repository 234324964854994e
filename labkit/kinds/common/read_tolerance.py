"""Reading a tolerance: a number of units, or a share of the value."""

from __future__ import annotations

import re
from collections.abc import Callable
from decimal import Decimal
from typing import Final

from labkit.lab.reading.field_reader import FieldReader
from labkit.language.number import QuantityError, read_number

MAX_TOLERANCE: Final = 10**9
_TOLERANCE: Final = re.compile(r"([\d.,]+)\s*(%?)")

Tolerance = Callable[[float], float]
"""From a value to how far off it another may be, in the value's own unit."""


def tolerance_written(text: str, reader: FieldReader, *path: str | int) -> Tolerance:
    """The tolerance written at `path`: "0.5" or "2 %". Raises `DefinitionError`."""
    match = _TOLERANCE.fullmatch(text.strip())
    try:
        amount = read_number(match[1]) if match else Decimal(-1)
    except QuantityError:
        amount = Decimal(-1)
    if match is None or not 0 <= amount <= MAX_TOLERANCE:
        raise reader.error(
            f"'{text}' is not a tolerance.",
            _mend(text),
            *path,
        )
    size = float(amount)
    if match[2]:
        return lambda value: abs(value) * size / 100
    return lambda _value: size


def _mend(text: str) -> str:
    """What to write: the number that stands there already, without what stands around it."""
    number = re.search(r"(?<![\w.-])\d+(?:\.\d+)?", text)
    if number and not re.search(r"\d,\d", text):
        share = " %" if "%" in text else ""
        return (
            f"Write {number[0]}{share} alone, without a sign, a unit or a word: it holds on both "
            "sides, and counts the exercise's own units."
        )
    return "Write a number of units, such as 0.5, or a share, such as 2 %."
