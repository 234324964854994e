"""Directly represented variables of IEC 61131-3, %IX4.2, %IB4, %IW2, %ID1, %QX0.7, and the bytes
of the controller's input and output areas that they name.

`%`, I (input) or Q (output), X (bit; may be left out), B, W, D or L (8, 16, 32, 64 bits), a number
(IEC 61131-3). What the number counts is left to the controller's maker, and so is the byte order
in a word; `Addressing` states both. Bits are always written byte.bit, bit 0 the least significant.
The standard also allows a bit by one number (%QX75) and longer rows (%IW2.5.7.1): only the maker
says what they mean, so they are refused here.
"""

import re
from dataclasses import dataclass
from enum import Enum

from labkit.fieldbus.checked import whole
from labkit.fieldbus.errors import PlanError

HIGHEST_BYTE = 65535
"""Our own bound on a byte of an area."""

_SHAPE = re.compile(r"%([IQ])(?:(X)?([0-9]{1,6})\.([0-9]{1,2})|([BWDL])([0-9]{1,6}))")


class Area(Enum):
    """Input area (from the devices) or output area (to the devices) of the controller."""

    INPUT = "I"
    OUTPUT = "Q"


class Size(Enum):
    """Size prefix of a direct address."""

    BIT = "X"
    BYTE = "B"
    WORD = "W"
    DOUBLE_WORD = "D"
    LONG_WORD = "L"

    @property
    def width(self) -> int:
        """Bytes of an element; a bit counts by the byte that holds it."""
        return {"X": 1, "B": 1, "W": 2, "D": 4, "L": 8}[self.value]


class Numbering(Enum):
    """What the number behind W, D and L counts."""

    BY_ELEMENT = "elements: %IW2 is bytes 4 and 5"
    BY_BYTE = "bytes: %IW4 is bytes 4 and 5"


class ByteOrder(Enum):
    """Which byte of a word comes first in the area. DeviceNet data goes low byte first."""

    LOW_FIRST = "low byte first"
    HIGH_FIRST = "high byte first"


@dataclass(frozen=True, slots=True)
class DirectAddress:
    """One direct address as written. `bit` (0 to 7) belongs to size X only.

    >>> str(DirectAddress.from_text("%I4.2"))
    '%IX4.2'
    """

    area: Area
    size: Size
    number: int
    bit: int | None = None

    def __post_init__(self) -> None:
        if not isinstance(self.area, Area) or not isinstance(self.size, Size):
            raise PlanError(
                f"a direct address needs an area and a size, not {self.area!r} and {self.size!r}; "
                "take Area.INPUT or Area.OUTPUT and a Size."
            )
        whole(self.number, f"the number of a %{self.area.value} address", 0, HIGHEST_BYTE)
        if self.size is Size.BIT:
            whole(self.bit, f"the bit of %{self.area.value}X{self.number}", 0, 7)
        elif self.bit is not None:
            raise PlanError(
                f"%{self.area.value}{self.size.value}{self.number} is no single bit, yet bit "
                f"{self.bit!r} is given; write it as X, byte.bit."
            )

    @classmethod
    def from_text(cls, text: str) -> "DirectAddress":
        """Read a direct address; capital or small letters, blanks around it ignored."""
        if not isinstance(text, str):
            raise PlanError(f"a direct address is text such as %IX4.2, not {text!r}.")
        found = _SHAPE.fullmatch(text.strip().upper())
        if found is None:
            raise PlanError(
                f"{text!r} is no direct address of the input or output area; write %, I or Q, then "
                "X byte.bit for a bit, or B, W or D and a number for a byte, word or double word."
            )
        area = Area(found[1])
        if found[3] is not None:
            return cls(area, Size.BIT, int(found[3]), int(found[4]))
        return cls(area, Size(found[5]), int(found[6]))

    def __str__(self) -> str:
        end = "" if self.bit is None else f".{self.bit}"
        return f"%{self.area.value}{self.size.value}{self.number}{end}"


@dataclass(frozen=True, slots=True)
class Addressing:
    """How one controller numbers its elements and orders the bytes of a word."""

    numbering: Numbering = Numbering.BY_ELEMENT
    byte_order: ByteOrder = ByteOrder.LOW_FIRST

    def first_byte(self, address: DirectAddress) -> int:
        """The first byte of the area that an address names."""
        if self.numbering is Numbering.BY_BYTE:
            return address.number
        return address.number * address.size.width

    def bytes_of(self, address: DirectAddress) -> range:
        """The bytes of the area that an address names."""
        first = self.first_byte(address)
        return range(first, first + address.size.width)

    def bit_address(self, area: Area, byte: int, bit: int) -> DirectAddress:
        """The address of one bit of a byte of an area."""
        return DirectAddress(area, Size.BIT, byte, bit)

    def element(self, area: Area, byte: int, size: Size) -> DirectAddress:
        """The byte, word, double or long word, on its natural boundary, that holds a byte."""
        if size is Size.BIT:
            raise PlanError("a bit is not found by its byte alone; name the bit too.")
        whole(byte, "the byte of an area", 0, HIGHEST_BYTE)
        number = byte // size.width
        return DirectAddress(
            area, size, number if self.numbering is Numbering.BY_ELEMENT else number * size.width
        )

    def bit_of_element(self, element: DirectAddress, byte: int, bit: int) -> int:
        """Which bit of an element (0 the least significant) is bit `bit` of area byte `byte`.

        Low byte first: 8·k + bit for byte k of the element; high byte first: the bytes count
        from the other end.
        """
        whole(bit, "the bit of a byte", 0, 7)
        within = self.bytes_of(element)
        if byte not in within:
            raise PlanError(f"byte {byte} is not in {element}, which holds {_span(within)}.")
        return 8 * self._turned(byte - within.start, len(within)) + bit

    def byte_and_bit(self, element: DirectAddress, bit: int) -> tuple[int, int]:
        """The area's byte, and its bit, that bit `bit` of an element is."""
        within = self.bytes_of(element)
        whole(bit, f"the bit of {element}", 0, 8 * len(within) - 1)
        if element.bit is not None:
            raise PlanError(f"{element} is one bit already; name a byte or word.")
        return within.start + self._turned(bit // 8, len(within)), bit % 8

    def _turned(self, place: int, width: int) -> int:
        return place if self.byte_order is ByteOrder.LOW_FIRST else width - 1 - place


def _span(span: range) -> str:
    return f"byte {span.start}" if len(span) == 1 else f"bytes {span.start} to {span.stop - 1}"
