"""A line of a scratch pad, cut into pieces: amounts, names, signs, brackets, and words beside them.

Numbers and units are read as those of answers are.
"""

from __future__ import annotations

import re
from collections.abc import Container, Sequence
from dataclasses import dataclass
from enum import Enum, auto
from typing import Final

from labkit.language.amount import Amount
from labkit.language.number import QuantityError, split_number
from labkit.language.quantity import (
    UNITS,
    Unit,
    quantity_of,
    read_resistor,
    unit_named,
    unit_written,
)

_WORD: Final = r"(?:[^\W\d_]+(?!\w)\.?|%|['\"]|°[CF]?)"
_WORD_BEHIND = re.compile(rf" ?({_WORD})")
_UP_TO_THREE_WORDS = re.compile(rf" ?({_WORD}(?: {_WORD}){{0,2}})")
_PER_SECOND = re.compile(r"(?: ?/ ?| per )(?:secs?|seconds?|s)(?!\w)", re.IGNORECASE)
_PER_UNIT = re.compile(rf"(?: ?/ ?| per )({_WORD})")
_NUMBER = re.compile(r"[.,]?\d")
_HEXADECIMAL = re.compile(r"0[xX][0-9A-Fa-f]+\w*|16#\w+")
_RESISTOR = re.compile(r"\d{1,4}[RkKM]\d{1,4}(?: ?(?:Ω|ohms?\b))?")
"""Here a digit stands first: "R2" is a name."""
_QUOTIENT = re.compile(r"(\d{1,2})/(\d{1,2})")
_NAME = re.compile(r"[^\W\d]\w*")
_POWER = re.compile(r"\^|\*\*|[²³]")
_SIGNS: Final = {
    **dict.fromkeys("+", "+"),
    **dict.fromkeys("-–", "-"),
    **dict.fromkeys("*×·⋅", "*"),
    **dict.fromkeys("/÷", "/"),
}
_TIMES = re.compile(r"[xX](?= ?[\d.,(])")
"""An x between a number and another one: "3 x 4.5 m"."""


class Is(Enum):
    """What a piece is."""

    AMOUNT = auto()
    NAME = auto()
    WORD = auto()
    UNIT = auto()
    """A unit behind a bracket."""
    SIGN = auto()
    POWER = auto()
    OPEN = auto()
    CLOSE = auto()


ENDS_AMOUNT: Final = frozenset({Is.AMOUNT, Is.NAME, Is.UNIT, Is.CLOSE})


@dataclass(frozen=True, slots=True)
class Piece:
    """A piece as it was `written`, its `number` alone too; `wrong` says why it is no amount."""

    kind: Is
    written: str
    number: str = ""
    sign: str = ""
    amount: Amount | None = None
    has_unit: bool = False
    wrong: str = ""
    strange_unit: bool = False


def pieces(text: str, names: Container[str]) -> list[Piece] | None:
    """The pieces of a plain text; None for what can only be a note. `names` stand above."""
    found: list[Piece] = []
    at = 0
    while at < len(text):
        if text[at] == " ":
            at += 1
            continue
        piece = _piece(text, at, found[-1].kind if found else None, names)
        if piece is None:
            return None
        found.append(piece)
        at += len(piece.written)
    return found


def unit_of(word: str) -> Unit | None:
    """The unit that a word is; None where it is none."""
    try:
        return unit_written(word.strip())
    except QuantityError:
        return None


def _piece(text: str, at: int, before: Is | None, names: Container[str]) -> Piece | None:
    letter = text[at]
    if hexadecimal := _HEXADECIMAL.match(text, at):
        why = f"'{hexadecimal[0]}' is hexadecimal: write it as a decimal number here."
        return Piece(Is.AMOUNT, hexadecimal[0], wrong=why)
    if _NUMBER.match(text, at):
        return _amount(text[at:], names)
    if power := _POWER.match(text, at):
        return Piece(Is.POWER, power[0])
    if sign := _SIGNS.get(letter):
        return Piece(Is.SIGN, letter, sign=sign)
    if letter in "()":
        return Piece(Is.OPEN if letter == "(" else Is.CLOSE, letter)
    if before in ENDS_AMOUNT and _TIMES.match(text, at):
        return Piece(Is.SIGN, letter, sign="*")
    if before is Is.CLOSE and letter.isalpha() and (behind := _behind_bracket(text[at:], names)):
        return behind
    if name := _NAME.match(text, at):
        return Piece(Is.NAME if name[0] in names else Is.WORD, name[0])
    return None


def _amount(text: str, names: Container[str]) -> Piece:
    """The number at the start of a text, with its unit where one follows."""
    if written := _RESISTOR.match(text):
        resistor = read_resistor(written[0])
        amount = Amount.of(resistor) if resistor else None
        return Piece(Is.AMOUNT, written[0], amount=amount, has_unit=True)
    number, _ = split_number(text)
    if (quotient := _QUOTIENT.fullmatch(number)) and int(quotient[1]) >= int(quotient[2]):
        number = quotient[1]  # "24/12" is no part of a whole, as "2/3" is
    units, behind = _units(text[len(number) :], names)
    if not units:
        return _without_unit(number, text[len(number) :], names)
    try:
        amount = _amount_of(number, units)
        return Piece(Is.AMOUNT, number + behind, number, amount=amount, has_unit=True)
    except QuantityError as error:
        return Piece(Is.AMOUNT, number + behind, number, wrong=str(error), has_unit=True)


def _behind_bracket(text: str, names: Container[str]) -> Piece | None:
    units, written = _units(text, names)
    if not units or _NAME.match(text)[0] in names:  # type: ignore[index]
        return None
    return Piece(Is.UNIT, written, amount=_amount_of("1", units), has_unit=True)


def _without_unit(number: str, rest: str, names: Container[str]) -> Piece:
    """A plain number, perhaps with a word behind it that is no unit."""
    found = _WORD_BEHIND.match(rest)
    if found and found[1] not in names and not _TIMES.match(rest.lstrip()):
        why = _why_no_unit(found[1])
        return Piece(Is.AMOUNT, number + found[0], number, wrong=why, strange_unit=True)
    try:
        return Piece(Is.AMOUNT, number, number, amount=_amount_of(number, [UNITS[""]]))
    except QuantityError as error:
        return Piece(Is.AMOUNT, number, number, wrong=str(error))


def _amount_of(number: str, units: Sequence[Unit]) -> Amount:
    """A number of the first unit, divided by the others. Raises `QuantityError`."""
    first, *below = units
    amount = Amount.of(quantity_of(number, first))
    for unit in below:
        amount = amount / Amount.of(quantity_of("1", unit))
    return amount


def _units(text: str, names: Container[str]) -> tuple[list[Unit], str]:
    """The unit at the start of a text and those that it is divided by; how they are written.

    A unit binds closer than a sign: 5 V / 0.023 ohm/m.
    """
    found = _UP_TO_THREE_WORDS.match(text)
    for end in _ends_of_words(found[0]) if found else ():
        behind = [each.match(text, end) for each in (_PER_SECOND, _PER_UNIT)]
        for to in [*(each.end() for each in behind if each), end]:
            if unit := unit_of(text[:to]):
                below, to = _units_below(text, to, names)
                return [unit, *below], text[:to]
    return [], ""


def _ends_of_words(text: str) -> list[int]:
    """Where the third, the second and the first word of a text end."""
    ends = [place.start() for place in re.finditer(r"(?<=\S)(?: |$)", text)]
    return ends[::-1]


def _units_below(text: str, at: int, names: Container[str]) -> tuple[list[Unit], int]:
    below: list[Unit] = []
    while (found := _PER_UNIT.match(text, at)) and found[1] not in names:
        unit = unit_of(found[1])
        if unit is None:
            break
        below.append(unit)
        at = found.end()
    return below, at


def _why_no_unit(word: str) -> str:
    try:
        unit_named(word)
    except QuantityError as error:
        return str(error)
    return ""
