"""The lines that a change takes out of a file and puts in, with those around them."""

from __future__ import annotations

import difflib
from collections.abc import Iterator, Sequence
from typing import Final, TypedDict

_AROUND: Final = 2
_Line = tuple[str, str, int]
"""A sign, the text, and the number of the line in the file as it is now."""


class Hunk(TypedDict):
    """Lines that stand together, each with a sign: "-" goes, "+" comes, " " stays.

    `line` is the number of the first one in the file as it is now.
    """

    line: int
    lines: list[tuple[str, str]]


def hunks(old: Sequence[str], new: Sequence[str]) -> list[Hunk]:
    """What is different between two texts."""
    lines = [*_signed(old, new)]
    changes = [at for at, (sign, _, _) in enumerate(lines) if sign != " "]
    near = sorted({at + by for at in changes for by in range(-_AROUND, _AROUND + 1)})
    found: list[Hunk] = []
    last = -1
    for at in near:
        if not 0 <= at < len(lines):
            continue
        sign, text, number = lines[at]
        if not found or at > last + 1:
            found.append({"line": number, "lines": []})
        found[-1]["lines"].append((sign, text))
        last = at
    return found


def _signed(old: Sequence[str], new: Sequence[str]) -> Iterator[_Line]:
    """The lines of both. What is the same at the ends is not looked at twice: a file is long."""
    before = _same(old, new)
    after = _same(old[before:][::-1], new[before:][::-1])
    middle, other = old[before : len(old) - after], new[before : len(new) - after]
    for at in range(before):
        yield " ", old[at], at + 1
    matcher = difflib.SequenceMatcher(None, middle, other, autojunk=False)
    for tag, first, end, new_first, new_end in matcher.get_opcodes():
        sign = " " if tag == "equal" else "-"
        for at in range(first, end):
            yield sign, middle[at], before + at + 1
        if tag != "equal":
            for at in range(new_first, new_end):
                yield "+", other[at], before + first + 1
    for at in range(len(old) - after, len(old)):
        yield " ", old[at], at + 1


def _same(old: Sequence[str], new: Sequence[str]) -> int:
    """How many lines are the same from the beginning."""
    shorter = min(len(old), len(new))
    return next((at for at in range(shorter) if old[at] != new[at]), shorter)
