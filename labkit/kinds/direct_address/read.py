"""Reading the kind `direct_address`: which address has one bit of one device's data."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Final, Literal

from pydantic import Field

from labkit.doors.prepared import Prepared, Preparer
from labkit.fieldbus.direct_address import (
    HIGHEST_BYTE,
    Addressing,
    Area,
    DirectAddress,
    Numbering,
    Size,
)
from labkit.fieldbus.errors import PlanError
from labkit.fieldbus.iomap import DeviceBit, IoMap, Placement
from labkit.kinds.common.byte_areas import AREAS, MAX_AREA, names_of, numbers_of, text_of, whole_of
from labkit.kinds.direct_address.data import (
    AddressSlip,
    DirectAddressAsk,
    DirectAddressKey,
    MapBlock,
)
from labkit.lab.reading.field_reader import FieldReader
from labkit.lab.reading.fields import ExerciseFields, Strict, Text
from labkit.language.expression import Value
from labkit.language.problems import definition_error
from labkit.language.stream import Stream

SIZES: Final = {
    "bit": Size.BIT,
    "byte": Size.BYTE,
    "word": Size.WORD,
    "double word": Size.DOUBLE_WORD,
}
NUMBERINGS: Final = {"by element": Numbering.BY_ELEMENT, "by byte": Numbering.BY_BYTE}


class MapFields(Strict):
    """Three lists: the devices in the area, the first byte of each, and how many bytes."""

    device: Text = Field(description="A formula that gives a list of names.")
    at: Text = Field(description="A formula that gives a list: the first byte of each.")
    length: Text = Field(description="A formula that gives a list: how many bytes.")


class DirectAddressFields(ExerciseFields):
    """Bit `bit` of byte `byte`, both from 0, of the data of `device`, behind its `header` bytes.

    The bytes of the header are part of the data that the map shows; `byte` does not count them.
    """

    map: MapFields = Field(description="What is drawn: three lists of the same length.")
    area: Literal["input", "output"] = Field(description="The scanner's area.")
    area_bytes: Text = Field(description="A formula: how many bytes the area has.")
    device: Text = Field(description="A formula that gives the name of the device asked for.")
    byte: Text = Field(description="A formula: the byte of its data, from 0, behind its header.")
    bit: Text = Field(description="A formula: 0 to 7.")
    header: Text = Field(
        default="0", description="A formula: header or status bytes in front of its data."
    )
    size: Literal["bit", "byte", "word", "double word"] = Field(
        default="bit", description="What is asked for."
    )
    numbering: Literal["by element", "by byte"] = Field(
        default="by element", description="What W and D count."
    )


@dataclass(frozen=True, slots=True)
class _Question:
    """The bit that is asked for, as a place in the area."""

    area: Area
    size: Size
    addressing: Addressing
    start: int
    header: int
    byte: int
    bit: int

    @property
    def at(self) -> int:
        return self.start + self.header + self.byte

    def address(self, **changed: Any) -> DirectAddress | None:
        """The address asked for, or what it is with something taken wrongly; None if there is none.

        `at`, `bit`, `area`, `addressing` and `number` may be changed.
        """
        area = changed.get("area", self.area)
        addressing = changed.get("addressing", self.addressing)
        at = changed.get("at", self.at)
        try:
            if self.size is Size.BIT:
                found = addressing.bit_address(area, at, changed.get("bit", self.bit))
            else:
                found = addressing.element(area, at, self.size)
            return DirectAddress(area, found.size, changed.get("number", found.number), found.bit)
        except PlanError:
            return None


class DirectAddressReader:
    """Reads a `direct_address` exercise."""

    fields = DirectAddressFields

    def read(self, fields: DirectAddressFields, reader: FieldReader) -> Preparer:
        """The preparer of this exercise."""
        names = reader.formula(fields.map.device, "map", "device")
        starts = reader.formula(fields.map.at, "map", "at")
        lengths = reader.formula(fields.map.length, "map", "length")
        area_bytes = reader.formula(fields.area_bytes, "area_bytes")
        device, header = (
            reader.formula(fields.device, "device"),
            reader.formula(fields.header, "header"),
        )
        byte, bit = reader.formula(fields.byte, "byte"), reader.formula(fields.bit, "bit")
        area, size = AREAS[fields.area], SIZES[fields.size]
        addressing = Addressing(NUMBERINGS[fields.numbering])

        def prepare(values: Mapping[str, Value], _stream: Stream) -> Prepared:
            devices = names_of(names, values)
            firsts = numbers_of(starts, values, len(devices))
            sizes = numbers_of(lengths, values, len(devices), least=1)
            room = whole_of(area_bytes, values, 1, MAX_AREA)
            placed = tuple(map(Placement, devices, [area] * len(devices), firsts, sizes))
            io_map = IoMap(room, 0, placed) if area is Area.INPUT else IoMap(0, room, placed)
            if io_map.overlaps() or io_map.outside():
                raise definition_error(starts.place, "the map has bytes used twice or outside.")
            chosen = io_map.placement(text_of(device, values, devices), area)
            ahead = whole_of(header, values, 0, chosen.length - 1)
            asked = _Question(
                area,
                size,
                addressing,
                chosen.first_byte,
                ahead,
                whole_of(byte, values, 0, chosen.length - 1 - ahead),
                whole_of(bit, values, 0, 7),
            )
            blocks: list[MapBlock] = [
                {"device": each.device, "at": each.first_byte, "length": each.length}
                for each in io_map.in_area(area)
            ]
            ask: DirectAddressAsk = {
                "area": fields.area,
                "bytes": room,
                "blocks": blocks,
                "size": fields.size,
            }
            bits = DeviceBit(chosen.device, area, ahead + asked.byte, asked.bit)
            right = io_map.address_of(bits) if size is Size.BIT else asked.address()
            key: DirectAddressKey = {
                "address": str(right),
                "slips": _slips(asked, str(right)),
            }
            return Prepared(ask, key)

        return prepare


def _slips(asked: _Question, right: str) -> list[AddressSlip]:
    slips: list[AddressSlip] = []
    seen = {right}
    for name, address, tell in _mistakes(asked):
        if address is not None and str(address) not in seen:
            seen.add(str(address))
            slips.append({"id": name, "address": str(address), "tell": tell})
    return slips


def _mistakes(asked: _Question) -> Iterator[tuple[str, DirectAddress | None, str]]:
    """The known mistakes, the likeliest first: two may lead to the same address."""
    other = Area.OUTPUT if asked.area is Area.INPUT else Area.INPUT
    yield (
        "wrong-area",
        asked.address(area=other),
        "The area is the other one: what a device produces is an input (I) of the controller, what "
        "it consumes an output (Q).",
    )
    if asked.header:
        yield (
            "header-forgotten",
            asked.address(at=asked.start + asked.byte),
            f"{_bytes(asked.header)} of header or status must be passed over before the data.",
        )
    yield (
        "start-forgotten",
        asked.address(at=asked.header + asked.byte),
        "You counted from the start of the area. Count from where this device's data starts.",
    )
    if asked.size is Size.BIT:
        yield (
            "bit-from-1",
            asked.address(bit=asked.bit + 1),
            "Bits are numbered from 0: the first one is bit 0, the last one bit 7.",
        )
        yield (
            "byte-order",
            asked.address(at=asked.start + asked.header + (asked.byte ^ 1)),
            "That is the other byte of the same word: the byte order is swapped.",
        )
        yield (
            "word-offset",
            asked.address(at=asked.at // 2),
            "Your number counts words; in a bit's address it counts bytes.",
        )
    else:
        yield from _wrong_counting(asked)
    yield (
        "byte-from-1",
        asked.address(at=asked.at + 1),
        "Bytes are numbered from 0: the device's first byte is byte 0.",
    )


def _wrong_counting(asked: _Question) -> Iterator[tuple[str, DirectAddress | None, str]]:
    by_byte = asked.addressing.numbering is Numbering.BY_BYTE
    swapped = Numbering.BY_ELEMENT if by_byte else Numbering.BY_BYTE
    words = "bytes" if by_byte else f"{asked.size.name.lower().replace('_', ' ')}s"
    yield (
        "wrong-counting",
        asked.address(addressing=Addressing(swapped)),
        f"In this controller the number behind {asked.size.value} counts {words}.",
    )
    yield (
        "byte-number",
        asked.address(number=min(asked.at, HIGHEST_BYTE)),
        f"That is the number of the byte; the number behind {asked.size.value} counts otherwise.",
    )


def _bytes(count: int) -> str:
    return "One byte" if count == 1 else f"{count} bytes"
