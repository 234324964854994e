"""Intervals that say how little a small class tells, and the care that many tests at once need."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from labkit.classroom.analysis.distributions import normal_quantile

CONFIDENCE: Final = 0.95


@dataclass(frozen=True, slots=True)
class Interval:
    """From `low` to `high`, both included."""

    low: float
    high: float


def wilson(share: float, count: int, confidence: float = CONFIDENCE) -> Interval:
    """The score interval of a share (0 to 1) seen in `count` people.

    E. B. Wilson, "Probable inference, the law of succession, and statistical inference", Journal of
    the American Statistical Association 22 (1927) 209-212:
    (p + z²/2n ± z √(p(1-p)/n + z²/4n²)) / (1 + z²/n).

    For a mean of part marks the interval is on the safe side: a share between 0 and 1 with mean p
    never varies more than yes and no with the same mean do, p(1-p).
    Raises `ValueError` for nobody, or a share outside 0 to 1.
    """
    if count < 1 or not 0 <= share <= 1:
        raise ValueError(f"there is no interval for a share of {share} in {count}")
    z = normal_quantile(0.5 + confidence / 2)
    square = z * z / count
    middle = share + square / 2
    reach = z * math.sqrt(share * (1 - share) / count + square / (4 * count))
    low, high = (middle - reach) / (1 + square), (middle + reach) / (1 + square)
    return Interval(0.0 if share == 0 else low, 1.0 if share == 1 else high)


def share_difference(first: float, first_count: int, second: float, second_count: int) -> Interval:
    """The 95 % interval of `first` - `second`, two shares seen in different people.

    R. G. Newcombe, "Interval estimation for the difference between independent proportions",
    Statistics in Medicine 17 (1998) 873-890, method 10: the two Wilson intervals put together.
    """
    one, two = wilson(first, first_count), wilson(second, second_count)
    difference = first - second
    below = math.hypot(first - one.low, two.high - second)
    above = math.hypot(one.high - first, second - two.low)
    return Interval(difference - below, difference + above)


def correlation_interval(
    correlation: float, count: int, confidence: float = CONFIDENCE
) -> Interval | None:
    """The interval of a correlation seen in `count` people; None for fewer than four, and for ±1.

    R. A. Fisher (1921): artanh r is nearly normal with the standard error 1/√(n-3). It has no value
    at ±1 (nor at what differs from that by rounding), which a few people reach by chance.
    """
    if count < 4 or abs(correlation) >= 1 - 1e-9:
        return None
    middle = math.atanh(correlation)
    reach = normal_quantile(0.5 + confidence / 2) / math.sqrt(count - 3)
    return Interval(math.tanh(middle - reach), math.tanh(middle + reach))


def holm(probabilities: Sequence[float], tests: int | None = None) -> list[float]:
    """The probabilities adjusted for having looked many times, in the order given.

    S. Holm, "A simple sequentially rejective multiple test procedure", Scandinavian Journal of
    Statistics 6 (1979) 65-70. `tests` counts all tests where the list leaves out those of
    probability 1. Rejecting what is at most 0.05 afterwards raises any false alarm in at most one
    of twenty classes, however the tests hang together.
    """
    total = len(probabilities) if tests is None else tests
    if total < len(probabilities):
        raise ValueError(f"{len(probabilities)} probabilities are more than {total} tests")
    adjusted, largest = [0.0] * len(probabilities), 0.0
    order = sorted(range(len(probabilities)), key=lambda index: probabilities[index])
    for rank, index in enumerate(order):
        largest = max(largest, min(1.0, (total - rank) * probabilities[index]))
        adjusted[index] = largest
    return adjusted
