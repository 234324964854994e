"""A chassis seen from the front, with the nameplates of its modules and without slot numbers."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from labkit.kinds.common.paper_shapes import SHADE, WIDEST, box, drawing, words
from labkit.kinds.plan_board.data import Mounted

_HIGH: Final = 46.0
_SUPPLY: Final = 14.0
_WIDEST_SLOT: Final = 24.0


def chassis_front(slots: int, modules: Sequence[Mounted]) -> str:
    """The supply on the left, then the slots."""
    wide = min(_WIDEST_SLOT, (WIDEST - _SUPPLY - 2) / slots)
    parts = [
        box(0.5, 0.5, _SUPPLY + slots * wide + 1, _HIGH + 2, weight=0.6),
        box(1.5, 1.5, _SUPPLY - 1.5, _HIGH, fill=SHADE),
        words(_SUPPLY / 2 + 1.5, 26, "Supply", upwards=True, bold=True),
    ]
    mounted = {each["slot"]: each for each in modules}
    for slot in range(slots):
        x = 1 + _SUPPLY + slot * wide
        parts.append(box(x, 1.5, wide - 0.6, _HIGH))
        parts.append(_front(mounted.get(slot), x + (wide - 0.6) / 2))
    label = f"A chassis with a supply and {slots} slots"
    return drawing(WIDEST, _HIGH + 3, label, *parts)


def _labelled(revision: str) -> str:
    """A bare number, as labs of older versions have it, says what it is."""
    return f"revision {revision}" if revision[:1].isdigit() else revision


def _front(module: Mounted | None, x: float) -> str:
    """The nameplate in three lines that are read upwards."""
    if module is None:
        return words(x + 1, 26, "blank cover", upwards=True)
    lines = (module["what"], module["type"], _labelled(module["revision"]))
    return "".join(
        words(
            x - 3.2 + at * 4.2,
            _HIGH / 2 + 1.5,
            line,
            room=_HIGH - 3,
            upwards=True,
            bold=at == 0,
        )
        for at, line in enumerate(lines)
    )
