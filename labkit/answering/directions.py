"""How often a trainee is told on which side of the right answer they are: twice an exercise.

With "too large" and "too small" to every answer, any number is found by halving, without a thought.
"""

from __future__ import annotations

from typing import Final

from labkit.doors.verdict import Verdict

MOST: Final = 2
"""Answers to an exercise whose verdict tells a direction that was not told before."""
NO_MORE: Final = "On which side you are was told twice; from now on go by the steps."


class Directions:
    """What was told in one exercise, worked out from its answers in their order.

    An answer that was given before tells nothing new, and uses up none.
    """

    def __init__(self) -> None:
        self._told: set[str] = set()
        self._used = 0

    @property
    def used_up(self) -> bool:
        """Whether no further direction is told."""
        return self._used >= MOST

    def take(self, verdict: Verdict) -> None:
        """Take the verdict on the next answer in."""
        if not self.used_up and not self.told(verdict):
            self._used += 1
            self._told.update(verdict.directions)

    def told(self, verdict: Verdict) -> bool:
        """Whether all that the verdict tells of the side was told already."""
        return self._told.issuperset(verdict.directions)

    def message(self, verdict: Verdict) -> str:
        """What may be said of an answer that was taken in."""
        if self.told(verdict):
            return verdict.message
        return f"{verdict.without_direction}\n{NO_MORE}"
