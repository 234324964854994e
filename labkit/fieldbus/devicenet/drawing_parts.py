"""The drawing of a network to point into: what its parts are called, and where each is drawn.

Its looks are those of `draw_network`; it holds nothing besides. A device and a tap are called as
in the plan, the rest by where it is: "left terminator", "supply", "tap 3 to tap 4".
"""

from collections import Counter
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final, Literal

from labkit.fieldbus.devicenet.drawing_boxes import BoxedDrawing, Picture
from labkit.fieldbus.devicenet.drawing_layout import columns_of
from labkit.fieldbus.devicenet.network import TOLERANCE, Network
from labkit.fieldbus.devicenet.parts import Device
from labkit.fieldbus.devicenet.reading import USUALLY_SHOWN, device_facts, plain
from labkit.fieldbus.diagram import (
    INDENT,
    LINK_WIDTH,
    MARGIN,
    ON_PAPER,
    TERMINATOR,
    WIDTH,
    Column,
    Row,
)
from labkit.fieldbus.errors import PlanError

PartKind = Literal["device", "tap", "terminator", "supply", "trunk"]
PART_KINDS: Final[tuple[PartKind, ...]] = ("device", "tap", "terminator", "supply", "trunk")
TITLE: Final = "The network"
_HALF: Final = 11.0
"""Half the width of a tap to point at between stretches of trunk that are pointed at too, px."""
_WIDE_HALF: Final = 24.0
"""The same where they are not: for a finger."""
_OUTWARD: Final = 20.0
"""Px that a terminator reaches beyond the trunk's end: inwards there is no room."""
_INWARD: Final = TERMINATOR + 2
_THIN: Final = 14.0
"""A stretch that goes on in another row is not pointed at where it is thinner than this, px."""


@dataclass(frozen=True, slots=True)
class Part:
    """A part to point at: its id, its kind, and what it is in words."""

    id: str
    kind: PartKind
    words: str


def parts_of(network: Network, *, show: Sequence[str] = USUALLY_SHOWN) -> tuple[Part, ...]:
    """All parts from left to right, what lies on the trunk before what hangs on it.

    `show` as in `draw_network`. `PlanError` where two parts are called the same.
    """
    stops = _stops(network)
    parts: list[Part] = []
    for stop, following in pairwise((*stops, None)):
        assert stop is not None
        parts += _at(stop, show)
        if following and _apart(stop, following):
            words = f"trunk from {stop.words} to {following.words}"
            parts.append(Part(_between(stop, following), "trunk", words))
    twice = next((id for id, n in Counter(part.id for part in parts).items() if n > 1), None)
    if twice is not None:
        raise PlanError(f"Two parts of the network are called {twice!r}; rename one of them.")
    return tuple(parts)


def draw_parts(
    network: Network,
    kinds: Collection[str] = PART_KINDS,
    *,
    show: Sequence[str] = USUALLY_SHOWN,
    width: float = WIDTH,
) -> Picture:
    """The drawing `width` px wide (from 400), with the boxes of the parts of these kinds."""
    return _PartsDrawing(network, kinds, show, f"parts-{width:g}", width).picture(TITLE, "")


def draw_parts_in_bands(
    network: Network,
    kinds: Collection[str] = PART_KINDS,
    *,
    show: Sequence[str] = USUALLY_SHOWN,
) -> tuple[Picture, ...]:
    """The drawing for paper: one for each row of trunk."""
    drawing = _PartsDrawing(network, kinds, show, "parts-paper", ON_PAPER)
    return tuple(drawing.banded(TITLE, ""))


@dataclass(frozen=True, slots=True)
class _Stop:
    """Where a stretch of trunk begins or ends, and what it is called."""

    at: Column
    name: str

    @property
    def words(self) -> str:
        """Its name in a sentence: a tap and a supply have names of their own."""
        return self.name if self.at.kind in ("tap", "supply") else f"the {self.name}"


def _stops(network: Network) -> tuple[_Stop, ...]:
    """Every part of the trunk with its name, from left to right."""
    columns = columns_of(network)
    of_kind = Counter(column.kind for column in columns)
    seen: Counter[str] = Counter()
    stops = []
    for column in columns:
        seen[column.kind] += 1
        number = f" {seen[column.kind]}" if of_kind[column.kind] > 1 else ""
        stops.append(_Stop(column, _called(column, number, network.trunk_length)))
    return tuple(stops)


def _called(column: Column, number: str, length: float) -> str:
    match column.kind:
        case "tap" | "supply":
            name = getattr(column.item, "name", "")
            return name or f"{column.kind}{number}"
        case "end":
            side = "left" if column.position <= length / 2 else "right"
            return f"{side} terminator" if column.item else f"{side} end"
        case "break":
            return f"V+ cut{number}"
    return f"{column.kind}{number}"


def _at(stop: _Stop, show: Sequence[str]) -> list[Part]:
    """What can be pointed at where a stop is: nothing at a joint, a cut or an open end."""
    column, name = stop.at, stop.name
    where = f" at {plain(column.position)} m" if "lengths" in show else ""
    match column.kind:
        case "tap":
            devices = getattr(column.item, "drop").all_devices  # noqa: B009
            return [Part(name, "tap", f"{name}{where}"), *(_device(d, show) for d in devices)]
        case "supply":
            return [Part(name, "supply", f"{name}{where}")]
        case "end" if column.item:
            return [Part(name, "terminator", name)]
    return []


def _device(device: Device, show: Sequence[str]) -> Part:
    return Part(device.name, "device", ", ".join((device.name, *device_facts(device, show, {}))))


def _apart(stop: _Stop, following: _Stop) -> bool:
    """Whether there is any trunk between them: a supply may stand at a tap."""
    return following.at.position - stop.at.position > TOLERANCE


def _between(stop: _Stop, following: _Stop) -> str:
    return f"{stop.name} to {following.name}"


class _PartsDrawing(BoxedDrawing):
    """The network's drawing with the boxes of devices, taps, terminators, supplies and trunk."""

    def __init__(
        self,
        network: Network,
        kinds: Collection[str],
        show: Sequence[str],
        prefix: str,
        width: float,
    ) -> None:
        super().__init__(network, tuple(show), {}, prefix, width)
        self.kinds = kinds
        self.stops = _stops(network)
        self.half = _HALF if "trunk" in kinds else _WIDE_HALF

    def _trunk(self, row: Row, trunk: float, top: float) -> None:
        super()._trunk(row, trunk, top)
        if "trunk" not in self.kinds:
            return
        first = self._index(row.columns[0])
        here = self.stops[first : first + len(row.columns)]
        ends = [
            (stop, *self._taken(column)) for stop, column in zip(here, row.columns, strict=True)
        ]
        if row.from_before:
            link = MARGIN + LINK_WIDTH - 4
            ends.insert(0, (self.stops[first - 1], link, link))
        if row.goes_on:
            link = self._right_edge(row) - LINK_WIDTH + 4
            ends.append((self.stops[first + len(here)], link, link))
        for (stop, _, left), (following, right, _) in pairwise(ends):
            if _apart(stop, following):
                self._stretch(_between(stop, following), left, right, trunk)

    def _taken(self, column: Column) -> tuple[float, float]:
        """What a part takes of the trunk for itself, from and to in px."""
        x = MARGIN + column.x
        match column.kind:
            case "tap":
                return x - self.half, x + self.half
            case "end" if column.position == 0:
                return x - _OUTWARD, x + _INWARD
            case "end":
                return x - _INWARD, x + _OUTWARD
        return x, x

    def _index(self, column: Column) -> int:
        wanted = (column.kind, column.position, column.item)
        return next(
            n
            for n, stop in enumerate(self.stops)
            if (stop.at.kind, stop.at.position, stop.at.item) == wanted
        )

    def _stretch(self, name: str, left: float, right: float, trunk: float) -> None:
        if right - left >= _THIN or name not in self.boxes:
            self._keep_box(name, (left, trunk - 15, max(right - left, _THIN), 30))

    def _column(self, column: Column, trunk: float) -> float:
        bottom = super()._column(column, trunk)
        name, (left, right) = self.stops[self._index(column)].name, self._taken(column)
        match column.kind:
            case "tap" if "tap" in self.kinds:
                self._keep_box(name, (left, trunk - 30, right - left, 56))
            case "supply" if "supply" in self.kinds:
                self._keep_box(name, (left - 46, trunk - 76, 92, 60))
            case "end" if column.item and "terminator" in self.kinds:
                self._keep_box(name, (left, trunk - 16, right - left, 50))
        return bottom

    def _device(self, device: Device, x: float, top: float, right: float) -> tuple[float, float]:
        middle, bottom = super()._device(device, x, top, right)
        left = x + INDENT
        if "device" not in self.kinds:
            return middle, bottom
        self._keep_box(device.name, (left, top, right - left, bottom - top))
        return middle, bottom
