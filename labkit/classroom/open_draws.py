"""Draws of a lab by seeds that are no secret, for what is told from many of them.

Most of a draw is the tries that the lab's rules throw away. How many a seed takes is the same for
ever, so it is kept in the user's cache, and whoever asks again has the draw at once. A cache that
cannot be read or written, is of another lab or labkit, or has its last draw wrong, is as good as
none.
"""

from __future__ import annotations

import json
from hashlib import sha256
from pathlib import Path
from typing import Final

from platformdirs import user_cache_path

from labkit import __version__
from labkit.exchange.whole_file import write_whole
from labkit.lab.definition import Lab
from labkit.lab.draw import MAX_TRIES, Scenario, draw, draw_again
from labkit.lab.marking_rules import rules_of
from labkit.language.problems import DefinitionError

_NO_VALUE: Final = 0
"""The number of tries of a seed whose draw has no value for a formula."""


class OpenDraws:
    """The draws of `lab` by the seeds "`word` 1", "`word` 2" and so on."""

    def __init__(self, lab: Lab, word: str) -> None:
        self._lab, self._word = lab, word
        of = "\n".join((__version__, rules_of(lab), lab.digest, word))
        self._file = _place() / f"draws-{sha256(of.encode()).hexdigest()[:32]}.json"
        self._tries = _read(self._file)
        self._new = 0
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
        self._new += 1
        return scenario

    def keep(self) -> None:
        """Keep the tries of the draws that were asked for, for the next time."""
        if not self._new:
            return
        try:
            self._file.parent.mkdir(parents=True, exist_ok=True)
            write_whole(self._file, json.dumps(self._tries).encode())
        except OSError:
            return
        self._new = 0

    def _look(self, number: int) -> tuple[int, Scenario | None]:
        try:
            scenario = draw(self._lab, self._seed(number))
        except DefinitionError:
            return _NO_VALUE, None
        return scenario.tries, scenario

    def _seed(self, number: int) -> str:
        return f"{self._word} {number}"


def _place() -> Path:
    return user_cache_path("labkit", appauthor=False)


def _read(file: Path) -> list[int]:
    try:
        tries = json.loads(file.read_bytes())
    except (OSError, ValueError, RecursionError):
        return []
    known = isinstance(tries, list) and all(type(one) is int for one in tries)
    return tries if known and all(_NO_VALUE <= one <= MAX_TRIES for one in tries) else []
