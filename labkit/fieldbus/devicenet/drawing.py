"""A planned network as an SVG line diagram that stands alone or inside a page.

It takes its ink from the page (`currentColor`), so it reads in light and dark; cable types differ
by weight and dash, never by colour alone. `<title>` and `<desc>` hold the whole network in words.
Its looks are attributes of its shapes: it needs no style sheet, so a strict page may show it.
"""

import math
from collections.abc import Mapping, Sequence
from html import escape
from itertools import pairwise
from typing import Final

from labkit.fieldbus.devicenet.drawing_layout import (
    branch_indent,
    columns_of,
    segment_label,
)
from labkit.fieldbus.devicenet.network import Network
from labkit.fieldbus.devicenet.parts import Device, Drop, Segment, Supply, Tap, Terminator
from labkit.fieldbus.devicenet.power import solve_power
from labkit.fieldbus.devicenet.reading import (
    SHOWN,
    USUALLY_SHOWN,
    device_facts,
    network_in_words,
    plain,
    supply_facts,
)
from labkit.fieldbus.diagram import (
    BOLD_CHARACTER,
    BOX_MARGIN,
    CHARACTER,
    INDENT,
    LINE,
    LINK_WIDTH,
    MARGIN,
    ON_PAPER,
    TERMINATOR,
    WIDTH,
    Canvas,
    Column,
    Row,
    mark_of,
    rows_of,
    wrapped,
)
from labkit.fieldbus.errors import PlanError

TRUNK: Final = 62.0
"""Px from a row's top to its trunk: length marks and positions stand above it."""
SUPPLY_ROOM: Final = 46.0
"""Px more where a supply stands above the trunk."""
LEGEND: Final = 150.0
"""Room for a cable in the legend, px."""

CABLE_LOOK: Final = {"thick": "thick", "thin": "thin", "mid": "mid-cable", "flat": "flat"}


def draw_network(
    network: Network,
    *,
    show: Sequence[str] = USUALLY_SHOWN,
    supply_position: float | None = None,
    title: str = "DeviceNet network",
    voltages: Mapping[str, float] | None = None,
    prefix: str | None = None,
    width: float = WIDTH,
) -> str:
    """The network as an SVG of `width` px (from 400), rows of trunk below one another.

    `show`: any of "rate", "total", "lengths", "currents", "addresses", "voltages"; `total` is the
    current of all devices at 24 V. `supply_position` (m) draws one supply there instead of the
    plan's. `voltages` (V by device) are those shown; left out, they are those of the solved
    circuit, conductors at 20 °C. `prefix` begins every id, so that several drawings may stand on
    one page; left out, it is made from what is drawn. `PlanError` for an unknown word in `show`,
    and from the circuit when voltages are to be calculated.
    """
    _require_known(show)
    if supply_position is not None:
        network = network.with_supply_at(supply_position)
    if voltages is None:
        voltages = solve_power(network).voltages if "voltages" in show else {}
    words = network_in_words(network, show=show, voltages=voltages)
    of_width = "" if width == WIDTH else f"{width:g}"
    prefix = prefix or mark_of(f"{title}{words}{of_width}")
    return Drawing(network, tuple(show), voltages, prefix, width).svg(title, words)


def draw_in_bands(
    network: Network,
    *,
    show: Sequence[str] = USUALLY_SHOWN,
    title: str = "DeviceNet network",
    width: float = ON_PAPER,
) -> tuple[str, ...]:
    """The same drawing for paper: an SVG for each row of trunk, so that a page may end between two.

    The first holds the title and the network in words, the last tells the cables apart. `show` as
    in `draw_network`, without voltages; `PlanError` for an unknown word in it.
    """
    _require_known(show)
    words = network_in_words(network, show=show)
    prefix = mark_of(f"{title}{words}{width:g} in bands")
    return tuple(Drawing(network, tuple(show), {}, prefix, width).bands(title, words))


def _require_known(show: Sequence[str]) -> None:
    unknown = [word for word in show if word not in SHOWN]
    if isinstance(show, str) or unknown:
        raise PlanError(f"A drawing shows {', '.join(SHOWN)}; it knows no {unknown or show!r}.")


class Drawing(Canvas):
    """One drawing being put together; `parts` are its SVG elements in order."""

    def __init__(
        self,
        network: Network,
        show: tuple[str, ...],
        voltages: Mapping[str, float],
        prefix: str,
        width: float,
    ) -> None:
        super().__init__(prefix, width)
        self.network = network
        self.show = show
        self.voltages = voltages

    def _rows(self) -> tuple[Row, ...]:
        return rows_of(columns_of(self.network), self.width - 2 * MARGIN)

    def _summary(self) -> str:
        network = self.network
        nodes, taps = len(network.devices), len(network.taps)
        counted = [f"{network.data_rate} kbit/s"] if "rate" in self.show else []
        counted += [
            f"trunk {plain(network.trunk_length)} m",
            f"{taps} tap{'s' * (taps != 1)}",
            f"{nodes} node{'s' * (nodes != 1)}",
        ]
        if "total" in self.show:
            total = math.fsum(device.nominal_current for device in network.devices)
            counted.append(f"{plain(total, 3)} A at 24 V in all")
        return " · ".join(counted) + " · not to scale"

    def _row(self, row: Row, index: int, top: float) -> float:
        """Draw a row; its bottom edge."""
        supplied = any(column.kind == "supply" for column in row.columns)
        trunk = top + TRUNK + (SUPPLY_ROOM if supplied else 0.0)
        self._trunk(row, trunk, top)
        if row.from_before:
            self._link(MARGIN + LINK_WIDTH / 2 - 4, trunk, index - 1)
        if row.goes_on:
            self._link(self._right_edge(row) - LINK_WIDTH / 2 + 4, trunk, index)
        return max([trunk + 30.0, *(self._column(column, trunk) for column in row.columns)])

    def _trunk(self, row: Row, trunk: float, top: float) -> None:
        """The cable of a row piece by piece, each with its mark of type and length above."""
        ends = [
            MARGIN + column.x + inward * (TERMINATOR if column.item else 0.0)
            for column, inward in ((row.columns[0], 1), (row.columns[-1], -1))
        ]
        first = MARGIN + LINK_WIDTH - 4 if row.from_before else ends[0]
        last = self._right_edge(row) - LINK_WIDTH + 4 if row.goes_on else ends[1]
        joints = [MARGIN + column.x for column in row.columns if column.kind == "joint"]
        cuts = [first, *joints, last]
        start = self._first_segment(row)
        for offset, (left, right) in enumerate(pairwise(cuts)):
            segment = self.network.segments[start + offset]
            self._line("cable " + CABLE_LOOK[segment.cable], left, trunk, right, trunk)
            before = row.from_before and offset == 0
            after = row.goes_on and offset == len(cuts) - 2
            self._segment_mark(segment, (left, right), top + 16, (before, after))

    def _first_segment(self, row: Row) -> int:
        """The segment that the row begins in: joints of rows before it have been passed."""
        first = row.columns[0]
        bounds = self.network.bounds
        if not row.from_before:
            return 0
        if first.kind == "joint":
            return bounds.index(first.position) - 1
        passed = [bound for bound in bounds[1:-1] if bound < first.position]
        return len(passed)

    def _segment_mark(
        self, segment: Segment, span: tuple[float, float], y: float, open_ends: tuple[bool, bool]
    ) -> None:
        """A line over a segment with its type and length; no tick where the row breaks it."""
        left, right = span[0] + 2, span[1] - 2
        full = segment_label(segment) if "lengths" in self.show else segment.cable
        choices = [f"{full} (continued)"] if open_ends[0] else []
        choices += [full, segment.cable, ""]
        words = next(text for text in choices if len(text) * CHARACTER <= right - left)
        self._line("mark", left, y, right, y)
        for x, is_open in zip((left, right), open_ends, strict=True):
            if not is_open:
                self._line("mark", x, y - 4, x, y + 4)
        self._text((left + right) / 2, y - 6, words, "mid")

    def _column(self, column: Column, trunk: float) -> float:
        """Draw one part of the trunk; its bottom edge."""
        x = MARGIN + column.x
        match column.item:
            case Tap() as tap:
                return self._tap(tap, x, trunk, column.width)
            case Supply() as supply:
                return self._supply(supply, x, trunk)
            case Terminator() as terminator:
                self._box(x - TERMINATOR, trunk - 13, 2 * TERMINATOR, 26, "box feed")
                self._text(x, trunk + 30, f"{plain(terminator.resistance)} Ω", "mid")
                self._place(x, trunk - 18, column.position)
                return trunk + 34
        if column.kind == "break":
            for shift in (-3, 3):
                self._line("wire feed", x + shift - 4, trunk + 12, x + shift + 4, trunk - 12)
            self._text(x, trunk + 28, "V+ cut", "mid")
            self._place(x, trunk - 18, column.position)
            return trunk + 34
        self._line("wire feed", x, trunk - 8, x, trunk + 8)
        self._place(x, trunk - 18, column.position)
        if column.kind == "end":
            self._text(x, trunk + 30, "open end", "mid")
        return trunk + 34

    def _place(self, x: float, y: float, position: float, anchor: str = "mid") -> None:
        if "lengths" in self.show:
            self._text(x, y, f"{plain(position)} m", f"soft {anchor}")

    def _supply(self, supply: Supply, x: float, trunk: float) -> float:
        """A supply above the trunk, its fuses and polarity written below."""
        self._box(x - 44, trunk - 74, 88, 40, "box feed")
        for line, label in enumerate(wrapped(supply.name or "supply", 84, 1)):
            self._text(x, trunk - 58 + LINE * line, label, "name mid")
        volts, *others = supply_facts(supply)
        self._text(x, trunk - 41, volts, "mid")
        self._line("wire feed", x, trunk - 34, x, trunk)
        self._circle(x, trunk, 5)
        self._place(x + 8, trunk - 18, supply.position, "")
        for line, fact in enumerate(others):
            self._text(x, trunk + 22 + LINE * line, fact, "soft mid")
        return trunk + 22 + LINE * len(others)

    def _tap(self, tap: Tap, x: float, trunk: float, width: float) -> float:
        self.parts.append(f"<g><title>{escape(f'{tap.name} at {plain(tap.position)} m')}</title>")
        self._circle(x, trunk, 4.5)
        self._place(x - 4, trunk - 18, tap.position, "")
        bottom = self._drop(tap.drop, x, trunk, x + width - INDENT - 4)
        self.parts.append("</g>")
        return bottom

    def _drop(self, drop: Drop, x: float, y: float, right: float) -> float:
        """A drop downwards from (x, y): its length, devices at its end, branches; its bottom."""
        label = f"{plain(drop.length)} m" if "lengths" in self.show else ""
        if drop.cable != "thin":
            label = f"{label} {drop.cable}".strip()
        if label and (drop.length or drop.devices):
            self._text(x + 7, y + 22, label, "soft")
        end = y + (30 if label else 16)
        bottom = last = end
        for device in drop.devices:
            middle, bottom = self._device(device, x, bottom, right)
            last = middle
            bottom += 6
        if not drop.devices and not drop.branches:
            self._circle(x, end + 4, 4, "box")
            self._text(x + 9, end + 9, "spare", "soft")
            bottom = end + 16
        step = branch_indent(drop)
        for branch in drop.branches:
            last = bottom + (4 if step else 0)
            if step:
                self._line("wire", x, last, x + step, last)
            bottom = self._drop(branch, x + step, last, right) + 2
        self._line("wire", x, y, x, last)
        return bottom

    def _device(self, device: Device, x: float, top: float, right: float) -> tuple[float, float]:
        """A device's box to the right of its cable; the height of its stub, and its bottom."""
        left = x + INDENT
        names = wrapped(device.name, right - left - 2 * BOX_MARGIN, character=BOLD_CHARACTER)
        facts = device_facts(device, self.show, self.voltages)
        height = LINE * (len(names) + len(facts)) + 6
        full = ", ".join((device.name, *facts))
        self.parts.append(f"<g><title>{escape(full)}</title>")
        self._line("wire", x, top + 11, left, top + 11)
        self._box(left, top, right - left, height, "box")
        for line, text in enumerate((*names, *facts)):
            kind = "name" if line < len(names) else ""
            self._text(left + BOX_MARGIN, top + 14 + LINE * line, text, kind)
        self.parts.append("</g>")
        return top + 11, top + height

    def _legend(self, y: float) -> float:
        """The cables that are drawn, from `y` on; the top of the last line of them."""
        x = MARGIN
        for cable in self.network.cables:
            if x > MARGIN and x + LEGEND > self.width:
                x, y = MARGIN, y + LINE + 5
            self._line("cable " + CABLE_LOOK[cable], x, y + 8, x + 44, y + 8)
            self._text(x + 52, y + 12, f"{cable} trunk", "soft")
            x += LEGEND
        return y
