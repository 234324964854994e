"""A proposed drawing of a line as SVG: the line as it is drawn anyhow, a number at each part.

The numbers name the parts for a pen and for a voice; where each part is drawn, `Drawn` says.
"""

from __future__ import annotations

from typing import Final

from labkit.doors.network import Drawn
from labkit.families.modbus.drawing import LineDrawing, line_in_words
from labkit.fieldbus.diagram import HEAD, MARGIN, ON_PAPER, Column
from labkit.fieldbus.modbus.network import SAME_PLACE_M, Network
from labkit.fieldbus.modbus.review import LINE, parts_of

Box = tuple[float, float, float, float]
"""Left, top, width, height in px of the drawing."""

TITLE: Final = "Proposed drawing"
_BADGE: Final = 9.0
"""Half the height of a number's frame, px."""
_ABOVE: Final = 36.0
"""Px above the trunk for the place and the number of a part, and for each bias once more."""


def draw_proposal(network: Network, width: float) -> Drawn:
    """The drawing `width` px wide (from 400)."""
    drawing = _ProposalDrawing(network, f"review-{width:g}", width)
    svg = drawing.svg(TITLE, line_in_words(network))
    boxes = {part: tuple(found) for part, found in drawing.boxes.items()}
    return Drawn(svg, width, drawing.height, boxes)


def draw_proposal_in_bands(network: Network) -> tuple[str, ...]:
    """The drawing for paper: an SVG for each row of trunk."""
    drawing = _ProposalDrawing(network, "review-paper", ON_PAPER)
    return tuple(drawing.bands(TITLE, line_in_words(network)))


class _ProposalDrawing(LineDrawing):
    """A line whose parts have numbers and keep their boxes."""

    def __init__(self, network: Network, prefix: str, width: float) -> None:
        super().__init__(network, (), prefix, width)
        self.proposed = parts_of(network)
        self.numbers = {part.id: number for number, part in enumerate(self.proposed, 1)}
        self.boxes: dict[str, list[Box]] = {}
        self.height = 0.0

    def _put_together(self, name: str, height: float, title: str, words: str = "") -> str:
        self.height = height
        return super()._put_together(name, height, title, words)

    def _head(self, title: str) -> float:
        """What is said of the whole line is its part: its number stands at the right."""
        bottom = super()._head(title)
        self._number(LINE, self.width - MARGIN - 12, 14)
        self._text(self.width - MARGIN - 112, 18, "the whole line", "soft")
        self._keep(LINE, MARGIN - 4, 2, self.width - 2 * MARGIN + 8, bottom - HEAD + 44)
        return bottom

    def _column(self, column: Column, trunk: float) -> float:
        bottom = super()._column(column, trunk)
        part = self._part_at(column.position)
        left = MARGIN + column.left
        if column.kind == "tap":
            self._number(part, left + column.width - 18, trunk - 24)
        else:
            self._number(part, MARGIN + column.x, bottom + 4)
            bottom += 14
        top = trunk - _ABOVE * (1 + len(self._polarized(column)))
        self._keep(part, left + 1, top, column.width - 2, bottom - top + 2)
        return bottom

    def _part_at(self, position: float) -> str:
        return next(
            part.id
            for part in self.proposed
            if part.position is not None and abs(part.position - position) < SAME_PLACE_M
        )

    def _keep(self, part: str, left: float, top: float, width: float, height: float) -> None:
        box = (round(left), round(top), round(width), round(height))
        self.boxes.setdefault(part, []).append(box)

    def _number(self, part: str, x: float, y: float) -> None:
        """The number of a part in a frame, its middle at (x, y)."""
        text = str(self.numbers[part])
        half = _BADGE + (3 if len(text) > 1 else 0)
        self._box(x - half, y - _BADGE, 2 * half, 2 * _BADGE, "box")
        self._text(x, y + 4, text, "name mid")
