"""What a class gained between two tests with parallel draws: the test before and the test after."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import fmean, stdev
from typing import Final

from labkit.classroom.analysis.distributions import f_quantile
from labkit.classroom.analysis.intervals import CONFIDENCE, Interval

FEW: Final = 10
"""Below so many pairs the interval leans on its suppositions (common practice, no source)."""
AT_AN_END: Final = 0.2
"""From this share of results at 0 or 100 % on, the ends of the scale bend the interval."""
_NOISE: Final = 1e-9

Pair = tuple[float, float]
"""One person's results, before and after, in %."""


@dataclass(frozen=True, slots=True)
class Gain:
    """What some people had before and after, in % of the marks, and what they gained.

    `gain` is in percentage points, `interval` its 95 % interval; None where so few or so equal
    gains tell of none. `better`, `same` and `worse` count people. `doubts` are sentences on how far
    the interval can be trusted.
    """

    pairs: tuple[Pair, ...]
    before: float
    after: float
    gain: float
    interval: Interval | None
    better: int
    same: int
    worse: int
    doubts: tuple[str, ...]

    @property
    def shown(self) -> str:
        """What the interval shows, in a sentence; "" without one."""
        if self.interval is None:
            return ""
        if self.interval.low > 0:
            return "All of it lies above 0: they gained, by more than chance would bring about."
        if self.interval.high < 0:
            return "All of it lies below 0: they lost, by more than chance would bring about."
        return "It holds 0: these figures alone do not show that anything was gained."


def gain_of(pairs: Sequence[Pair]) -> Gain:
    """The gain of those who took both tests. Raises `ValueError` for nobody."""
    if not pairs:
        raise ValueError("nobody took both tests")
    gains = [after - before for before, after in pairs]
    better, worse = sum(g > _NOISE for g in gains), sum(g < -_NOISE for g in gains)
    interval = mean_interval(gains)
    return Gain(
        tuple(pairs),
        fmean(before for before, _ in pairs),
        fmean(after for _, after in pairs),
        fmean(gains),
        interval,
        better,
        len(pairs) - better - worse,
        worse,
        _doubts(pairs, interval),
    )


def mean_interval(values: Sequence[float], confidence: float = CONFIDENCE) -> Interval | None:
    """The interval of a mean: x̄ ± t s/√n, t of Student's distribution with n-1 degrees of freedom.

    Of the differences of pairs it is the paired interval: "Student", "The probable error of a
    mean", Biometrika 6 (1908) 1-25, whose example is one. It supposes that the values are spread
    nearly normally. None for fewer than two values, and where all are alike. Student's t squared is
    F with 1 and n-1 degrees of freedom.
    """
    count = len(values)
    if count < 2:
        return None
    spread = stdev(values)
    if spread < _NOISE:
        return None
    reach = math.sqrt(f_quantile(confidence, 1, count - 1)) * spread / math.sqrt(count)
    middle = fmean(values)
    return Interval(middle - reach, middle + reach)


def _doubts(pairs: Sequence[Pair], interval: Interval | None) -> tuple[str, ...]:
    found = []
    if interval is None:
        found.append(
            "There is no interval: one person alone tells nothing of others."
            if len(pairs) == 1
            else "There is no interval: all gained the same."
        )
    elif len(pairs) < FEW:
        found.append(
            f"Fewer than {FEW} took both tests: the interval holds only if gains spread evenly "
            "about their mean."
        )
    if interval and _at_an_end(pairs):
        found.append(
            "Many results lie at 0 or 100 %, where nobody can lose or gain more: the true gain "
            "may lie beside the interval more often than 1 time in 20."
        )
    return tuple(found)


def _at_an_end(pairs: Sequence[Pair]) -> bool:
    ends = sum(value < _NOISE or value > 100 - _NOISE for pair in pairs for value in pair)
    return ends >= AT_AN_END * 2 * len(pairs)
