"""Free places for a block of bytes, and blocks that leave room unused below them.

A layout is taken for packed when no block could start lower by itself: the gaps that are left are
those that the alignment asks for, or that no block fits into. Common practice, no source.
"""

from collections.abc import Collection, Sequence
from dataclasses import dataclass

from labkit.fieldbus.checked import whole
from labkit.fieldbus.direct_address import HIGHEST_BYTE, Area
from labkit.fieldbus.iomap import Alignment, DeviceIo, IoMap, Placement

Owner = tuple[str, Area]
"""A block: its device, and the area that it lies in."""


@dataclass(frozen=True, slots=True)
class Move:
    """A block that could start at byte `to` instead."""

    placement: Placement
    to: int


def lowest_start(taken: Collection[range], length: int, boundary: int, size: int) -> int | None:
    """The lowest multiple of `boundary` where `length` bytes are free; None where there is none.

    `taken` are the used bytes of an area of `size` bytes.
    """
    whole(length, "the length of a block", 1, HIGHEST_BYTE)
    whole(boundary, "a boundary", 1, HIGHEST_BYTE)
    start = 0
    while start + length <= size:
        hit = [span for span in taken if span.start < start + length and start < span.stop]
        if not hit:
            return start
        start = -(-max(span.stop for span in hit) // boundary) * boundary
    return None


def moves_down(io_map: IoMap, movable: Collection[Owner], alignment: Alignment) -> tuple[Move, ...]:
    """Every block of `movable` that could start lower by itself; none when the map is packed."""
    found = []
    for each in io_map.placements:
        if (each.device, each.area) not in movable:
            continue
        others = [other.span for other in io_map.in_area(each.area) if other is not each]
        start = lowest_start(others, each.length, alignment, io_map.size(each.area))
        if start is not None and start < each.first_byte:
            found.append(Move(each, start))
    return tuple(found)


def fill_up(io_map: IoMap, devices: Sequence[DeviceIo], alignment: Alignment) -> IoMap | None:
    """The map with every device's data that is missing in it, packed; None where it does not fit.

    Each block takes the lowest free place: in the order of the list or, where that does not fit,
    the longest first.
    """
    for order in (list(devices), sorted(devices, key=lambda each: -_longest(each))):
        filled = _first_fit(io_map, order, alignment)
        if filled is not None:
            return filled
    return None


def _longest(device: DeviceIo) -> int:
    return max(device.input_bytes, device.output_bytes)


def _first_fit(io_map: IoMap, devices: Sequence[DeviceIo], alignment: Alignment) -> IoMap | None:
    placements = list(io_map.placements)
    for area in Area:
        for each in devices:
            length = each.bytes_in(area)
            if not length or any((p.device, p.area) == (each.device, area) for p in placements):
                continue
            taken = [other.span for other in placements if other.area is area]
            start = lowest_start(taken, length, alignment, io_map.size(area))
            if start is None:
                return None
            placements.append(Placement(each.device, area, start, length))
    return IoMap(io_map.input_bytes, io_map.output_bytes, tuple(placements), io_map.addressing)
