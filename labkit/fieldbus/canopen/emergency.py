"""Emergency messages (0x080 + node-ID) and the error register, object 0x1001.

Eight bytes: the error code, low byte first, the error register, five bytes of the maker's. Source:
CiA 301 as in several public device manuals; classes of codes marked below are from memory.
"""

from dataclasses import dataclass
from typing import Final, Self

from labkit.fieldbus.can.frame import Frame
from labkit.fieldbus.canopen.identifiers import CobId, CommunicationObject
from labkit.fieldbus.checked import byte_string, whole

MESSAGE_BYTES: Final = 8
MAKER_BYTES: Final = 5
ERROR_REGISTER_BITS: Final = {
    0: "generic",
    1: "current",
    2: "voltage",
    3: "temperature",
    4: "communication",
    5: "device profile",
    7: "manufacturer",
}
"""What each bit of the error register means; bit 6 is reserved (CiA 301)."""
EMERGENCY_CODES: Final = {
    0x0000: "no error any more",
    0x8110: "CAN overrun, frames were lost",
    0x8120: "CAN in error-passive state",
    0x8130: "a heartbeat or guarding did not come",
    0x8140: "recovered from bus-off",
    0x8210: "a PDO was too short and was not taken",
    0x8220: "a PDO was too long",
}
"""Codes with a meaning of their own (CiA 301 as in device manuals)."""
_CLASSES: Final = {
    0x00: "no error any more",
    0x10: "generic error",
    0x20: "current",
    0x21: "current, at the device's input",
    0x22: "current, inside the device",
    0x23: "current, at the device's output",
    0x30: "voltage",
    0x31: "voltage, mains",
    0x32: "voltage, inside the device",
    0x33: "voltage, at the output",
    0x40: "temperature",
    0x41: "temperature, surroundings",
    0x42: "temperature, device",
    0x50: "hardware of the device",
    0x60: "software of the device",
    0x61: "software, internal",
    0x62: "software, of the user",
    0x63: "software, data set",
    0x70: "additional modules",
    0x80: "monitoring",
    0x81: "monitoring, communication",
    0x82: "monitoring, protocol",
    0x90: "external error",
    0xF0: "additional functions",
    0xFF: "specific to the device",
}
"""By the high byte of a code (from memory of CiA 301)."""


def emergency_words(code: int) -> str:
    """An error code in words; of one without a meaning of its own, its class."""
    value = whole(code, "the error code", 0, 0xFFFF, "16 bits carry it")
    named = EMERGENCY_CODES.get(value) or _CLASSES.get(value >> 8)
    return named or _CLASSES.get(value >> 8 & 0xF0, "a code that is not in CiA 301")


def register_words(register: int) -> tuple[str, ...]:
    """The bits of an error register that are set, in words."""
    value = whole(register, "the error register", 0, 0xFF, "8 bits hold it")
    return tuple(ERROR_REGISTER_BITS.get(bit, "reserved") for bit in range(8) if value & 1 << bit)


@dataclass(frozen=True, slots=True)
class Emergency:
    """One emergency message; `maker` are five bytes that only the maker's manual explains.

    >>> Emergency.from_bytes(bytes.fromhex("3081110102030405")).words
    'a heartbeat or guarding did not come (0x8130); error register: generic, communication'
    """

    code: int
    register: int = 0
    maker: bytes = bytes(MAKER_BYTES)

    def __post_init__(self) -> None:
        whole(self.code, "the error code", 0, 0xFFFF, "16 bits carry it")
        whole(self.register, "the error register", 0, 0xFF, "8 bits carry it")
        byte_string(self.maker, "the maker's part", MAKER_BYTES, MAKER_BYTES)

    @classmethod
    def from_bytes(cls, data: bytes) -> Self:
        """The message read; `PlanError` for another length than eight bytes."""
        held = byte_string(data, "an emergency message", MESSAGE_BYTES, MESSAGE_BYTES)
        return cls(int.from_bytes(held[:2], "little"), held[2], held[3:])

    def to_bytes(self) -> bytes:
        """The eight bytes."""
        return self.code.to_bytes(2, "little") + bytes([self.register]) + self.maker

    def to_frame(self, node: int) -> Frame:
        """The frame that a node sends."""
        return Frame(CobId(CommunicationObject.EMCY, node).value, self.to_bytes())

    @property
    def words(self) -> str:
        """What it tells."""
        bits = ", ".join(register_words(self.register)) or "no bit set"
        return f"{emergency_words(self.code)} (0x{self.code:04X}); error register: {bits}"
