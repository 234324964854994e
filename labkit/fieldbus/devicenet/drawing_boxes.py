"""A drawing that remembers where each of its parts is, so that somebody can point at them."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from labkit.fieldbus.devicenet.drawing import Drawing
from labkit.fieldbus.devicenet.drawing_layout import columns_of
from labkit.fieldbus.devicenet.network import Network
from labkit.fieldbus.diagram import MARGIN, Column, Row, rows_of

Box = tuple[float, float, float, float]
"""Left, top, width, height in px of the drawing."""


@dataclass(frozen=True, slots=True)
class Picture:
    """An SVG, its size in px, and the boxes of each part by its id; a long trunk has several."""

    svg: str
    width: float
    height: float
    boxes: dict[str, tuple[Box, ...]]


class BoxedDrawing(Drawing):
    """A drawing whose parts keep their boxes."""

    def __init__(
        self,
        network: Network,
        show: tuple[str, ...],
        voltages: Mapping[str, float],
        prefix: str,
        width: float,
    ) -> None:
        super().__init__(network, show, voltages, prefix, width)
        self.boxes: dict[str, list[Box]] = {}
        self.height = 0.0

    def picture(self, title: str, words: str) -> Picture:
        """The whole drawing."""
        return self._pictured(self.svg(title, words))

    def banded(self, title: str, words: str) -> Iterator[Picture]:
        """The rows, each a drawing of its own with the boxes that lie in it."""
        for svg in self.bands(title, words):
            yield self._pictured(svg)
            self.boxes = {}

    def _pictured(self, svg: str) -> Picture:
        boxes = {part: tuple(found) for part, found in self.boxes.items()}
        return Picture(svg, self.width, self.height, boxes)

    def _put_together(self, name: str, height: float, title: str, words: str = "") -> str:
        self.height = height
        return super()._put_together(name, height, title, words)

    def _rows(self) -> tuple[Row, ...]:
        rows = rows_of(self._columns(), self.width - 2 * MARGIN)
        return tuple(replace(row, columns=tuple(map(_on_whole_px, row.columns))) for row in rows)

    def _columns(self) -> Sequence[Column]:
        return columns_of(self.network)

    def _keep_box(self, part: str, box: Box) -> None:
        self.boxes.setdefault(part, []).append(box)


def _on_whole_px(column: Column) -> Column:
    """The column with short numbers: a drawing travels in task files."""
    left = round(column.left)
    return replace(column, left=left, width=round(column.left + column.width) - left)
