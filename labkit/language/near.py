"""How near a mistyped word is to a known one: near enough to be meant, or not."""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import Final

_WRONG_BY_LENGTH: Final = ((3, 0), (6, 1), (10, 2))
"""Words shorter than so many letters may have so many wrong; longer ones three."""
_MOST_WRONG: Final = 3


def near(word: str, known: Iterable[str]) -> str:
    """The known word that `word` begins, or is a slip of the finger away from; "" for none.

    Capitals, blanks and hyphens count for nothing: "Last tap" is near "last_tap".
    """
    bare = _bare(word)
    begun = next((one for one in sorted(known) if _begins(one, word)), "")
    if begun:
        return begun
    allowed = next((wrong for length, wrong in _WRONG_BY_LENGTH if len(bare) < length), _MOST_WRONG)
    best, fewest = "", allowed + 1
    for candidate in sorted(known):
        if abs(len(candidate) - len(word)) > _MOST_WRONG:
            continue
        wrong = letters_wrong(bare, _bare(candidate))
        if wrong < fewest and wrong < max(len(candidate), len(bare)) / 2:
            best, fewest = candidate, wrong
    return best


def _begins(known: str, word: str) -> bool:
    """Whether only the rest is missing: "tap 1" of "tap 1, left"."""
    enough = len(word) > _MOST_WRONG and known.startswith(word)
    return enough and known[len(word) : len(word) + 1] in (" ", ",", "-")


def letters_wrong(word: str, known: str) -> int:
    """Letters to put in, take out, change, or exchange with the next, to make `known` of `word`."""
    before: list[int] = []
    last: list[int] = [*range(len(known) + 1)]
    for row, letter in enumerate(word, 1):
        this = [row]
        for column, other in enumerate(known, 1):
            ways = [last[column - 1] + (letter != other), last[column] + 1, this[-1] + 1]
            if column > 1 and word[row - 2 : row] == other + known[column - 2]:
                ways.append(before[column - 2] + 1)
            this.append(min(ways))
        before, last = last, this
    return last[-1]


def _bare(word: str) -> str:
    return re.sub(r"[\s_-]+", "", word).lower()
