"""A drawing with places that can be pointed at, as an `ask` holds it."""

from __future__ import annotations

from typing import Final, TypedDict

from labkit.doors.network import Drawn

WIDTHS: Final = (860.0, 400.0)
"""Of such a drawing, px: for a screen, and for a phone, where it has more rows."""


class Picture(TypedDict):
    """The drawing as SVG, its size in px; [left, top, width, height] of each part, by its id."""

    svg: str
    width: float
    height: float
    boxes: dict[str, list[list[float]]]


def picture(drawn: Drawn) -> Picture:
    """The drawing as JSON."""
    boxes = {part: [[*box] for box in found] for part, found in drawn.boxes.items()}
    return {"svg": drawn.svg, "width": drawn.width, "height": drawn.height, "boxes": boxes}
