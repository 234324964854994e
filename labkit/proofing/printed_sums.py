"""Sums as a text prints them: found, and worked out from the printed numbers.

"3 m + 2 · 4.5 m = **12 m**" is a sum; "taps at 3 m + 2" is none, and neither is anything with a
sign or a word in it that is not known here: what cannot be read for sure is left alone.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal, DivisionByZero, InvalidOperation
from typing import Final

from labkit.language.quantity import UNITS

UNIT: Final = "|".join(sorted((re.escape(name) for name in UNITS if name), key=len, reverse=True))
"""Every unit symbol, as a pattern; the longest first."""
_TOKEN: Final = re.compile(
    rf"""
    (?P<space>\s+|\*\*|(?<=\s)_(?=\d)|\\$)
    # No part of an address, a hexadecimal number or a name; groups of three with a narrow space.
    | (?P<number>(?<![\w.,:])\d+(?:[\u202f\u00a0]\d{{3}})*(?:\.\d+)?(?![\w:]|[.,]\d|\s?\d))
    | (?P<unit>(?<![\w/])(?:{UNIT}|bytes|bits)(?:/(?:{UNIT}))?(?![\w/²³]))
    | (?P<sign>[+·×÷/()−]|(?<=\s)-(?=\s)|\*(?!\*)|=)
    | (?P<other>\S+?(?=[\s()=+·×÷/*]|$)|\S)
    """,
    re.VERBOSE,
)
# A sum ends with its sentence, or its cell of a table: the rest need not be looked at.
_PIECE: Final = re.compile(r"(?<=[.;:!?])\s+|\n\s*\n|\|")
# Behind these a number belongs to something that was said in words.
_IN_WORDS: Final = frozenset({"of", "times", "by", "plus", "minus", "over", "twice", "half", "per"})
_SIGNS: Final = {"×": "·", "*": "·", "÷": "/", "-": "−"}
_PLURAL: Final = {"bytes": "byte", "bits": "bit"}


@dataclass(frozen=True, slots=True)
class Sum:
    """An expression that a text says is equal to a number.

    `values` are what the printed expression may mean, in the unit of `said`. `margin` is half a
    unit of the last printed figure of `said`. `bare` are numbers that are added without a unit
    where others have one.
    """

    text: str
    said: Decimal
    margin: Decimal
    values: tuple[Decimal, ...]
    bare: tuple[str, ...] = ()

    @property
    def holds(self) -> bool:
        """Whether it adds up as printed, rounded to the last printed figure."""
        return any(abs(value - self.said) <= self.margin for value in self.values)


class _NotReadError(Exception):
    """The expression is none, or has something in it that is not known here."""


@dataclass(frozen=True, slots=True)
class _Token:
    kind: str
    text: str
    start: int
    end: int


def sums(text: str) -> Iterator[Sum]:
    """Every sum that can be read for sure, in the order of the text."""
    for piece in _PIECE.split(text):
        if "=" in piece:
            yield from _sums_in(piece)


def _sums_in(text: str) -> Iterator[Sum]:
    for run in _runs(text):
        sides = _sides(run)
        for at, side in enumerate(sides[:-1]):
            result = next((later for later in sides[at + 1 :] if _number(later)), None)
            found = _number(result) if result else None
            if result is None or found is None:
                continue
            number, size = found
            if at == 0 and len([token for token in side if token.kind == "number"]) < 2:
                continue  # "1 = 250": a name or a switch that is 250, no sum
            values = tuple(_values(side, size))
            if values:
                written = text[side[0].start : result[-1].end]
                yield Sum(written, number, _margin(result), values, _bare(side, result))


def _bare(side: list[_Token], result: list[_Token]) -> tuple[str, ...]:
    """The numbers of parts that are added without a unit, where there is one elsewhere."""
    if not any(token.kind == "unit" for token in (*side, *result)):
        return ()
    parts: list[list[_Token]] = [[]]
    for token in side:
        if _SIGNS.get(token.text, token.text) in ("+", "−"):
            parts.append([])
        else:
            parts[-1].append(token)
    without = (part for part in parts if not any(token.kind == "unit" for token in part))
    return tuple(token.text for part in without for token in part if token.kind == "number")


def _values(side: list[_Token], size: Decimal) -> Iterator[Decimal]:
    """What an expression may mean: its numbers alone, with their units, with one unit for all."""
    try:
        yield (plain := _Reader(side, units=False).value)
        yield _Reader(side, units=True).value / size
    except (_NotReadError, DivisionByZero, InvalidOperation):
        return
    if [token for token in side if token.kind == "unit"] == side[-1:]:
        yield plain * _size(side[-1]) / size


def _runs(text: str) -> Iterator[list[_Token]]:
    """Stretches of numbers, units and signs that hold an equals sign."""
    run: list[_Token] = []
    before = ""
    for match in _TOKEN.finditer(text):
        token = _Token(match.lastgroup or "", match[0], match.start(), match.end())
        if token.kind == "space":
            continue
        if token.kind == "other":
            yield from _whole(run, before, match[0])
            run, before = [], match[0]
            continue
        run.append(token)
    yield from _whole(run, before, "")


def _whole(run: list[_Token], before: str, after: str) -> Iterator[list[_Token]]:
    """The run, if what stands before and behind it is no part of it."""
    if not any(token.text == "=" for token in run):
        return
    if before[-1:].isdigit() or before.lower().strip(":,;") in _IN_WORDS:
        return
    # "= 12 m of 500 m" is a number with words behind it; "= 12 m⁴" is in a unit not known here.
    if not after or after[0] in ",.;:!?)|" or after.isalpha():
        yield run


def _sides(run: list[_Token]) -> list[list[_Token]]:
    sides: list[list[_Token]] = [[]]
    for token in run:
        if token.text == "=":
            sides.append([])
        else:
            sides[-1].append(token)
    return sides


def _number(side: list[_Token]) -> tuple[Decimal, Decimal] | None:
    """A side that is one number: the number, and how large its unit is."""
    negative = bool(side) and side[0].text in ("−", "-")
    rest = side[1:] if negative else side
    if not rest or rest[0].kind != "number" or len(rest) > 2:
        return None
    if len(rest) == 2 and rest[1].kind != "unit":
        return None
    number = _decimal(rest[0])
    return (-number if negative else number), (_size(rest[1]) if len(rest) == 2 else Decimal(1))


def _margin(side: list[_Token]) -> Decimal:
    exponent = next(_decimal(token) for token in side if token.kind == "number").as_tuple().exponent
    assert isinstance(exponent, int)
    return Decimal("0.5") * Decimal(10) ** min(exponent, 0)


def _decimal(token: _Token) -> Decimal:
    return Decimal(re.sub(r"[\u202f\u00a0]", "", token.text))


def _size(token: _Token) -> Decimal:
    above, _, below = _PLURAL.get(token.text, token.text).partition("/")
    if token.text in UNITS:
        return UNITS[token.text].size
    return UNITS[above].size / (UNITS[below].size if below else 1)


class _Reader:
    """Works an expression out: signs bind as usual."""

    def __init__(self, tokens: list[_Token], *, units: bool) -> None:
        self._tokens, self._at, self._units = tokens, 0, units
        self.value = self._sum()
        if self._at != len(tokens):
            raise _NotReadError

    def _sign(self, signs: str) -> str:
        if self._at == len(self._tokens):
            return ""
        token = self._tokens[self._at]
        sign = _SIGNS.get(token.text, token.text)
        if token.kind != "sign" or sign not in signs:
            return ""
        self._at += 1
        return sign

    def _sum(self) -> Decimal:
        value = self._product()
        while sign := self._sign("+−"):
            value = value + self._product() if sign == "+" else value - self._product()
        return value

    def _product(self) -> Decimal:
        value = self._part()
        while sign := self._sign("·/"):
            value = value * self._part() if sign == "·" else value / self._part()
        return value

    def _part(self) -> Decimal:
        if self._sign("("):
            value = self._sum()
            if not self._sign(")"):
                raise _NotReadError
            return value * self._unit()
        if self._at == len(self._tokens) or self._tokens[self._at].kind != "number":
            raise _NotReadError
        self._at += 1
        return _decimal(self._tokens[self._at - 1]) * self._unit()

    def _unit(self) -> Decimal:
        if self._at == len(self._tokens) or self._tokens[self._at].kind != "unit":
            return Decimal(1)
        self._at += 1
        return _size(self._tokens[self._at - 1]) if self._units else Decimal(1)
