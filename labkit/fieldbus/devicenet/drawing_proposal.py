"""A proposed drawing as SVG: the network, its earths and stray terminators, a number at each part.

The numbers name the parts for a pen and for a voice; where each part is drawn, `Picture` says.
"""

from collections.abc import Sequence
from typing import Final

from labkit.fieldbus.devicenet.drawing_boxes import BoxedDrawing, Picture
from labkit.fieldbus.devicenet.drawing_layout import WIDTHS, columns_of, segment_label
from labkit.fieldbus.devicenet.parts import TERMINATOR_RESISTANCE, Segment, Supply, Tap
from labkit.fieldbus.devicenet.proposal import SHOWN, Proposal
from labkit.fieldbus.devicenet.reading import plain
from labkit.fieldbus.diagram import (
    CHARACTER,
    INDENT,
    LINE,
    MARGIN,
    ON_PAPER,
    TERMINATOR,
    WIDTH,
    Column,
    Row,
)

TITLE: Final = "Proposed drawing"
_BADGE: Final = 9.0
"""Half the height of a number's frame, px."""
_ABOVE_ROW: Final = 8.0
"""Px more above a row: the numbers of the trunk's pieces are higher than their words."""
_END_OF_DROP: Final = 24.0
"""Px that a terminator at the end of a drop takes."""


def draw_proposal(proposal: Proposal, width: float = WIDTH) -> Picture:
    """The drawing `width` px wide (from 400)."""
    drawing = _ProposalDrawing(proposal, f"review-{width:g}", width)
    return drawing.picture(TITLE, proposal.words)


def draw_proposal_in_bands(proposal: Proposal) -> tuple[str, ...]:
    """The drawing for paper: an SVG for each row of trunk."""
    drawing = _ProposalDrawing(proposal, "review-paper", ON_PAPER)
    return tuple(drawing.bands(TITLE, proposal.words))


class _ProposalDrawing(BoxedDrawing):
    """A drawing with the earths and stray terminators of a proposal."""

    def __init__(self, proposal: Proposal, prefix: str, width: float) -> None:
        super().__init__(proposal.network, SHOWN, {}, prefix, width)
        self.proposal = proposal
        self.numbers = {part.id: number for number, part in enumerate(proposal.parts, 1)}

    def _columns(self) -> Sequence[Column]:
        columns = columns_of(self.network)
        for at in self.proposal.stray_earths:
            # Beside what stands there, but never beyond the end of the trunk.
            before = sum(1 for column in columns[:-1] if column.position <= at)
            columns.insert(before, Column("earth", at, None, WIDTHS["earth"]))
        return columns

    def _row(self, row: Row, index: int, top: float) -> float:
        return super()._row(row, index, top + _ABOVE_ROW)

    def _column(self, column: Column, trunk: float) -> float:
        if column.kind == "earth":
            bottom = self._stray_earth(column, trunk)
        else:
            bottom = super()._column(column, trunk)
        part = self._part_of(column)
        if part is None:
            return bottom
        match column.item:
            case Tap() as tap:
                bottom = self._end_of_drop(tap, MARGIN + column.x, trunk, bottom)
                self._number(part, MARGIN + column.left + column.width - 18, trunk + 17)
            case Supply():
                bottom = self._earth_at_supply(MARGIN + column.x, trunk, bottom)
                self._number(part, MARGIN + column.x - 54, trunk - 62)
            case _:
                self._number(part, MARGIN + column.x, bottom + 10)
                bottom += 20
        top = trunk - (78 if column.kind == "supply" else 13)
        left = MARGIN + column.left + 1
        self._keep_box(part, (left, top, column.width - 2, bottom - top + 2))
        return bottom

    def _part_of(self, column: Column) -> str | None:
        """The id of the part that a column is; a joint is none."""
        if column.kind == "end":
            return "left end" if column.position == 0 else "right end"
        if column.kind == "earth":
            return f"earth {self.proposal.stray_earths.index(column.position) + 1}"
        if isinstance(column.item, Tap):
            return column.item.name
        return "supply" if column.kind == "supply" else None

    def _segment_mark(
        self, segment: Segment, span: tuple[float, float], y: float, open_ends: tuple[bool, bool]
    ) -> None:
        """The piece's line with its number, type and length."""
        left, right = span[0] + 2, span[1] - 2
        self._line("mark", left, y, right, y)
        for x, is_open in zip((left, right), open_ends, strict=True):
            if not is_open:
                self._line("mark", x, y - 4, x, y + 4)
        room = right - left - 2 * _BADGE - 8
        full = segment_label(segment)
        choices = [f"{full} (continued)"] if open_ends[0] else []
        choices += [full, segment.cable, ""]
        words = next(text for text in choices if len(text) * CHARACTER <= room)
        shift = len(words) * CHARACTER / 2 + 6 if words else 0.0
        middle = (left + right) / 2
        self._text(middle + _BADGE, y - 6, words, "mid")
        part = self._trunk_part(segment)
        self._number(part, middle - shift, y - 10)
        self._keep_box(part, (left, y - 21, right - left, 32))

    def _trunk_part(self, segment: Segment) -> str:
        index = next(n for n, each in enumerate(self.network.segments) if each is segment)
        return f"trunk {index + 1}"

    def _stray_earth(self, column: Column, trunk: float) -> float:
        x = MARGIN + column.x
        self._circle(x, trunk, 4)
        self._line("wire", x, trunk, x, trunk + 14)
        self._earth_symbol(x, trunk + 14, 9, lead=False)
        self._place(x, trunk - 18, column.position)
        self._text(x, trunk + 40, "V− and", "mid")
        self._text(x, trunk + 55, "shield", "mid")
        return trunk + 60

    def _earth_at_supply(self, x: float, trunk: float, bottom: float) -> float:
        if not self.proposal.supply_is_earthed:
            return bottom
        self._earth_symbol(x + 53, trunk - 54, 9)
        self._text(x, bottom, "V− and shield", "soft mid")
        self._text(x, bottom + LINE, "earthed", "soft mid")
        return bottom + 2 * LINE

    def _earth_symbol(self, x: float, y: float, half: float, *, lead: bool = True) -> None:
        """Three bars; `lead`: the line that comes from the supply's box on the left."""
        if lead:
            self._line("wire", x - half, y, x, y)
            self._line("wire", x, y, x, y + 8)
            y += 8
        for step in range(3):
            short = half - 3 * step
            self._line("wire", x - short, y + 4 * step, x + short, y + 4 * step)

    def _end_of_drop(self, tap: Tap, x: float, trunk: float, bottom: float) -> float:
        """The terminator at the end of a drop, where there is one."""
        if tap.name not in self.proposal.drop_terminators:
            return bottom
        self._line("wire", x, trunk, x, bottom + 4)
        self._box(x - TERMINATOR, bottom + 4, 2 * TERMINATOR, 20, "box feed")
        label = f"{plain(TERMINATOR_RESISTANCE)} Ω"
        self._text(x + INDENT, bottom + 18, label, "")
        return bottom + _END_OF_DROP + 2

    def _number(self, part: str, x: float, y: float) -> None:
        """The number of a part in a frame, its middle at (x, y)."""
        text = str(self.numbers[part])
        half = _BADGE + (3 if len(text) > 1 else 0)
        self._box(x - half, y - _BADGE, 2 * half, 2 * _BADGE, "box")
        self._text(x, y + 4, text, "name mid")
