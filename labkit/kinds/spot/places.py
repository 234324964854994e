"""Which place of a picture a point lies in."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import product
from typing import Final

from labkit.kinds.spot.data import Place

WHOLE: Final = 1000
"""A picture's width, and its height, in the units of a point."""


def place_at(places: Sequence[Place], x: int, y: int) -> Place | None:
    """The smallest place that holds the point: a part may lie on a larger one."""
    return min((each for each in places if _holds(each, x, y)), key=area, default=None)


def point_in(places: Sequence[Place], wanted: Place) -> list[int] | None:
    """A point of a place, its middle if that is free; None where smaller ones cover it."""
    left, top, right, bottom = wanted["edges"]
    tenths = (5, 3, 7, 1, 9, 2, 4, 6, 8)
    for across, down in product(tenths, tenths):
        x, y = left + (right - left) * across // 10, top + (bottom - top) * down // 10
        if place_at(places, x, y) is wanted:
            return [x, y]
    return None


def area(place: Place) -> float:
    """The share of the picture that a place covers."""
    left, top, right, bottom = place["edges"]
    box = (right - left) * (bottom - top) / WHOLE**2
    return box * 0.785 if place["form"] == "oval" else box


def _holds(place: Place, x: int, y: int) -> bool:
    left, top, right, bottom = place["edges"]
    if not (left <= x <= right and top <= y <= bottom):
        return False
    if place["form"] == "box":
        return True
    across = (2 * x - left - right) / (right - left)
    down = (2 * y - top - bottom) / (bottom - top)
    return across**2 + down**2 <= 1
