"""Devices' bytes placed in a scanner's input and output areas, and found again in the controller.

Seen from the controller: what a device produces lies in the input area, what it consumes in the
output area. A device's data keeps its own byte order; `Addressing` says how the controller reads
it as words. Layout rules are common practice, no source.
"""

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from enum import Enum, IntEnum
from itertools import pairwise

from labkit.fieldbus.checked import whole
from labkit.fieldbus.direct_address import (
    HIGHEST_BYTE,
    Addressing,
    Area,
    DirectAddress,
    Size,
)
from labkit.fieldbus.errors import PlanError
from labkit.fieldbus.result import RuleResult

PRACTICE = "common practice, no source"
DEFAULT_ADDRESSING = Addressing()
"""Numbers count elements, low byte first: no standard's rule, so state it beside an exercise."""


class Alignment(IntEnum):
    """On which boundary, in bytes, a device's data may start."""

    BYTE = 1
    WORD = 2
    DOUBLE_WORD = 4


class Layout(Enum):
    """How devices follow each other.

    In order: as listed, every device on the alignment's boundary. Packed: to use few bytes, the
    data that needs the widest boundary first and small data in the holes; data shorter than the
    boundary needs only one wide enough that no word (or double word) cuts it.
    """

    IN_ORDER = "in order"
    PACKED = "packed"


@dataclass(frozen=True, slots=True)
class DeviceIo:
    """A device by name, with the bytes it produces (inputs) and consumes (outputs)."""

    device: str
    input_bytes: int
    output_bytes: int

    def __post_init__(self) -> None:
        _device_name(self.device)
        whole(self.input_bytes, f"the input bytes of {self.device}", 0, HIGHEST_BYTE)
        whole(self.output_bytes, f"the output bytes of {self.device}", 0, HIGHEST_BYTE)

    def bytes_in(self, area: Area) -> int:
        """Its bytes in one area."""
        return self.input_bytes if area is Area.INPUT else self.output_bytes


@dataclass(frozen=True, slots=True)
class Placement:
    """Where one device's data lies: `length` bytes of an area from `first_byte` on."""

    device: str
    area: Area
    first_byte: int
    length: int

    def __post_init__(self) -> None:
        _device_name(self.device)
        if not isinstance(self.area, Area):
            raise PlanError(f"{self.device} is placed in {self.area!r}; take an Area.")
        whole(self.first_byte, f"the first byte of {self.device}", 0, HIGHEST_BYTE)
        whole(self.length, f"the length of {self.device}", 1, HIGHEST_BYTE)

    @property
    def span(self) -> range:
        """The bytes of the area."""
        return range(self.first_byte, self.first_byte + self.length)


@dataclass(frozen=True, slots=True)
class Overlap:
    """Bytes of an area that more than one placement claims."""

    area: Area
    span: range
    devices: tuple[str, ...]

    def __str__(self) -> str:
        return f"{' and '.join(self.devices)} both use {_place(self.area, self.span)}"


@dataclass(frozen=True, slots=True)
class DeviceBit:
    """One bit of a device's data: `byte` counts from the device's own first byte."""

    device: str
    area: Area
    byte: int
    bit: int


@dataclass(frozen=True, slots=True)
class IoMap:
    """Placements in areas of so many bytes. It may hold mistakes: the methods find them."""

    input_bytes: int
    output_bytes: int
    placements: tuple[Placement, ...]
    addressing: Addressing = DEFAULT_ADDRESSING

    def __post_init__(self) -> None:
        whole(self.input_bytes, "the size of the input area", 0, HIGHEST_BYTE + 1)
        whole(self.output_bytes, "the size of the output area", 0, HIGHEST_BYTE + 1)
        object.__setattr__(self, "placements", tuple(self.placements))
        keys = Counter((each.device, each.area) for each in self.placements)
        for (device, area), times in keys.items():
            if times > 1:
                raise PlanError(
                    f"{device} is placed {times} times in the {_NAMES[area]}; place it once."
                )

    def size(self, area: Area) -> int:
        """Bytes of an area."""
        return self.input_bytes if area is Area.INPUT else self.output_bytes

    def in_area(self, area: Area) -> tuple[Placement, ...]:
        """Placements of an area by first byte."""
        chosen = (each for each in self.placements if each.area is area)
        return tuple(sorted(chosen, key=lambda each: (each.first_byte, each.length, each.device)))

    def overlaps(self) -> tuple[Overlap, ...]:
        """Every run of bytes that the same two or more devices claim, in order."""
        return tuple(
            Overlap(area, span, owners)
            for area in Area
            for span, owners in self._runs(area)
            if len(owners) > 1
        )

    def gaps(self, area: Area) -> tuple[range, ...]:
        """Unused bytes before and between placements; what is free at the end is `spare`."""
        return tuple(span for span, owners in self._runs(area) if not owners)

    def spare(self, area: Area) -> range:
        """Free bytes behind the last placement."""
        return range(min(self._end(area), self.size(area)), self.size(area))

    def outside(self) -> tuple[Placement, ...]:
        """Placements that reach beyond their area."""
        return tuple(each for each in self.placements if each.span.stop > self.size(each.area))

    def check(
        self, devices: Iterable[DeviceIo], alignment: Alignment = Alignment.BYTE
    ) -> tuple[RuleResult, ...]:
        """The rules that a map must keep for these devices, each with where it is broken.

        Bytes claimed twice, bytes outside the area, devices placed with another length than
        theirs (or missing, or not listed), devices off the alignment's boundary: all zero.
        """
        overlaps = self.overlaps()
        outside = self.outside()
        wrong = self._wrong_lengths(devices)
        crooked = [each for each in self.placements if each.first_byte % alignment]
        beyond = sum(
            each.span.stop - max(each.first_byte, self.size(each.area)) for each in outside
        )
        return (
            _rule("no byte used twice", sum(len(o.span) for o in overlaps), "bytes", overlaps),
            _rule("all data inside its area", beyond, "bytes", [_where(each) for each in outside]),
            _rule("every device placed with its length", len(wrong), "devices", wrong),
            _rule(
                f"data on {alignment.name.lower().replace('_', ' ')} boundaries",
                len(crooked),
                "devices",
                [_where(each) for each in crooked],
            ),
        )

    def placement(self, device: str, area: Area) -> Placement:
        """Where a device's data lies in an area."""
        for each in self.placements:
            if each.device == device and each.area is area:
                return each
        raise PlanError(f"{device} has no place in the {_NAMES[area]}; place it first.")

    def address_of(self, bit: DeviceBit) -> DirectAddress:
        """The direct address of a device's bit, as byte.bit."""
        return self.addressing.bit_address(bit.area, self._byte_of(bit), bit.bit)

    def element_of(self, bit: DeviceBit, size: Size) -> tuple[DirectAddress, int]:
        """The byte, word or double word that holds a device's bit, and which of its bits it is."""
        byte = self._byte_of(bit)
        element = self.addressing.element(bit.area, byte, size)
        return element, self.addressing.bit_of_element(element, byte, bit.bit)

    def device_bits(self, address: DirectAddress) -> tuple[DeviceBit, ...]:
        """What a direct address shows, least significant bit first; unused bits are left out.

        A bit that two placements claim comes once for each.
        """
        if address.bit is not None:
            return self._claims(address.area, self.addressing.first_byte(address), address.bit)
        bits = range(8 * address.size.width)
        places = [self.addressing.byte_and_bit(address, bit) for bit in bits]
        return tuple(
            claim for byte, bit in places for claim in self._claims(address.area, byte, bit)
        )

    def _claims(self, area: Area, byte: int, bit: int) -> tuple[DeviceBit, ...]:
        return tuple(
            DeviceBit(each.device, area, byte - each.first_byte, bit)
            for each in self.in_area(area)
            if byte in each.span
        )

    def _byte_of(self, bit: DeviceBit) -> int:
        placement = self.placement(bit.device, bit.area)
        whole(bit.byte, f"the byte of {bit.device}", 0, placement.length - 1)
        whole(bit.bit, f"the bit of {bit.device}'s byte {bit.byte}", 0, 7)
        return placement.first_byte + bit.byte

    def _end(self, area: Area) -> int:
        return max((each.span.stop for each in self.in_area(area)), default=0)

    def _runs(self, area: Area) -> list[tuple[range, tuple[str, ...]]]:
        """The area from byte 0 to the last placement's end, cut where its owners change."""
        placed = self.in_area(area)
        cuts = sorted({0, *(cut for each in placed for cut in (each.first_byte, each.span.stop))})
        return [
            (range(start, stop), tuple(each.device for each in placed if start in each.span))
            for start, stop in pairwise(cuts)
        ]

    def _wrong_lengths(self, devices: Iterable[DeviceIo]) -> list[str]:
        due = {
            (each.device, area): each.bytes_in(area)
            for each in devices
            for area in Area
            if each.bytes_in(area)
        }
        placed = {(each.device, each.area): each.length for each in self.placements}
        return [
            f"{device} has {placed.get((device, area), 0)} bytes in the {_NAMES[area]}, "
            f"{due.get((device, area), 0)} belong"
            for device, area in sorted(due | placed, key=lambda key: (key[0], key[1].value))
            if due.get((device, area)) != placed.get((device, area))
        ]


def place(
    devices: Sequence[DeviceIo],
    input_bytes: int,
    output_bytes: int,
    *,
    alignment: Alignment = Alignment.BYTE,
    layout: Layout = Layout.IN_ORDER,
    addressing: Addressing = DEFAULT_ADDRESSING,
) -> IoMap:
    """Place devices in areas of so many bytes; too small an area raises `PlanError`."""
    names = Counter(each.device for each in devices)
    for device, times in names.items():
        if times > 1:
            raise PlanError(f"{device} is listed {times} times; list each device once.")
    placements: list[Placement] = []
    for area, size in ((Area.INPUT, input_bytes), (Area.OUTPUT, output_bytes)):
        due = [each for each in devices if each.bytes_in(area)]
        spots = _in_order if layout is Layout.IN_ORDER else _packed
        placements += spots(due, area, Alignment(alignment))
        _must_fit(placements, area, size)
    return IoMap(input_bytes, output_bytes, tuple(placements), addressing)


def _must_fit(placements: Sequence[Placement], area: Area, size: int) -> None:
    needed = max((each.span.stop for each in placements if each.area is area), default=0)
    if needed > size:
        raise PlanError(
            f"the devices need {needed} bytes of the {_NAMES[area]}, which has {size}; enlarge it, "
            "pack the data, or take a narrower alignment."
        )


def _in_order(devices: Sequence[DeviceIo], area: Area, alignment: Alignment) -> list[Placement]:
    placements: list[Placement] = []
    free = 0
    for each in devices:
        start = _up(free, alignment)
        placements.append(Placement(each.device, area, start, each.bytes_in(area)))
        free = start + each.bytes_in(area)
    return placements


def _packed(devices: Sequence[DeviceIo], area: Area, alignment: Alignment) -> list[Placement]:
    """The shortest of the layouts that `_orders` proposes, each piece in the first hole."""
    layouts = [_into_holes(order, area, alignment) for order in _orders(devices, area, alignment)]
    return min(layouts, key=lambda layout: max((each.span.stop for each in layout), default=0))


def _orders(
    devices: Sequence[DeviceIo], area: Area, alignment: Alignment
) -> Iterator[list[DeviceIo]]:
    """Widest boundary first; then one ragged end after the other kept back for (nearly) last.

    Data that ends off its boundary leaves a hole behind it, which costs nothing at the very end
    of the area. Which end to leave there, and how many small pieces still fit behind it (never
    more than a boundary's bytes), is tried out.
    """

    def need(each: DeviceIo) -> int:
        return _boundary(each.bytes_in(area), alignment)

    ordered = sorted(devices, key=lambda each: (-need(each), -each.bytes_in(area)))
    yield ordered
    ragged = {-each.bytes_in(area) % need(each): each for each in ordered}
    for hole, last in ragged.items():
        rest = [each for each in ordered if each is not last]
        for behind in range(min(alignment, len(rest) + 1) if hole else 0):
            at = len(rest) - behind
            yield [*rest[:at], last, *rest[at:]]


def _into_holes(devices: Sequence[DeviceIo], area: Area, alignment: Alignment) -> list[Placement]:
    placements: list[Placement] = []
    for each in devices:
        length = each.bytes_in(area)
        start = _first_hole(placements, length, _boundary(length, alignment))
        placements.append(Placement(each.device, area, start, length))
    return placements


def _boundary(length: int, alignment: Alignment) -> int:
    """The power of two that is at least `length`, but not over the alignment."""
    needed = 1
    while needed < min(length, alignment):
        needed *= 2
    return needed


def _first_hole(placements: Sequence[Placement], length: int, boundary: int) -> int:
    start = 0
    for each in sorted(placements, key=lambda each: each.first_byte):
        if start + length <= each.first_byte:
            return start
        start = max(start, _up(each.span.stop, boundary))
    return start


def _up(byte: int, boundary: int) -> int:
    return -(-byte // boundary) * boundary


_NAMES = {Area.INPUT: "input area", Area.OUTPUT: "output area"}


def _device_name(name: object) -> None:
    if not isinstance(name, str) or not name.strip():
        raise PlanError(f"a device needs a name, not {name!r}; call it what its label says.")


def _place(area: Area, span: range) -> str:
    if len(span) == 1:
        return f"byte {span.start} of the {_NAMES[area]}"
    return f"bytes {span.start} to {span.stop - 1} of the {_NAMES[area]}"


def _where(placement: Placement) -> str:
    return f"{placement.device} in {_place(placement.area, placement.span)}"


def _rule(name: str, found: int, unit: str, where: Iterable[object]) -> RuleResult:
    places = "; ".join(str(each) for each in where) or "the whole map"
    return RuleResult(name, float(found), 0.0, unit, places, PRACTICE)
