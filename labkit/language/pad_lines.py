"""The lines of a scratch pad: what can be calculated gets its result, all else stays a note.

A line is cut into amounts, names and signs, as answers are read; what they come to is worked out
by the one expression language, within its bounds. Nothing of a lab is known here.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from difflib import get_close_matches
from typing import Final, cast

from labkit.language.amount import Amount
from labkit.language.number import QuantityError, plain
from labkit.language.pad_pieces import ENDS_AMOUNT, Is, Piece, pieces, unit_of
from labkit.language.quantity import UNITS
from labkit.language.taken_apart import sum_of

MAX_LINES: Final = 60
MAX_LINE: Final = 200
_MAX_AMOUNTS: Final = 25
_MAX_BRACKETS: Final = 15
_MAX_NAME: Final = 30

_LABEL = re.compile(r"([^\W\d][^=:]*?) ?([=:]) ?(.+)")
"""What a line is of: "loop = 120 ohm / 2", "Drop at the far end: 1.2 A * 0.9 ohm"."""
_NAME = re.compile(rf"[^\W\d]\w{{0,{_MAX_NAME - 1}}}")
_BEGINS: Final = frozenset({Is.AMOUNT, Is.NAME, Is.WORD, Is.OPEN})
_ENDS: Final = ENDS_AMOUNT | {Is.WORD}

Names = dict[str, Amount | None]
"""Results by the names that lines gave them; None where a line has none."""


@dataclass(frozen=True, slots=True)
class Beside:
    """What stands beside a line: its result, or what is wrong with it; nothing beside a note."""

    result: str = ""
    wrong: str = ""


def beside_lines(lines: Iterable[str]) -> list[Beside]:
    """What stands beside each line; a line may use the results that are named above it."""
    names: Names = {}
    return [_beside(line, names) for line in lines]


def _beside(line: str, names: Names) -> Beside:
    """What stands beside a line; the name that it gives is added to `names`."""
    name, formula = _label_and_formula(line)
    found = pieces(formula, names) if len(line) <= MAX_LINE else None
    if not found:
        return Beside()
    wrong = _first_mistake(found, names)
    if not _is_calculation(found, names, named=bool(name), wrong=bool(wrong)):
        return Beside()
    if mistake := _name_mistake(name):
        return Beside(wrong=mistake)
    try:
        amount = _calculated(found, names, wrong)
        shown = f"{'≈' if amount.is_rounded else '='} {amount}"
    except QuantityError as error:
        names.update({name: None} if name else {})
        return Beside(wrong=str(error))
    is_alone = sum(piece.kind in (Is.AMOUNT, Is.NAME) for piece in found) == 1
    if is_alone and amount.is_plain and not name:
        return Beside()  # a number alone is no calculation
    names.update({name: amount} if name else {})
    return Beside(shown)


def _label_and_formula(line: str) -> tuple[str, str]:
    """The name that a line gives its result, "" for none, and what is to be calculated."""
    text = plain(line[:MAX_LINE]).rstrip("= ")
    found = _LABEL.fullmatch(text)
    if found is None:
        return "", text
    label, sign, formula = found.groups()
    return label if sign == "=" and _NAME.fullmatch(label) else "", formula


def _is_calculation(
    found: Sequence[Piece], names: Mapping[str, object], *, named: bool, wrong: bool
) -> bool:
    """Whether a line was meant to be calculated: what goes wrong in a note is nobody's business."""
    kinds = [piece.kind for piece in found]
    if Is.AMOUNT not in kinds and Is.NAME not in kinds:
        return False
    signs = [piece.sign for piece in found if piece.kind is Is.SIGN]
    sure = named or Is.POWER in kinds or "*" in signs or "/" in signs
    strangers = [at for at, kind in enumerate(kinds) if kind is Is.WORD]
    if strangers and not (sure or _is_near(found[strangers[0]].written, names)):
        return False
    if len(strangers) > 1 or any(_is_beside_another(kinds, at) for at in strangers):
        return False
    if not wrong:
        return True
    has_unit = any(piece.has_unit or piece.kind is Is.NAME for piece in found)
    if any(piece.strange_unit for piece in found) and not (has_unit or sure):
        return False
    return bool(signs) or sure or (has_unit and len(found) == 1)


def _is_near(word: str, names: Iterable[str]) -> bool:
    return bool(get_close_matches(word, names, cutoff=0.6))


def _is_beside_another(kinds: Sequence[Is], at: int) -> bool:
    """Whether there is no sign between that word and what stands beside it: "fuse 2 * 4 A"."""
    after_amount = at > 0 and kinds[at - 1] in _ENDS
    return after_amount or (at + 1 < len(kinds) and kinds[at + 1] in _BEGINS)


def _first_mistake(found: Sequence[Piece], names: Names) -> str:
    """What is wrong with a line as it is written; "" for nothing."""
    return next((mistake for mistake in _mistakes(found, names) if mistake), "")


def _mistakes(found: Sequence[Piece], names: Names) -> Iterator[str]:
    for piece in found:
        yield piece.wrong
        if piece.kind is Is.POWER:
            yield "Powers are not calculated here: write the product, as in 3 m * 3 m."
        if piece.kind is Is.WORD:
            yield f"'{piece.written}' is no name from above.{_meant(piece.written, names)}"
        if piece.kind is Is.NAME and names[piece.written] is None:
            yield f"'{piece.written}' has no result: mend its line first."
    yield from map(_between, [None, None, *found], [None, *found], [*found, None])
    yield _brackets(found)
    if sum(piece.kind in (Is.AMOUNT, Is.NAME) for piece in found) > _MAX_AMOUNTS:
        yield f"A line may have {_MAX_AMOUNTS} amounts: give the first part a name of its own."
    yield from map(_two_ways, [None, *found], found, found[1:], found[2:])


def _meant(word: str, names: Iterable[str]) -> str:
    close = get_close_matches(word, names, n=1, cutoff=0.6)
    return f" Did you mean '{close[0]}'?" if close else ""


def _between(before: Piece | None, left: Piece | None, right: Piece | None) -> str:
    """What is missing between two pieces; None is where the line begins or ends."""
    if left and left.kind in _ENDS:
        if right and right.kind in _BEGINS:
            return f"Between '{left.written}' and '{right.written}' a sign is missing: + - * or /."
        return ""
    if right is None:
        return f"After '{left.written}' something is missing." if left else ""
    of_number = right.kind is Is.SIGN and right.sign in "+-"
    is_third = left and before and left.kind is before.kind is Is.SIGN
    if right.kind in _BEGINS or (of_number and not is_third):
        return ""
    if left is None:
        return f"Before '{right.written}' something is missing."
    return f"Between '{left.written}' and '{right.written}' something is missing."


def _brackets(found: Sequence[Piece]) -> str:
    depth = 0
    for piece in found:
        depth += (piece.kind is Is.OPEN) - (piece.kind is Is.CLOSE)
        if depth < 0:
            return "A bracket is closed here that was not opened."
        if depth > _MAX_BRACKETS:
            return "The brackets are nested too deep."
    return "A bracket is not closed: write ) where it ends." if depth else ""


def _two_ways(before: Piece | None, above: Piece, sign: Piece, below: Piece) -> str:
    """Ask back "120/2 ohm": ohms that are divided, or a division by ohms?"""
    if above.kind is not Is.AMOUNT or below.kind is not Is.AMOUNT or sign.sign != "/":
        return ""
    if above.has_unit or not below.has_unit or (before and before.sign == "/"):
        return ""
    number = below.number
    unit = below.written.removeprefix(number).strip()
    return (
        f"'{above.written}{sign.written}{below.written}' can be read in two ways: write "
        f"({above.written}/{number}) {unit} or {above.written}/({below.written})."
    )


def _calculated(found: Sequence[Piece], names: Names, wrong: str) -> Amount:
    """What a line comes to. Raises `QuantityError`."""
    if wrong:
        raise QuantityError(wrong)
    return cast(Amount, sum_of(*_as_formula(found, names)))


def _name_mistake(name: str) -> str:
    """Why no result can have that name; "" for nothing.

    "R" and "a" are units behind a number, if need be; alone they are good names.
    """
    unit = unit_of(name) if name in UNITS or len(name) > 1 else None
    if unit is None or not name:
        return ""
    meant = "" if unit.symbol == name else f" ({unit.symbol})"
    return f"'{name}' is a unit{meant}: take another name, such as {name}1."


def _as_formula(found: Sequence[Piece], names: Names) -> tuple[str, dict[str, Amount]]:
    """The line in the expression language, "q0*(q1-q2)", and the values of its names."""
    parts: list[str] = []
    values: dict[str, Amount] = {}
    opened: list[int] = []
    bracket = 0
    for piece in found:
        amount = names[piece.written] if piece.kind is Is.NAME else piece.amount
        if amount is not None:
            part = f"q{len(values)}"
            values[part] = amount
        else:
            part = piece.sign or piece.written
        if piece.kind is Is.OPEN:
            opened.append(len(parts))
        if piece.kind is Is.CLOSE:
            bracket = opened.pop()
        if piece.kind is Is.UNIT:
            parts.insert(bracket, "(")
            part = f"*{part})"
        parts.append(part)
    return "".join(parts), values
