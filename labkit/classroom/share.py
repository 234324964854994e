"""What is known of a result while marks of it may wait for a person, and the one pass rule.

Work that waits is neither earned nor lost: a percentage is of what is marked, and beside it stands
what waits. Whether a pass mark is reached is said only where no mark that waits can change it.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final, Self

from labkit.classroom.mark import Mark

_NOISE: Final = 1e-9
"""Percent that sums of floats may be off."""
_MOST_DECIMALS: Final = 12


@dataclass(frozen=True, slots=True)
class Share:
    """In marks: `earned` of the `marked` ones, and `waiting` besides.

    `open` is the most that may still come: less than what waits where hints have cost some of it,
    more where another attempt may turn out better.
    """

    earned: float
    marked: float
    waiting: float = 0.0
    open: float = 0.0

    @classmethod
    def of(cls, marks: Iterable[Mark]) -> Self:
        """Over the marks of one hand-in; voided ones are in nothing."""
        counted = [mark for mark in marks if not mark.voided]
        waiting = [mark for mark in counted if mark.awaits]
        given = [mark for mark in counted if not mark.awaits]
        return cls(
            round(sum(mark.earned for mark in given), 2),
            math.fsum(mark.possible for mark in given),
            math.fsum(mark.possible for mark in waiting),
            math.fsum(max(0.0, mark.possible - mark.hint_cost) for mark in waiting),
        )

    @classmethod
    def total(cls, shares: Iterable[Share]) -> Self:
        """Several together."""
        parts = [(one.earned, one.marked, one.waiting, one.open) for one in shares]
        return (
            cls(*(math.fsum(column) for column in zip(*parts, strict=True))) if parts else cls(0, 0)
        )

    def scaled(self, factor: float) -> Share:
        """Every part of it times `factor`."""
        return Share(
            *(factor * part for part in (self.earned, self.marked, self.waiting, self.open))
        )

    @property
    def possible(self) -> float:
        """The marks that are given and those that wait."""
        return self.marked + self.waiting

    @property
    def percent(self) -> float | None:
        """Earned marks in % of those that are given; None where none is."""
        return 100 * self.earned / self.marked if self.marked else None

    @property
    def least(self) -> float:
        """What is certain, in % of all: nothing for whatever waits."""
        return 100 * self.earned / self.possible if self.possible else 0.0

    @property
    def most(self) -> float:
        """What can still be reached, in % of all."""
        return 100 * (self.earned + self.open) / self.possible if self.possible else 0.0

    def reaches(self, pass_mark: float) -> bool | None:
        """Whether `pass_mark` (in %) is reached; None while what waits decides it."""
        if not self.possible:
            return None
        if reached(self.least, pass_mark):
            return True
        return None if reached(self.most, pass_mark) else False

    @property
    def waits(self) -> str:
        """What waits, in words; "" when nothing does."""
        return f"{self.waiting:g} of {self.possible:g} marks wait" if self.waiting else ""


def reached(percent: float, pass_mark: float) -> bool:
    """The pass rule. Nothing is rounded up: 59.96 % does not reach 60 %."""
    return percent >= pass_mark - _NOISE


def spoken_percent(percent: float | None, pass_mark: float | None = None, decimals: int = 1) -> str:
    """A percentage as people read it, rounded; "–" where there is none.

    It has more decimals than asked for where it would otherwise seem to reach a pass mark that it
    does not reach, or the other way round.
    """
    if percent is None:
        return "–"
    for places in range(decimals, _MOST_DECIMALS):
        text = f"{percent:.{places}f}"
        if pass_mark is None or reached(float(text), pass_mark) == reached(percent, pass_mark):
            return text
    return f"{percent:.{_MOST_DECIMALS}f}"
