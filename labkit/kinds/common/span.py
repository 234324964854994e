"""Which numbers earn the marks: those near a value, or all from a least to a most."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final, Literal

from labkit.kinds.common.number_data import NumberKey, RightNumber

ENDS: Final = ("up_to", "down_to")
_MOST_DECIMALS: Final = 15


@dataclass(frozen=True, slots=True)
class Span:
    """From `low` to `high`; `rule_at` is the end at which a rule would break."""

    low: float
    high: float
    rule_at: Literal["", "low", "high"] = ""

    @property
    def ends(self) -> tuple[float, float]:
        """The least and the most that is held; 0.30000000000000004 is still 0.3."""
        return self.low - _noise(self.low), self.high + _noise(self.high)

    def holds(self, given: float) -> bool:
        """Whether a number lies in the span."""
        low, high = self.ends
        return low <= given <= high

    def rounded(self, value: float, decimals: int) -> str:
        """An end of the span, or a value in it, rounded so that it stays inside.

        With so many decimals; with more, where that leads out of the span.
        """
        for places in range(decimals, _MOST_DECIMALS):
            text = self.at_decimals(value, places)
            if self.holds(float(text)):
                return text
        return repr(value)

    def at_decimals(self, value: float, places: int) -> str:
        """A number with so many decimals: the nearest, or that on the side where the rule holds."""
        scale, noise = 10.0**places, _noise(value)
        if self.rule_at == "low":
            value = math.ceil((value - noise) * scale) / scale
        elif self.rule_at == "high":
            value = math.floor((value + noise) * scale) / scale
        return f"{value:.{places}f}"

    def was_left_by_rounding(self, given: float) -> bool:
        """Whether somebody had the end that the rule sets, and rounded it to the wrong side."""
        if not self.rule_at or not given:
            return False
        for places in range(_MOST_DECIMALS // 2):
            scale = 10.0**places
            if self.rule_at == "low":
                away = math.floor((self.low + _noise(self.low)) * scale) / scale
            else:
                away = math.ceil((self.high - _noise(self.high)) * scale) / scale
            if math.isclose(away, given, rel_tol=1e-9):
                return True
        return False


def span_of(key: RightNumber) -> Span:
    """The numbers that a key takes for right."""
    value = key["value"]
    if "up_to" in key:
        return Span(value, key["up_to"], "low")
    if "down_to" in key:
        return Span(key["down_to"], value, "high")
    return Span(value - key["tolerance"], value + key["tolerance"])


def around(key: RightNumber, value: float) -> NumberKey:
    """As if another value were right, such as a slip's: near it on both sides, by the tolerance."""
    return {"value": value, "tolerance": key["tolerance"], "decimals": key["decimals"], "slips": []}


def _noise(value: float) -> float:
    return 1e-9 * max(1.0, abs(value))
