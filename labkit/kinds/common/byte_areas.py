"""What kinds share that deal with devices' bytes: names, sizes, lists of one length."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

from labkit.fieldbus.direct_address import HIGHEST_BYTE, Area
from labkit.language.expression import Formula, Value
from labkit.language.problems import definition_error

AREAS: Final = {"input": Area.INPUT, "output": Area.OUTPUT}
"""The areas by the names that definitions and pages use."""
MAX_AREA = 256
"""Largest area, in bytes, that a page draws."""


def names_of(formula: Formula, values: Mapping[str, Value]) -> list[str]:
    """A list of different, not empty names."""
    names = formula.evaluate(values)
    if (
        not isinstance(names, list | tuple)
        or not names
        or not all(isinstance(name, str) and name.strip() for name in names)
        or len(set(names)) < len(names)
    ):
        raise definition_error(
            formula.place, f"'{formula.text}' does not give a list of different names."
        )
    return list(names)


def numbers_of(
    formula: Formula, values: Mapping[str, Value], count: int, least: int = 0
) -> list[int]:
    """As many whole numbers of bytes as there are names."""
    found = formula.evaluate(values)
    if not isinstance(found, list | tuple) or len(found) != count:
        raise definition_error(
            formula.place,
            f"'{formula.text}' does not give a list of {count} numbers, one for each name.",
        )
    return [whole(formula, item, least, HIGHEST_BYTE) for item in found]


def whole_of(formula: Formula, values: Mapping[str, Value], least: int, most: int) -> int:
    """One whole number."""
    return whole(formula, formula.evaluate(values), least, most)


def whole(formula: Formula, value: Any, least: int, most: int) -> int:
    """`value`, if it is a whole number from `least` to `most`. Raises `DefinitionError`."""
    if isinstance(value, bool) or not isinstance(value, int) or not least <= value <= most:
        raise definition_error(
            formula.place,
            f"'{formula.text}' gives {value!r:.60}.",
            f"A whole number from {least} to {most} belongs here.",
        )
    return value


def text_of(formula: Formula, values: Mapping[str, Value], allowed: list[str]) -> str:
    """One of the words `allowed`."""
    value = formula.evaluate(values)
    if value not in allowed:
        raise definition_error(
            formula.place,
            f"'{formula.text}' gives {value!r:.60}.",
            f"It must give one of: {', '.join(allowed)}.",
        )
    return str(value)
