"""The virtual bench on paper: the trunk with its joints, devices and ends, evenly spaced."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from labkit.bench.conductors import Conductors
from labkit.bench.layout import LEFT_END, RIGHT_END, Layout
from labkit.kinds.common.paper_shapes import (
    INK,
    SHADE,
    SMALLEST,
    WIDEST,
    box,
    circle,
    drawing,
    in_lines,
    path,
    words,
)

_TRUNK: Final = 18.0
_MOST_IN_A_ROW: Final = 8
_LINE: Final = 3.7


def bench_line(layout: Layout) -> str:
    """Ends, taps and supplies from left to right, with the devices and their node addresses.

    A long line is drawn in rows.
    """
    joints = _joints(layout)
    count = -(-len(joints) // _MOST_IN_A_ROW)
    each = -(-len(joints) // count)
    rows = [joints[start : start + each] for start in range(0, len(joints), each)]
    drawn = []
    for number, row in enumerate(rows):
        drawn.append(_row(layout, row, first=number == 0, last=number == len(rows) - 1))
    return "".join(drawn)


def _joints(layout: Layout) -> list[tuple[str, float]]:
    """The joints along the trunk, left to right: (name, m from the left end)."""
    found: dict[str, float] = {}
    for connector in layout.connectors.values():
        if connector.kind == "trunk":
            found.setdefault(connector.socket, connector.position)
    return list(found.items())


def _row(layout: Layout, joints: Sequence[tuple[str, float]], *, first: bool, last: bool) -> str:
    step = (WIDEST - 16) / len(joints)
    parts = [path(f"M 6 {_TRUNK:g} H {WIDEST - 6:g}", weight=1.1)]
    for x, end, there in ((2.0, LEFT_END, first), (WIDEST - 6, RIGHT_END, last)):
        parts += _terminator(x, end) if there else [words(x + 2, _TRUNK + 6, "…")]
    bottom = _TRUNK + 8
    for at, (name, position) in enumerate(joints):
        drawn, foot = _joint(layout, name, position, 8 + (at + 0.5) * step, step)
        parts += drawn
        bottom = max(bottom, foot)
    return drawing(
        WIDEST, bottom + 1, "The line: trunk, taps, devices, supply and terminators", *parts
    )


def _terminator(x: float, end: str) -> list[str]:
    return [
        box(x, _TRUNK - 3.5, 4, 7, fill=SHADE, weight=0.5),
        words(x + 2, _TRUNK - 9, "R", bold=True),
        words(x + 2, _TRUNK - 5.5, end.split()[0]),
    ]


def _joint(
    layout: Layout, name: str, position: float, x: float, step: float
) -> tuple[list[str], float]:
    """A joint with what is joined to it, and where that ends below."""
    parts = [circle(x, _TRUNK, 1.1, fill=INK)]
    supply = next((s for s in layout.supplies if name == f"power tap of {s}"), None)
    if supply is not None:
        parts.append(path(f"M {x:g} {_TRUNK:g} V 9"))
        parts.append(box(x - step / 2 + 0.7, 2, step - 1.4, 7, weight=0.6))
        parts.append(words(x, 6.5, supply, bold=True, room=step - 2.4))
        parts.append(words(x, _TRUNK + 5, f"{position:g} m"))
        return parts, _TRUNK + 6
    parts.append(words(x, _TRUNK - 6, name, bold=True))
    parts.append(words(x, _TRUNK - 2.6, f"{position:g} m"))
    parts.append(path(f"M {x:g} {_TRUNK:g} v 5"))
    lines = []
    for device in _devices_at(layout, name):
        lines += in_lines(device, step - 2, SMALLEST)
        address = layout.devices[device].address
        lines += [] if address is None else [f"node {address}"]
    high = _LINE * len(lines) + 1.5
    parts.append(box(x - step / 2 + 0.7, _TRUNK + 5, step - 1.4, high))
    for at, line in enumerate(lines):
        parts.append(words(x, _TRUNK + 8.4 + _LINE * at, line, room=step - 2.4))
    return parts, _TRUNK + 5 + high


def _devices_at(layout: Layout, tap: str) -> list[str]:
    found = next(each for each in layout.plan.taps if each.name == tap)
    return [device.name for device in found.drop.all_devices]


def connector_to_land(colours: Sequence[str], conductors: Conductors) -> str:
    """The ends of the conductors on the left, an open connector's screws on the right."""
    parts = [
        words(30, 4, "the cable's conductors"),
        words(110, 4, "the terminals"),
    ]
    for at, colour in enumerate(colours):
        y = 11.0 + at * 9
        parts.append(words(30, y + 1, colour, size=3, anchor="end"))
        parts.append(path(f"M 32 {y:g} h 12", weight=0.8))
        parts.append(circle(45, y, 1, fill=INK))
    parts.append(box(92, 6, 26, 9 * len(colours) + 1, weight=0.6))
    for wire in conductors.wires:
        y = 11.0 + (wire.terminal - 1) * 9
        parts.append(circle(100, y, 2.6))
        parts.append(path(f"M 98.2 {y + 1.8:g} l 3.6 -3.6", weight=0.5))
        parts.append(words(110, y + 1.2, str(wire.terminal), size=3.4, bold=True))
    count = conductors.count_words
    title = f"{count.capitalize()} conductors, and a connector with {count} terminals"
    return drawing(130, 9 * len(colours) + 9, title, *parts)


def trunk_to_mark(
    places: Sequence[tuple[str, float]], rows: Sequence[str], right: Sequence[frozenset[str]] = ()
) -> str:
    """The trunk with its places, and below each a box to tick in every row, such as "terminator".

    `right` holds for each row the places that are ticked.
    """
    step = (WIDEST - 30) / len(places)
    height = 26.0 + 9 * len(rows)
    parts = [path(f"M {30 + step / 2:g} 20 H {WIDEST - step / 2:g}", weight=1.1)]
    for at, (name, position) in enumerate(places):
        x = 30 + (at + 0.5) * step
        parts.append(circle(x, 20, 1.1, fill=INK))
        for number, line in enumerate(reversed(in_lines(name, step - 1, SMALLEST))):
            parts.append(words(x, 13.5 - 3.2 * number, line, bold=True, room=step - 1))
        parts.append(words(x, 17, f"{position:g} m"))
        for row in range(len(rows)):
            y = 25.0 + 9 * row
            parts.append(box(x - 2.5, y, 5, 5, weight=0.4))
            if right and name in right[row]:
                parts.append(path(f"M {x - 2:g} {y + 0.5:g} l 4 4 m 0 -4 l -4 4", weight=0.8))
    for row, what in enumerate(rows):
        parts.append(words(0, 29 + 9 * row, what, anchor="start", bold=True))
    return drawing(WIDEST, height, "The trunk and its places, to mark", *parts)
