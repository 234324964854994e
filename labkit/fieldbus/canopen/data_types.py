"""Data types of an object dictionary: their numbers, lengths and limits, bytes low byte first.

Source: CiA 301; the numbers are those of a general-purpose package, against which they are checked.
"""

import struct
from enum import IntEnum
from typing import Final

from labkit.fieldbus.checked import byte_string, number, whole
from labkit.fieldbus.errors import PlanError

Value = int | float | str | bytes
"""A value of an entry: whole or real number, text, or bytes; of a BOOLEAN 0 or 1."""


class DataType(IntEnum):
    """A data type with its number in a data sheet (CiA 301)."""

    BOOLEAN = 0x01
    INTEGER8 = 0x02
    INTEGER16 = 0x03
    INTEGER32 = 0x04
    UNSIGNED8 = 0x05
    UNSIGNED16 = 0x06
    UNSIGNED32 = 0x07
    REAL32 = 0x08
    VISIBLE_STRING = 0x09
    OCTET_STRING = 0x0A
    UNICODE_STRING = 0x0B
    TIME_OF_DAY = 0x0C
    TIME_DIFFERENCE = 0x0D
    DOMAIN = 0x0F
    INTEGER24 = 0x10
    REAL64 = 0x11
    INTEGER40 = 0x12
    INTEGER48 = 0x13
    INTEGER56 = 0x14
    INTEGER64 = 0x15
    UNSIGNED24 = 0x16
    UNSIGNED40 = 0x18
    UNSIGNED48 = 0x19
    UNSIGNED56 = 0x1A
    UNSIGNED64 = 0x1B

    @property
    def is_whole(self) -> bool:
        """Whether it holds a whole number (a BOOLEAN holds 0 or 1)."""
        return self.name.startswith(("INTEGER", "UNSIGNED", "BOOLEAN"))

    @property
    def is_real(self) -> bool:
        """Whether it holds a floating-point number (IEEE 754)."""
        return self.name.startswith("REAL")

    @property
    def is_text(self) -> bool:
        """Whether it holds text."""
        return self in (DataType.VISIBLE_STRING, DataType.UNICODE_STRING)

    @property
    def bits(self) -> int | None:
        """Bits in a PDO mapping, None where the length is not fixed."""
        if self is DataType.BOOLEAN:
            return 1
        if self in (DataType.TIME_OF_DAY, DataType.TIME_DIFFERENCE):
            return 48
        digits = "".join(sign for sign in self.name if sign.isdigit())
        return int(digits) if digits else None

    @property
    def length(self) -> int | None:
        """Bytes in an SDO transfer, None where the length is not fixed."""
        return None if self.bits is None else -(-self.bits // 8)

    @property
    def least(self) -> int | None:
        """The least whole number, None for types that hold none."""
        if not self.is_whole or self.bits is None:
            return None
        return -(1 << self.bits - 1) if self.name.startswith("INTEGER") else 0

    @property
    def most(self) -> int | None:
        """The greatest whole number, None for types that hold none."""
        if not self.is_whole or self.bits is None:
            return None
        return (1 << self.bits - int(self.name.startswith("INTEGER"))) - 1


_REALS: Final = {DataType.REAL32: "<f", DataType.REAL64: "<d"}
LONGEST_TEXT: Final = 1 << 20
"""Longest text or domain that is taken here, bytes: a choice of this library."""


def encode_value(kind: DataType, value: Value) -> bytes:
    """The bytes of a value, low byte first; `PlanError` where the type cannot hold it.

    >>> encode_value(DataType.INTEGER16, -2).hex()
    'feff'
    """
    least, most, length = kind.least, kind.most, kind.length
    if least is not None and most is not None and length is not None:
        held = whole(value, f"the value of type {kind.name}", least, most)
        return held.to_bytes(length, "little", signed=least < 0)
    if kind.is_real:
        return _real_bytes(kind, value)
    if kind.is_text:
        if not isinstance(value, str):
            raise PlanError(f"A {kind.name} holds text, not {value!r}.")
        return _text_bytes(kind, value)
    return byte_string(value, f"the value of type {kind.name}", length or LONGEST_TEXT, length or 0)


def decode_value(kind: DataType, data: bytes) -> Value:
    """The value of bytes; `PlanError` where their number does not fit the type."""
    length = kind.length
    held = byte_string(data, f"a {kind.name}", length or LONGEST_TEXT, length or 0)
    if kind.is_whole:
        found = int.from_bytes(held, "little", signed=(kind.least or 0) < 0)
        return found & 1 if kind is DataType.BOOLEAN else found
    if kind.is_real:
        real: float = struct.unpack(_REALS[kind], held)[0]
        return real
    if kind is DataType.VISIBLE_STRING:
        return held.rstrip(b"\0").decode("latin-1")
    if kind is DataType.UNICODE_STRING:
        return held.decode("utf-16-le", "replace").rstrip("\0")
    return held


def _real_bytes(kind: DataType, value: Value) -> bytes:
    real = number(value, f"the value of type {kind.name}", "", -1.8e308)
    try:
        return struct.pack(_REALS[kind], real)
    except OverflowError:
        raise PlanError(f"A {kind.name} cannot hold {real:g}; give a smaller number.") from None


def _text_bytes(kind: DataType, value: str) -> bytes:
    try:
        return value.encode("latin-1" if kind is DataType.VISIBLE_STRING else "utf-16-le")
    except UnicodeEncodeError:
        raise PlanError(
            f"A {kind.name} cannot hold {value[:40]!r}; use letters that it has."
        ) from None
