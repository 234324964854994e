"""The lines that a change takes out of a file and puts in, with those around them."""

from __future__ import annotations

import difflib
from collections.abc import Sequence
from typing import Final, TypedDict

_AROUND: Final = 2


class Hunk(TypedDict):
    """Lines that stand together, each with a sign: "-" goes, "+" comes, " " stays.

    `line` is the number of the first one in the file as it is now.
    """

    line: int
    lines: list[tuple[str, str]]


def hunks(old: Sequence[str], new: Sequence[str]) -> list[Hunk]:
    """What is different between two texts."""
    before = _same_at_the_ends(old, new)
    after = _same_at_the_ends(old[before:][::-1], new[before:][::-1])
    first = max(before - _AROUND, 0)
    old = old[first : len(old) - max(after - _AROUND, 0)]
    new = new[first : len(new) - max(after - _AROUND, 0)]
    matcher = difflib.SequenceMatcher(None, old, new, autojunk=False)
    found: list[Hunk] = []
    for group in matcher.get_grouped_opcodes(_AROUND):
        lines: list[tuple[str, str]] = []
        for tag, old_first, old_end, new_first, new_end in group:
            if tag == "equal":
                lines += [(" ", line) for line in old[old_first:old_end]]
                continue
            lines += [("-", line) for line in old[old_first:old_end]]
            lines += [("+", line) for line in new[new_first:new_end]]
        found.append({"line": first + group[0][1] + 1, "lines": lines})
    return found


def _same_at_the_ends(old: Sequence[str], new: Sequence[str]) -> int:
    """How many lines are the same from the beginning."""
    shorter = min(len(old), len(new))
    return next((at for at in range(shorter) if old[at] != new[at]), shorter)
