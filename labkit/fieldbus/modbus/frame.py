"""A frame on the line: address, message, CRC low byte first (V1.02, 2.5.1 and appendix B)."""

from dataclasses import dataclass
from typing import Final, Self

from labkit.fieldbus.check_sums import CHECK_SUMS
from labkit.fieldbus.checked import byte_string, whole
from labkit.fieldbus.errors import PlanError
from labkit.fieldbus.modbus.addresses import BROADCAST, AddressUse, address_use, device_address
from labkit.fieldbus.modbus.messages import (
    MOST_MESSAGE_BYTES,
    Reply,
    Request,
    decode_reply,
    decode_request,
)
from labkit.fieldbus.serial.character import CharacterFormat, frame_bits

LEAST_FRAME_BYTES: Final = 4
"""Address, function, CRC (V1.02, 2.5.1)."""
MOST_FRAME_BYTES: Final = 256
"""Address, function, 252 bytes of data, CRC (V1.02, 2.5.1)."""
_CRC: Final = CHECK_SUMS["CRC-16/MODBUS"]


@dataclass(frozen=True, slots=True)
class Frame:
    """One frame: an address byte, 0 to 255, and the message, function first.

    >>> Frame.of_request(17, ReadRequest(Function.READ_HOLDING_REGISTERS, 107, 3)).text
    '11 03 00 6B 00 03 76 87'
    """

    address: int
    message: bytes

    def __post_init__(self) -> None:
        whole(self.address, "The address", 0, 255, "one byte carries it")
        message = byte_string(self.message, "the message of a frame", MOST_MESSAGE_BYTES, 1)
        object.__setattr__(self, "message", message)

    @classmethod
    def of_request(cls, address: int, request: Request) -> Self:
        """The frame that asks the device at `address`, or with 0 tells all devices to write."""
        if type(address) is not int or address != BROADCAST:
            device_address(address)
        elif request.function.reads:
            raise PlanError(
                "A request to address 0 goes to all devices and none answers, so nothing can be "
                "read by it: ask each device at its own address."
            )
        return cls(address, request.to_bytes())

    @classmethod
    def of_reply(cls, address: int, reply: Reply) -> Self:
        """The frame by which the device at `address` answers."""
        return cls(device_address(address), reply.to_bytes())

    @classmethod
    def from_bytes(cls, data: bytes) -> Self:
        """Read a frame and check its CRC; `PlanError` says what is wrong with it."""
        data = byte_string(data, "a frame", MOST_FRAME_BYTES, LEAST_FRAME_BYTES)
        expected = crc_bytes(data[:-2])
        if data[-2:] == expected:
            return cls(data[0], data[1:-2])
        if data[:-3:-1] == expected:
            why = "its two bytes stand in the wrong order, the low byte goes first"
        else:
            why = "a bit was turned, or bytes are missing or too many"
        raise PlanError(
            f"The CRC of the frame is {_shown(data[-2:])} where {_shown(expected)} belongs: {why}."
        )

    def to_bytes(self) -> bytes:
        """Address, message and CRC in the order of the line."""
        covered = bytes([self.address]) + self.message
        return covered + crc_bytes(covered)

    @property
    def text(self) -> str:
        """The bytes in hexadecimal."""
        return _shown(self.to_bytes())

    @property
    def use(self) -> AddressUse:
        """Whom the address means."""
        return address_use(self.address)

    @property
    def request(self) -> Request:
        """The message as a request; raises `PlanError` where it is none."""
        return decode_request(self.message)

    @property
    def reply(self) -> Reply:
        """The message as a reply; raises `PlanError` where it is none."""
        return decode_reply(self.message)

    def bits(self, form: CharacterFormat | None = None) -> tuple[int, ...]:
        """The bits on the line, each character with start, parity and stop (8E1 if left out)."""
        return frame_bits(self.to_bytes(), form or CharacterFormat())


def crc_bytes(data: bytes) -> bytes:
    """The two bytes of the CRC over `data`, low byte first.

    >>> crc_bytes(bytes([2, 7])).hex(" ")
    '41 12'
    """
    return _CRC.of_bytes(data).to_bytes(2, "little")


def _shown(data: bytes) -> str:
    return data.hex(" ").upper()
