"""The few probability distributions that the intervals and tests here need.

Written out because the pages must be made wherever labkit scores, and a whole library for three
functions would weigh more than everything else that scoring loads.
"""

from __future__ import annotations

import math
from statistics import NormalDist
from typing import Final

_STEPS: Final = 500
_TINY: Final = 1e-300


def normal_quantile(probability: float) -> float:
    """The standard normal value below which `probability` (0 to 1, both excluded) lies."""
    return NormalDist().inv_cdf(probability)


def beta_share(a: float, b: float, x: float) -> float:
    """The regularised incomplete beta function I_x(a, b) for a, b > 0 and 0 ≤ x ≤ 1.

    Continued fraction of the NIST Digital Library of Mathematical Functions, 8.17.22, taken on the
    side where it converges fast (8.17.4). Raises `ValueError` outside the ranges.
    """
    if not (a > 0 and b > 0 and 0 <= x <= 1):
        raise ValueError(f"I_{x}({a}, {b}) is not defined")
    if x in (0, 1):
        return float(x)
    if x > (a + 1) / (a + b + 2):
        return 1 - beta_share(b, a, 1 - x)
    log_front = (
        math.lgamma(a + b) - math.lgamma(a) - math.lgamma(b) + a * math.log(x) + b * math.log1p(-x)
    )
    return math.exp(log_front) / (a * _fraction(a, b, x))


def _fraction(a: float, b: float, x: float) -> float:
    """1 + d1/(1 + d2/(1 + …)) by the modified method of Lentz."""
    value = upper = 1.0
    lower = 0.0
    for step in range(1, _STEPS):
        half = step // 2
        if step % 2:
            term = -(a + half) * (a + b + half) * x / ((a + 2 * half) * (a + 2 * half + 1))
        else:
            term = half * (b - half) * x / ((a + 2 * half - 1) * (a + 2 * half))
        lower = 1 / _not_zero(1 + term * lower)
        upper = _not_zero(1 + term / upper)
        factor = lower * upper
        value *= factor
        if abs(factor - 1) < 1e-15:
            break
    return value


def _not_zero(value: float) -> float:
    return value if abs(value) > _TINY else _TINY


def f_tail(value: float, upper: float, lower: float) -> float:
    """The probability that F with `upper` and `lower` degrees of freedom exceeds `value`."""
    if value <= 0:
        return 1.0
    if math.isinf(value):
        return 0.0
    if upper * value < lower:
        # Near 0 the share of the other side is the one that keeps its digits.
        return 1 - beta_share(upper / 2, lower / 2, upper * value / (lower + upper * value))
    return beta_share(lower / 2, upper / 2, lower / (lower + upper * value))


def f_quantile(probability: float, upper: float, lower: float) -> float:
    """The value that F with `upper` and `lower` degrees of freedom stays below with `probability`.

    By halving: `probability` must lie between 0 and 1, both excluded (`ValueError`).
    """
    if not 0 < probability < 1:
        raise ValueError(f"there is no quantile for a probability of {probability}")
    low, high = 0.0, 1.0
    while f_tail(high, upper, lower) > 1 - probability:
        low, high = high, 2 * high
    for _ in range(200):
        middle = (low + high) / 2
        if middle in (low, high):
            break
        if f_tail(middle, upper, lower) > 1 - probability:
            low = middle
        else:
            high = middle
    return (low + high) / 2
