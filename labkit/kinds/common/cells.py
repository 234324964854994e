"""Small answers: the blanks of a table, the lines of a form. Each is judged on its own."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import groupby
from typing import Any, Final, Literal

from labkit.doors.verdict import Verdict, unreadable
from labkit.errors import LabkitError
from labkit.kinds.common.cell_data import Cell, CellKey, FormAnswer, GroupSlip, NumberCell
from labkit.kinds.common.number_check import NumberCheck
from labkit.kinds.common.number_check import written as number_written
from labkit.kinds.common.number_data import NumberKey
from labkit.kinds.common.span import around
from labkit.language.number import NODE_NOUNS, QuantityError, plain, read_number, without_nouns
from labkit.language.quantity import UNITS, read_count

MAX_TYPED: Final = 80
_NOUNS: Final = (*NODE_NOUNS, "slot", "place", "step", "tap", "edition", "fix")
"""What may stand before a whole number: "slot 3"."""
MOST_BYTES: Final = 8
"""Of a cell that says no other number."""
# Marked as hexadecimal in the ways of assemblers, of controllers (IEC 61131-3) and of handbooks.
_MARKED: Final = r"(?:0x|16#|\$|&h|hex:?)?"
_HEX: Final = re.compile(rf"{_MARKED}#?([0-9a-f]{{1,8}})(?:h|hex|\(hex\))?", re.IGNORECASE)
_BYTE: Final = re.compile(rf"{_MARKED}([0-9a-f]{{2}})h?", re.IGNORECASE)
_BYTES_MARKED: Final = re.compile(r"^hex:?\s+|\s+\(?(?:hex|h)\)?$", re.IGNORECASE)
_BINARY: Final = re.compile(r"0b[01]{2,}", re.IGNORECASE)
_NO_BYTES: Final = frozenset({"none", "-", "–"})
_NOT_YET: Final = "not right yet."

State = Literal["right", "wrong", "empty", "unreadable"]
Value = Any
"""Of the type that the cell asks for; of a number, the text."""


class _CellNumber(NumberCheck):
    unit_beside = True


_NUMBER: Final = _CellNumber()


class CellError(LabkitError, ValueError):
    """What is written cannot be read; the message tells the writer what to write instead."""


@dataclass(frozen=True, slots=True)
class Part:
    """One cell of a form: its name in an answer, its label for people, and its key (or `NO_KEY`).

    `head` names what it belongs to, a row or a frame. `explain` says what a wrong value means; it
    is asked where no slip fits.
    """

    name: str
    label: str
    cell: Cell
    key: CellKey
    explain: Callable[[Value], str] | None = None
    head: str = ""

    @property
    def title(self) -> str:
        """Its label, and in brackets what it belongs to: that may be a whole sentence."""
        return f"{self.label} ({self.head})" if self.head else self.label

    @property
    def number(self) -> tuple[NumberCell, NumberKey] | None:
        """Cell and key, where a number with a unit is to be written."""
        cell, key = self.cell, self.key
        return (cell, key) if cell["write"] == "number" and "tolerance" in key else None


@dataclass(frozen=True, slots=True)
class Judged:
    """What is said of one cell; directions as in a verdict."""

    part: Part
    state: State
    tell: str = ""
    slip: str = ""
    directions: tuple[str, ...] = ()
    without_direction: str = ""

    @property
    def undirected(self) -> Judged:
        """The same without a word on the side."""
        return replace(self, tell=self.without_direction) if self.directions else self


def typed(answer: Any, name: str) -> str:
    """What stands in a cell of any JSON answer at all, as text."""
    value = answer.get(name, "") if isinstance(answer, dict) else ""
    if isinstance(value, bool) or not isinstance(value, str | int | float):
        return ""
    if isinstance(value, int) and value.bit_length() > 100:
        return "a huge number"
    return _plain(str(value))[:MAX_TYPED]


def _plain(text: str) -> str:
    return " ".join(text.replace("\u2212", "-").split())


def read(cell: Cell, text: str) -> Value:
    """The value of what is written. Raises `CellError` with a sentence for the writer."""
    if cell["write"] == "number":
        sentence = _NUMBER.unreadable(cell, text)
        if sentence:
            raise CellError(sentence)
        return text
    if cell["write"] == "whole":
        try:
            return read_count(without_nouns(plain(text), _NOUNS))
        except QuantityError as error:
            raise CellError(str(error)) from error
    if cell["write"] == "hex":
        found = _HEX.fullmatch(text.replace(" ", ""))
        if _BINARY.fullmatch(text):
            raise CellError(f"'{text}' is binary: write it as a hexadecimal number.")
        if not found:
            raise CellError(f"'{text}' is not a hexadecimal number: digits 0 to 9, A to F.")
        return int(found[1], 16)
    if cell["write"] == "bytes":
        return _read_bytes(text, cell.get("most", MOST_BYTES))
    for word in cell["words"]:
        # What is typed comes with plain spaces and a plain minus; a word may have "V−".
        if _plain(word) == text:
            return word
    raise CellError("Choose one of the words.")


def _with_unit(cell: Cell, text: str) -> str:
    """A bare number with the unit that stands beside the cell."""
    if cell["write"] != "number" or not text:
        return text
    try:
        read_number(text, cell.get("decimals", 0))
    except QuantityError:
        return text
    return f"{text} {UNITS[cell['unit']].symbol}".strip()


def _read_bytes(text: str, most: int) -> list[int]:
    if text.lower() in _NO_BYTES:
        return []
    text = _BYTES_MARKED.sub("", text)
    words = [word for word in re.split(r"[\s,;.:_-]+", text) if word]
    run = words[0].lower().removeprefix("0x") if len(words) == 1 else ""
    if len(run) > 2 and len(run) % 2 == 0:
        words = [run[at : at + 2] for at in range(0, len(run), 2)]
    found = [_BYTE.fullmatch(word) for word in words]
    if not found or not all(found):
        raise CellError(f"'{text}' is not a row of bytes. Write two digits (0 to 9, A to F) each.")
    if len(found) > most:
        raise CellError(f"A frame carries at most {most} bytes; here are {len(found)}.")
    return [int(match[1], 16) for match in found if match]


def written(part: Part, value: Value) -> str:
    """A value as a trainee would write it into the cell."""
    if part.number:
        cell, key = part.number
        whose = key if value == key["value"] else around(key, value)
        return number_written(whose, UNITS[cell["unit"]])
    if part.cell["write"] == "hex":
        return f"{value:0{part.cell['digits']}X}"
    if part.cell["write"] == "bytes":
        return bytes(value).hex(" ").upper() or "none"
    return str(value)


def judge(part: Part, text: str) -> Judged:
    """What is said of what is written in one cell."""
    if not text:
        return Judged(part, "empty")
    try:
        given = read(part.cell, text)
    except CellError as error:
        return Judged(part, "unreadable", str(error))
    if part.number:
        return _judged_number(part, _NUMBER.check(*part.number, given))
    if given == part.key["value"]:
        return Judged(part, "right")
    for slip in part.key["slips"]:
        if given == slip["value"]:
            return Judged(part, "wrong", slip["tell"], slip["id"])
    tell = part.explain(given) if part.explain else _NOT_YET
    return Judged(part, "wrong", tell)


def _judged_number(part: Part, verdict: Verdict) -> Judged:
    if verdict.right:
        return Judged(part, "right")
    return Judged(
        part,
        "wrong",
        verdict.message,
        verdict.slip,
        tuple(f"{part.name}: {told}" for told in verdict.directions),
        verdict.without_direction,
    )


def fits(part: Part, text: str, value: Value) -> bool:
    """Whether what is written is `value`, a number within the cell's tolerance."""
    return judge(replace(part, key=_key_of(part, value)), text).state == "right"


def _key_of(part: Part, value: Value) -> CellKey:
    """As if `value` were right and no slip known."""
    if part.number:
        _, key = part.number
        return around(key, value)
    return {"value": value, "slips": []}


def judge_all(
    parts: Sequence[Part], answer: Any, groups: Sequence[GroupSlip] = ()
) -> dict[str, Judged]:
    """What is said of each cell; where a whole group's mistake fits, that is told."""
    judged = {part.name: judge(part, typed(answer, part.name)) for part in parts}
    by_name = {part.name: part for part in parts}
    for group in groups:
        if not all(
            fits(by_name[name], typed(answer, name), value)
            for name, value in group["values"].items()
        ):
            continue
        for name in group["values"]:
            if judged[name].state == "wrong":
                judged[name] = Judged(by_name[name], "wrong", group["tell"], group["id"])
    return judged


def asks_back(parts: Sequence[Part], answer: Any) -> list[str]:
    """A sentence for each cell that is filled in and cannot be read."""
    judged = ((part, typed(answer, part.name)) for part in parts)
    found = []
    for part, text in judged:
        try:
            if text:
                read(part.cell, text)
        except CellError as error:
            found.append(f"{part.title}: {error}")
    return found


def why_unreadable(parts: Sequence[Part], answer: Any, noun: str) -> str:
    """Why nothing of an answer can be judged; "" where any cell can be read."""
    sentence = f"No {noun} is filled in yet."
    for part in parts:
        text = typed(answer, part.name)
        if not text:
            continue
        try:
            read(part.cell, text)
        except CellError as error:
            sentence = f"{part.title}: {error}"
            continue
        return ""
    return sentence


def form_verdict(
    parts: Sequence[Part],
    answer: Any,
    *,
    noun: str,
    groups: Sequence[GroupSlip] = (),
    when_right: str = "",
) -> Verdict:
    """The share of the cells that are right, and which are not; never the right value itself."""
    sentence = why_unreadable(parts, answer, noun)
    if sentence:
        return unreadable(sentence)
    judged = list(judge_all(parts, answer, groups).values())
    right = sum(1 for item in judged if item.state == "right")
    if right == len(judged):
        return Verdict(1.0, when_right or _all_right(right, noun))
    count = _count(judged, right, noun)
    slips = Counter(item.slip for item in judged if item.slip)
    slip = slips.most_common(1)[0][0] if slips else ""
    directions = tuple(told for item in judged for told in item.directions)
    undirected = _tells([item.undirected for item in judged]) if directions else []
    return Verdict(
        right / len(judged),
        "\n".join([count, *_tells(judged)]),
        slip,
        directions=directions,
        without_direction="\n".join([count, *undirected]) if directions else "",
        meaning=next((item.tell for item in judged if slip and item.slip == slip), ""),
    )


def _all_right(count: int, noun: str) -> str:
    return f"Right: all {count} {noun}s." if count > 1 else "Right."


def _count(judged: Sequence[Judged], right: int, noun: str) -> str:
    words = f"{right} of {len(judged)} {noun}s {'is' if right == 1 else 'are'} right"
    empty = sum(1 for item in judged if item.state == "empty")
    return f"{words}, {empty} still empty." if empty else f"{words}."


def _tells(judged: Sequence[Judged]) -> list[str]:
    """A line for each thing to tell, with the names of all the cells that it is told of."""
    told: dict[str, list[Part]] = {}
    for item in judged:
        if item.tell:
            told.setdefault(item.tell, []).append(item.part)
    return [f"{_names(parts)}: {tell.strip()}" for tell, parts in told.items()]


def _names(parts: Sequence[Part]) -> str:
    """The labels, and in brackets all that they belong to."""
    heads: dict[str, list[str]] = {}
    for head, some in _by_head(parts):
        heads.setdefault(", ".join(part.label for part in some), []).append(head)
    return "; ".join(
        f"**{labels}** ({' · '.join(of)})" if any(of) else f"**{labels}**"
        for labels, of in heads.items()
    )


def _by_head(parts: Iterable[Part]) -> Iterator[tuple[str, Iterator[Part]]]:
    return groupby(parts, key=lambda part: part.head)


def states(
    parts: Sequence[Part], answer: Any, groups: Sequence[GroupSlip] = ()
) -> dict[str, State]:
    """How each cell stands, for the page to mark it."""
    return {name: item.state for name, item in judge_all(parts, answer, groups).items()}


def right_answers(parts: Sequence[Part]) -> FormAnswer:
    """Every cell filled in rightly."""
    return {part.name: written(part, part.key["value"]) for part in parts}


def slip_answers(
    parts: Sequence[Part],
    check: Callable[[Any], Verdict],
    groups: Sequence[GroupSlip] = (),
) -> dict[str, FormAnswer]:
    """For each known mistake, a right answer spoilt by it: everywhere, or else in one cell."""
    found: dict[str, FormAnswer] = {}
    right = right_answers(parts)
    for name, spoilt in _spoilings(parts, groups):
        answer = {**right, **spoilt}
        verdict = check(answer)
        if name not in found and verdict.slip == name and not verdict.right:
            found[name] = answer
    return found


def _spoilings(parts: Sequence[Part], groups: Sequence[GroupSlip]) -> list[tuple[str, FormAnswer]]:
    by_name = {part.name: part for part in parts}
    singles: list[tuple[str, FormAnswer]] = []
    together: dict[str, FormAnswer] = {}
    for part in parts:
        for slip in part.key["slips"]:
            spoilt = {part.name: written(part, slip["value"])}
            singles.append((slip["id"], spoilt))
            together.setdefault(slip["id"], {}).update(spoilt)
    whole = [
        (
            group["id"],
            {name: written(by_name[name], value) for name, value in group["values"].items()},
        )
        for group in groups
    ]
    return [*whole, *together.items(), *singles]


def shown(parts: Sequence[Part], answer: Any) -> str:
    """The filled-in cells, one after the other, as a report shows them."""
    if not any(typed(answer, part.name) for part in parts):
        return ""
    groups = []
    for head, some in _by_head(parts):
        filled = [
            f"{part.label}: {_with_unit(part.cell, typed(answer, part.name)) or '–'}"
            for part in some
        ]
        groups.append(f"{head} ({', '.join(filled)})" if head else "; ".join(filled))
    return "; ".join(groups)
