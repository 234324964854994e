"""A device's switches on paper: as they stand, or without their sliders and arrows, to draw them.

A setting is a digit a switch, position 1 first; see `SwitchRow`.
"""

from __future__ import annotations

from math import cos, pi, sin
from typing import Final

from labkit.doors.switches import SwitchRow
from labkit.kinds.common.paper_shapes import INK, box, circle, drawing, path, words

_PITCH: Final = 11.0
_LEFT: Final = 12.0
_SLOT: Final = (6.0, 17.0)
_DECADES: Final = ("hundreds", "tens", "ones")
_SIXTEENS: Final = ("sixteens", "ones")
_COUNT: Final = ("No", "One", "Two", "Three", "Four", "Five", "Six")


def slide_switches(row: SwitchRow, setting: str = "") -> str:
    """A block of slide switches; without a setting its slots are empty."""
    width, height = _SLOT
    parts = [box(_LEFT - 2, 1, row.positions * _PITCH, height + 4, weight=0.5)]
    parts += [words(_LEFT - 4, 7, "on", anchor="end"), words(_LEFT - 4, 18, "off", anchor="end")]
    for at in range(row.positions):
        x = _LEFT + at * _PITCH + (_PITCH - 4 - width) / 2
        parts.append(box(x, 3, width, height))
        parts.append(path(f"M {x:g} {3 + height / 2:g} h {width:g}", weight=0.2))
        if setting:
            top = 3.6 if setting[at] == "1" else 3.6 + height / 2
            parts.append(box(x + 0.6, top, width - 1.2, height / 2 - 1.2, fill=INK))
        parts.append(words(x + width / 2, 26, str(at + 1), bold=True))
    parts += _bracket(0, row.address, "node address")
    if row.rate:
        parts += _bracket(row.address, row.positions, "data rate")
    label = "Switch block, position 1 on the left"
    return drawing(_LEFT + row.positions * _PITCH + 2, 35, label, *parts)


def _bracket(start: int, end: int, text: str) -> list[str]:
    left, right = _LEFT + start * _PITCH - 1, _LEFT + end * _PITCH - 3
    line = path(f"M {left:g} 27.5 v 1.5 H {right:g} v -1.5", weight=0.25)
    return [line, words((left + right) / 2, 33, text)]


def rotary_switches(row: SwitchRow, setting: str = "") -> str:
    """Rotary switches; without a setting they have no arrow."""
    parts = []
    counted = _SIXTEENS if row.places > 10 else _DECADES
    dials = [*counted[-row.address :], *["data rate"] * row.rate]
    for at, name in enumerate(dials):
        x, y, radius = 22.0 + at * 40, 20.0, 10.0
        parts.append(circle(x, y, radius, weight=0.5))
        parts.append(circle(x, y, 0.7, fill=INK))
        for digit in range(row.places):
            left, top = _around(x, y, radius + 4, digit, row.places)
            parts.append(words(left, top + 1, f"{digit:X}", bold=True))
        if setting:
            parts.append(_arrow(x, y, radius - 1, int(setting[at], 16), row.places))
        parts.append(words(x, 41, name))
    label = f"{_COUNT[len(dials)]} rotary switches"
    return drawing(10 + len(dials) * 40, 43, label, *parts)


def _arrow(x: float, y: float, length: float, digit: int, places: int) -> str:
    opposite, side = digit + places / 2, 0.06 * places
    tip, tail = _around(x, y, length, digit, places), _around(x, y, length * 0.7, opposite, places)
    sides = [_around(x, y, length * 0.6, digit + turn, places) for turn in (-side, side)]
    shaft = f"M {tail[0]:.2f} {tail[1]:.2f} L {tip[0]:.2f} {tip[1]:.2f}"
    head = " ".join(f"M {a:.2f} {b:.2f} L {tip[0]:.2f} {tip[1]:.2f}" for a, b in sides)
    return path(f"{shaft} {head}", weight=0.9)


def _around(x: float, y: float, radius: float, digit: float, places: int) -> tuple[float, float]:
    """The place of a digit on a dial, 0 at the top."""
    angle = 2 * pi * digit / places - pi / 2
    return x + radius * cos(angle), y + radius * sin(angle)
