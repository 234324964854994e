"""What a hand multimeter of 6,000 counts shows.

Its ranges and its way of showing an open circuit are those of ordinary hand meters (common
practice, no source). The meter itself draws nothing.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

OPEN: Final = "OL"
COUNTS: Final = 6000
_OHM_RANGES: Final = ((600.0, 1, "Ω", 1.0), (6e3, 3, "kΩ", 1e3), (60e3, 2, "kΩ", 1e3),
                      (600e3, 1, "kΩ", 1e3), (6e6, 3, "MΩ", 1e6), (40e6, 2, "MΩ", 1e6))  # fmt: skip
_VOLT_RANGES: Final = ((0.6, 1, "mV", 1e-3), (6.0, 3, "V", 1.0), (60.0, 2, "V", 1.0),
                       (600.0, 1, "V", 1.0))  # fmt: skip
_AMPERE_RANGES: Final = ((0.6, 1, "mA", 1e-3), (6.0, 3, "A", 1.0), (60.0, 2, "A", 1.0))

_EDGE: Final = 1e-6
"""In counts: far more than rounding in a calculation, far less than anything that is measured."""
_SURE: Final = 0.5 - _EDGE

_REMEMBERED: Final = 8192
"""Resistances of which what is shown is remembered, for who measures a few places again."""
_FIGURES: Final = 65_536
"""More than there are different figures of ohms."""
_OHM_TOPS: Final = tuple(top for top, *_ in _OHM_RANGES)
_OHM_STEPS: Final = tuple((scale, 10.0**decimals) for _, decimals, _, scale in _OHM_RANGES)

LIVE_REFUSAL: Final = (
    "Not measured: the network is live. An ohmmeter there shows nonsense and can be destroyed. "
    "Switch the supply off, secure it as the local rules ask, check that it is dead, then measure."
)


@dataclass(frozen=True, slots=True)
class Shown:
    """A meter's display: the text with its unit, and the number shown, in ohm, volt or ampere.

    `value` is `math.inf` for an open circuit, None where the meter refuses (`text` says why).
    """

    text: str
    value: float | None

    @property
    def refused(self) -> bool:
        """Whether there is no reading."""
        return self.value is None


@lru_cache(maxsize=_REMEMBERED)
def ohms_shown(ohm: float) -> Shown:
    """A resistance as the meter shows it."""
    if ohm > _OHM_RANGES[-1][0]:
        return Shown(OPEN, math.inf)
    return _in_range(ohm, _OHM_RANGES)


@lru_cache(maxsize=_REMEMBERED)
def on_edge(ohm: float) -> bool:
    """Whether a last bit more or less in the calculation could show another figure."""
    for top, decimals, _, scale in _OHM_RANGES:
        if ohm < top:
            return abs(ohm / scale * 10.0**decimals % 1 - 0.5) < _EDGE
    return False


def all_ohms_shown(ohms: Iterable[float]) -> tuple[dict[float, str], bool]:
    """The text of each of many resistances, in their order, and whether none is `on_edge`."""
    shown: dict[float, str] = {}
    sure = True
    for ohm in dict.fromkeys(ohms):
        place = bisect_right(_OHM_TOPS, ohm)
        if place == len(_OHM_TOPS):
            shown[ohm] = ohms_shown(ohm).text
            continue
        scale, steps = _OHM_STEPS[place]
        counts = ohm / scale * steps
        count = round(counts)
        if -_SURE < counts - count < _SURE:
            shown[ohm] = _text_of(place, count)
        else:
            shown[ohm] = ohms_shown(ohm).text
            sure = False
    return shown, sure


@lru_cache(maxsize=_FIGURES)
def _text_of(place: int, count: int) -> str:
    """What so many counts in a range of ohms are shown as; its top is shown in the next one."""
    scale, steps = _OHM_STEPS[place]
    return ohms_shown(count / steps * scale).text


def volts_on_edge(volt: float, within: float) -> bool:
    """Whether so many volts more or less could show another figure."""
    for top, decimals, _, scale in _VOLT_RANGES:
        if abs(volt) < top:
            steps = 10.0**decimals / scale
            return abs(volt * steps % 1 - 0.5) < within * steps
    return False


def volts_shown(volt: float) -> Shown:
    """A DC voltage as the meter shows it."""
    return _in_range(volt, _VOLT_RANGES)


def amperes_shown(ampere: float) -> Shown:
    """A direct current as the meter shows it."""
    return _in_range(ampere, _AMPERE_RANGES)


def _in_range(value: float, ranges: tuple[tuple[float, int, str, float], ...]) -> Shown:
    for top, decimals, unit, scale in ranges:
        number = round(value / scale, decimals)
        if abs(number) * scale < top or (top, decimals, unit, scale) == ranges[-1]:
            number += 0.0  # no minus zero
            return Shown(f"{number:.{decimals}f} {unit}".replace("-", "−"), number * scale)
    raise AssertionError("the last range takes everything")
