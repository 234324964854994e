"""Draws of a lab by seeds that are no secret, for what is told from many of them.

Most of a draw is the tries that the lab's rules throw away. How many a seed takes is the same for
ever, so it is kept in the user's cache, and whoever asks again has the draw at once. A cache whose
last draw is wrong is as good as none.
"""

from __future__ import annotations

import json
from typing import Final

from labkit.classroom.users_cache import Cached
from labkit.lab.definition import Lab
from labkit.lab.draw import MAX_TRIES, Scenario, draw, draw_again
from labkit.language.problems import DefinitionError

_NO_VALUE: Final = 0
"""The number of tries of a seed whose draw has no value for a formula."""


class OpenDraws:
    """The draws of `lab` by the seeds "`word` 1", "`word` 2" and so on."""

    def __init__(self, lab: Lab, word: str) -> None:
        self._lab, self._word = lab, word
        self._cached = Cached("draws", lab, word)
        self._tries = _tries(self._cached.read())
        self._new = False
        if self._tries and self._tries[-1] != self._look(len(self._tries))[0]:
            self._tries = []

    def draw(self, number: int) -> Scenario | None:
        """The `number`th draw, from 1; None where a formula has no value in it.

        They are asked for one after the other.
        """
        if number <= len(self._tries):
            tries = self._tries[number - 1]
            return draw_again(self._lab, self._seed(number), tries) if tries else None
        tries, scenario = self._look(number)
        self._tries.append(tries)
        self._new = True
        return scenario

    def keep(self) -> None:
        """Keep the tries of the draws that were asked for, for the next time."""
        if self._new:
            self._cached.keep(json.dumps(self._tries))
        self._new = False

    def _look(self, number: int) -> tuple[int, Scenario | None]:
        try:
            scenario = draw(self._lab, self._seed(number))
        except DefinitionError:
            return _NO_VALUE, None
        return scenario.tries, scenario

    def _seed(self, number: int) -> str:
        return f"{self._word} {number}"


def _tries(kept: bytes | None) -> list[int]:
    try:
        tries = json.loads(kept or b"[]")
    except (ValueError, RecursionError):
        return []
    known = isinstance(tries, list) and all(type(one) is int for one in tries)
    return tries if known and all(_NO_VALUE <= one <= MAX_TRIES for one in tries) else []
