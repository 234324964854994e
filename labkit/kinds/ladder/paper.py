"""Rungs of a ladder diagram on paper: empty between their rails, or with a program drawn in.

Contacts and coils as IEC 61131-3 draws them (from memory).
"""

from __future__ import annotations

from typing import Final

from labkit.fieldbus.ladder import Branch, Coil, CoilKind, Contact, Group, Program, Rung
from labkit.kinds.common.paper_shapes import drawing, path, words

_LEFT: Final = 6.0
_RIGHT: Final = 162.0
_STEP: Final = 26.0
_ROW: Final = 13.0
_EMPTY: Final = 36.0
_COIL: Final = {CoilKind.ASSIGN: "", CoilKind.SET: "S", CoilKind.RESET: "R"}


def empty_rungs(count: int) -> str:
    """Rails with room for `count` rungs, dotted to draw along."""
    return "".join(_empty(number) for number in range(1, count + 1))


def symbols() -> str:
    """What the three usual symbols look like."""
    parts = [
        _contact(Contact("on: lets through", False), 4, 10),
        _contact(Contact("off: lets through", True), 54, 10),
        _coil(Coil("coil", CoilKind.ASSIGN), 104, 10),
    ]
    return drawing(134, 16, "A contact, a contact with a stroke, a coil", *parts)


def drawn_rungs(program: Program) -> str:
    """A program as a ladder."""
    return "".join(_drawn(number, rung) for number, rung in enumerate(program.rungs, 1))


def _empty(number: int) -> str:
    dots = [path(f"M {_LEFT:g} {y:g} H {_RIGHT:g}", weight=0.3, dashed=True) for y in (10, 18, 26)]
    return drawing(168, _EMPTY, f"Rung {number}, empty", *_rails(number, _EMPTY), *dots)


def _rails(number: int, height: float) -> list[str]:
    return [
        path(f"M {_LEFT:g} 0 V {height:g} M {_RIGHT:g} 0 V {height:g}", weight=0.7),
        words(2.5, 11, str(number), bold=True),
    ]


def _drawn(number: int, rung: Rung) -> str:
    height = 6 + _ROW * max([1, *(len(group) for group in rung.groups)])
    parts, x, y = _rails(number, height), _LEFT, 10.0
    for group in rung.groups:
        drawn, x = _group(group, x, y)
        parts += drawn
    start = _RIGHT - _STEP
    parts.append(path(f"M {x:g} {y:g} H {start:g}"))
    parts.append(_coil(rung.coil, start, y))
    return drawing(168, height, f"Rung {number}", *parts)


def _group(group: Group, x: float, y: float) -> tuple[list[str], float]:
    """The branches of a group below one another, and where the group ends."""
    end = x + _STEP * max(1, max(len(branch) for branch in group))
    parts = []
    for number, branch in enumerate(group):
        parts += _branch(branch, x, end, y + number * _ROW)
    if len(group) > 1:
        down = (len(group) - 1) * _ROW
        parts.append(path(f"M {x:g} {y:g} v {down:g} M {end:g} {y:g} v {down:g}"))
    return parts, end


def _branch(branch: Branch, x: float, end: float, y: float) -> list[str]:
    parts = [_contact(contact, x + at * _STEP, y) for at, contact in enumerate(branch)]
    reached = x + len(branch) * _STEP
    return [*parts, path(f"M {reached:g} {y:g} H {end:g}")] if reached < end else parts


def _contact(contact: Contact, x: float, y: float) -> str:
    middle = x + _STEP / 2
    plates = f"M {middle - 2:g} {y - 3:g} v 6 M {middle + 2:g} {y - 3:g} v 6"
    leads = f"M {x:g} {y:g} H {middle - 2:g} M {middle + 2:g} {y:g} H {x + _STEP:g}"
    stroke = f" M {middle - 3:g} {y + 3:g} L {middle + 3:g} {y - 3:g}" if contact.closed else ""
    name = contact.operand
    return (
        path(plates + stroke, weight=0.6)
        + path(leads)
        + words(middle, y - 4.5, name, room=_STEP - 1)
    )


def _coil(coil: Coil, x: float, y: float) -> str:
    middle = x + _STEP / 2
    arcs = f"M {middle - 2:g} {y - 3:g} q -3 3 0 6 M {middle + 2:g} {y - 3:g} q 3 3 0 6"
    leads = f"M {x:g} {y:g} H {middle - 3.5:g} M {middle + 3.5:g} {y:g} H {x + _STEP:g}"
    kind = words(middle, y + 1, _COIL[coil.kind])
    name = words(middle, y - 4.5, coil.operand, room=_STEP - 1)
    return path(arcs, weight=0.6) + path(leads) + kind + name
