"""A planned network as an SVG line diagram that stands alone or inside a page.

It takes its ink from the page (`currentColor`), so it reads in light and dark; cable types differ
by weight and dash, never by colour alone. `<title>` and `<desc>` hold the whole network in words.
Its looks are attributes of its shapes: it needs no style sheet, so a strict page may show it.
"""

import math
from collections.abc import Iterator, Mapping, Sequence
from functools import cache
from hashlib import sha256
from html import escape
from itertools import pairwise
from typing import Final

from labkit.fieldbus.devicenet.drawing_layout import (
    BOLD_CHARACTER,
    BOX_MARGIN,
    CHARACTER,
    INDENT,
    LINE,
    LINK_WIDTH,
    Column,
    Row,
    branch_indent,
    columns_of,
    rows_of,
    segment_label,
    wrapped,
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
from labkit.fieldbus.errors import PlanError

WIDTH: Final = 900.0
NARROW: Final = 520.0
"""Width of a drawing that stands beside a text, px."""
ON_PAPER: Final = 680.0
"""Width of a drawing that is printed 168 mm wide, px: its smallest letters have 8 points then."""
MARGIN: Final = 14.0
HEAD: Final = 50.0
TRUNK: Final = 62.0
"""Px from a row's top to its trunk: length marks and positions stand above it."""
SUPPLY_ROOM: Final = 46.0
"""Px more where a supply stands above the trunk."""
TERMINATOR: Final = 6.0
"""Half the width of a terminator, px."""
ROW_GAP: Final = 26.0
FOOT: Final = 30.0
BAND_FOOT: Final = 6.0
"""Px below a row that is a drawing of its own."""
LEGEND_FOOT: Final = 16.0
LEGEND: Final = 150.0
"""Room for a cable in the legend, px."""

INK: Final = "currentColor"
LOOKS: Final[dict[str, dict[str, str]]] = {
    "head": {"font-size": "16", "font-weight": "600"},
    "name": {"font-size": "11.5", "font-weight": "600"},
    "soft": {"opacity": ".78"},
    "mid": {"text-anchor": "middle"},
    "wire": {"stroke": INK, "stroke-width": "1.5"},
    "cable": {"stroke": INK},
    "box": {"stroke": INK, "fill": "none"},
    "mark": {"stroke": INK, "opacity": ".6"},
    "feed": {"stroke-width": "2.5"},
    "thick": {"stroke-width": "7"},
    "mid-cable": {"stroke-width": "5", "stroke-dasharray": "16 4"},
    "thin": {"stroke-width": "2.5"},
    "flat": {"stroke-width": "2.5", "stroke-dasharray": "2.5 2.5"},
}
"""The attributes of a shape by the words of its kind; a later word goes before an earlier one."""
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
    prefix = prefix or _mark(f"{title}{words}{of_width}")
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
    prefix = _mark(f"{title}{words}{width:g} in bands")
    return tuple(Drawing(network, tuple(show), {}, prefix, width).bands(title, words))


def _require_known(show: Sequence[str]) -> None:
    unknown = [word for word in show if word not in SHOWN]
    if isinstance(show, str) or unknown:
        raise PlanError(f"A drawing shows {', '.join(SHOWN)}; it knows no {unknown or show!r}.")


def _mark(drawn: str) -> str:
    """What ids begin with, made from what is drawn."""
    return f"net-{sha256(drawn.encode()).hexdigest()[:8]}"


class Drawing:
    """One drawing being put together; `parts` are its SVG elements in order."""

    def __init__(
        self,
        network: Network,
        show: tuple[str, ...],
        voltages: Mapping[str, float],
        prefix: str,
        width: float,
    ) -> None:
        self.network = network
        self.show = show
        self.voltages = voltages
        self.prefix = prefix
        self.width = width
        self.parts: list[str] = []

    def svg(self, title: str, words: str) -> str:
        """The whole drawing."""
        top = self._head(title)
        for index, row in enumerate(self._rows()):
            top = self._row(row, index, top) + ROW_GAP
        height = self._legend(top) + FOOT
        return self._put_together(self.prefix, height, title, words)

    def bands(self, title: str, words: str) -> Iterator[str]:
        """The rows, each a drawing of its own."""
        rows = self._rows()
        for index, row in enumerate(rows):
            self.parts = []
            height = self._row(row, index, 0.0 if index else self._head(title)) + BAND_FOOT
            if index == len(rows) - 1:
                height = self._legend(height) + LEGEND_FOOT
            if not index:
                yield self._put_together(self.prefix, height, title, words)
                continue
            here = f"{title}, row {index + 1} of {len(rows)}"
            yield self._put_together(f"{self.prefix}-{index + 1}", height, here)

    def _rows(self) -> tuple[Row, ...]:
        return rows_of(columns_of(self.network), self.width - 2 * MARGIN)

    def _head(self, title: str) -> float:
        """The title and what is counted; where the first row begins."""
        self.parts.append(f'<text{_look("head")} x="{MARGIN:g}" y="20">{escape(title)}</text>')
        summary = wrapped(self._summary(), self.width - 2 * MARGIN)
        for line, text in enumerate(summary):
            self._text(MARGIN, 38 + LINE * line, text, "soft")
        return HEAD + LINE * (len(summary) - 1)

    def _put_together(self, name: str, height: float, title: str, words: str = "") -> str:
        """The parts as an SVG with a title and, where there are any, words for all of it."""
        key = escape(name, quote=True)
        labels = f"{key}-title {key}-desc" if words else f"{key}-title"
        return "\n".join(
            [
                f'<svg xmlns="http://www.w3.org/2000/svg" id="{key}" role="img" '
                f'viewBox="0 0 {self.width:g} {height:g}" width="{self.width:g}" fill="{INK}" '
                f'font-family="system-ui,sans-serif" font-size="12" aria-labelledby="{labels}">',
                f'<title id="{key}-title">{escape(title)}</title>',
                *([f'<desc id="{key}-desc">{escape(words)}</desc>'] if words else []),
                *self.parts,
                "</svg>",
            ]
        )

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

    def _right_edge(self, row: Row) -> float:
        last = row.columns[-1]
        return MARGIN + last.left + last.width + (LINK_WIDTH if row.goes_on else 0.0)

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

    def _link(self, x: float, y: float, index: int) -> None:
        letter = chr(ord("A") + index % 26) * (1 + index // 26)
        self._circle(x, y, 10, "box")
        self._text(x, y + 4, letter, "mid")

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

    def _line(self, kind: str, x1: float, y1: float, x2: float, y2: float) -> None:
        self.parts.append(f'<line{_look(kind)} x1="{x1:g}" y1="{y1:g}" x2="{x2:g}" y2="{y2:g}"/>')

    def _circle(self, x: float, y: float, radius: float, kind: str = "") -> None:
        self.parts.append(f'<circle{_look(kind)} cx="{x:g}" cy="{y:g}" r="{radius:g}"/>')

    def _box(self, x: float, y: float, width: float, height: float, kind: str) -> None:
        self.parts.append(
            f'<rect{_look(kind)} x="{x:g}" y="{y:g}" width="{width:g}" height="{height:g}" rx="3"/>'
        )

    def _text(self, x: float, y: float, text: str, kind: str) -> None:
        self.parts.append(f'<text{_look(kind)} x="{x:g}" y="{y:g}">{escape(text)}</text>')


@cache
def _look(kind: str) -> str:
    """The attributes of a kind, such as "name mid", as they are written."""
    look: dict[str, str] = {}
    for word in kind.split():
        look |= LOOKS[word]
    return "".join(f' {name}="{value}"' for name, value in look.items())
