"""Which difficulties a class is dealt, of what a lab's draws come to."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable
from dataclasses import dataclass
from statistics import median
from typing import Final

SHARE_OF_BAND: Final = 0.25
"""Unless a class allows another spread, this share of the lab's band is dealt."""


@dataclass(frozen=True, slots=True)
class Window:
    """The ends of what is dealt, and how many of the draws lie in it."""

    low: float
    high: float
    inside: int


def window(
    values: Iterable[float], band: tuple[float, float] | None, spread: float | None = None
) -> Window | None:
    """The window that holds most of these difficulties, nearest to their middle.

    It is as wide as `spread`; without one, a quarter of `band`, or of what the values span where
    the lab states no band. None where no value lies in the band.
    """
    inside = sorted(value for value in values if not band or band[0] <= value <= band[1])
    if not inside:
        return None
    low, high = band or (inside[0], inside[-1])
    width = min(high - low, SHARE_OF_BAND * (high - low) if spread is None else spread)
    middle = median(inside)

    def worth(start: float) -> tuple[int, float]:
        held = bisect_right(inside, start + width) - bisect_left(inside, start)
        return held, -abs(start + width / 2 - middle)

    start = max((min(value, high - width) for value in inside), key=worth)
    return Window(start, start + width, worth(start)[0])
