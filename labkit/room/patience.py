"""Wrong tries make whoever sent them wait, and nobody else.

A right one between them changes nothing: who guesses has a code of their own too. Of some
hundred million codes one is somebody's: at the longest wait, one connection finds none in years.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass
from time import monotonic
from typing import Final

_FREE: Final = 3
"""Wrong tries without a wait: people mistype."""
_LONGEST: Final = 60.0
"""Seconds."""
_FORGOTTEN_AFTER: Final = 900.0
"""Seconds without a wrong try after which one is forgotten."""
_REMEMBERED: Final = 10_000
"""Connections that are known at once; the one that was quiet longest goes first."""


@dataclass(slots=True)
class _Tries:
    wrong: int
    last: float


class Patience:
    """Counts wrong tries by where they come from."""

    def __init__(self, now: Callable[[], float] = monotonic) -> None:
        self._now = now
        self._tries: OrderedDict[str, _Tries] = OrderedDict()

    def wait(self, who: str) -> float:
        """Seconds until `who` may try again; 0 for at once."""
        tries = self._tries.get(who)
        if tries is None or tries.wrong < _FREE:
            return 0.0
        due = tries.last + min(2.0 ** (tries.wrong - _FREE), _LONGEST)
        return max(0.0, due - self._now())

    def wrong(self, who: str) -> None:
        """Note a wrong try."""
        now = self._now()
        tries = self._tries.pop(who, _Tries(0, now))
        if now - tries.last > _FORGOTTEN_AFTER:
            tries.wrong = 0
        self._tries[who] = _Tries(tries.wrong + 1, now)
        while len(self._tries) > _REMEMBERED:
            self._tries.popitem(last=False)
