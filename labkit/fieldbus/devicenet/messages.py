"""What stands in DeviceNet frames: duplicate checks and explicit messages, to bytes and back.

Byte layouts, service codes and class numbers are from memory of IEC 62026-3 and the CIP common
specification (the duplicate check's layout is on the reference page without that mark). Numbers
of more than one byte go low byte first.

Explicit message, not fragmented: byte 0 = fragmented (bit 7), transaction (bit 6), the other
node's address (bits 5-0); byte 1 = response (bit 7), service (bits 6-0); then, in a request,
class, instance and service data, in a response the data only. `fragments` cuts longer ones.
"""

from dataclasses import dataclass
from enum import Enum

from labkit.fieldbus.checked import byte_string, whole
from labkit.fieldbus.devicenet.identifiers import node_address
from labkit.fieldbus.devicenet.objects import ObjectClass, Service
from labkit.fieldbus.errors import PlanError

MOST_SERVICE_DATA = 2048
"""Our own bound on the data of one explicit message, bytes; devices allow far less."""

_FRAGMENTED, _RESPONSE, _TRANSACTION = 0x80, 0x80, 0x40


class BodyFormat(Enum):
    """Bytes of class and of instance in a request; 8/8 is the usual one (from memory)."""

    CLASS_8_INSTANCE_8 = (0, 1, 1)
    CLASS_8_INSTANCE_16 = (1, 1, 2)
    CLASS_16_INSTANCE_16 = (2, 2, 2)
    CLASS_16_INSTANCE_8 = (3, 2, 1)

    @property
    def code(self) -> int:
        """The byte by which a device names the format in its reply to an allocation."""
        return self.value[0]

    @property
    def class_bytes(self) -> int:
        """Bytes of the class number."""
        return self.value[1]

    @property
    def instance_bytes(self) -> int:
        """Bytes of the instance number."""
        return self.value[2]


@dataclass(frozen=True, slots=True)
class DuplicateCheck:
    """Data of a duplicate node address check: a request, or the response of the address's owner.

    Byte 0 = response (bit 7) and physical port (bits 6-0), bytes 1-2 vendor id, bytes 3-6 serial
    number, low byte first (IEC 62026-3, reference page).
    """

    vendor: int
    serial: int
    response: bool = False
    port: int = 0

    def __post_init__(self) -> None:
        whole(self.vendor, "the vendor id", 0, 0xFFFF)
        whole(self.serial, "the serial number", 0, 0xFFFF_FFFF)
        whole(self.port, "the physical port", 0, 0x7F)

    def to_bytes(self) -> bytes:
        """The seven data bytes."""
        first = (_RESPONSE if self.response else 0) | self.port
        return (
            bytes([first]) + self.vendor.to_bytes(2, "little") + self.serial.to_bytes(4, "little")
        )

    @classmethod
    def from_bytes(cls, data: bytes) -> "DuplicateCheck":
        """Read the seven data bytes; any other length raises `PlanError`."""
        data = byte_string(data, "a duplicate node address check", 7, 7)
        return cls(
            vendor=int.from_bytes(data[1:3], "little"),
            serial=int.from_bytes(data[3:7], "little"),
            response=bool(data[0] & _RESPONSE),
            port=data[0] & 0x7F,
        )

    def answer(self, vendor: int, serial: int) -> "DuplicateCheck":
        """The response of a device that owns the address, with its own vendor and serial number."""
        return DuplicateCheck(vendor, serial, response=True, port=self.port)


@dataclass(frozen=True, slots=True)
class ExplicitHeader:
    """Byte 0 of each frame of an explicit message.

    `other` is the destination's address where the identifier holds the source's, and the
    source's where the identifier holds the destination's.
    """

    other: int
    transaction: int = 0
    fragmented: bool = False

    def __post_init__(self) -> None:
        node_address(self.other, "the other node's address")
        whole(self.transaction, "the transaction id", 0, 1)

    @property
    def byte(self) -> int:
        """The byte, 0 to 255."""
        flags = (_FRAGMENTED if self.fragmented else 0) | (_TRANSACTION if self.transaction else 0)
        return flags | self.other

    @classmethod
    def from_byte(cls, byte: int) -> "ExplicitHeader":
        """Take byte 0 apart."""
        whole(byte, "the message header", 0, 255)
        return cls(byte & 0x3F, byte >> 6 & 1, bool(byte & _FRAGMENTED))


@dataclass(frozen=True, slots=True)
class ExplicitRequest:
    """Body of a request: service, class, instance and service data.

    >>> ExplicitRequest.get_attribute(1, 1, 6).to_bytes().hex(" ")
    '0e 01 01 06'
    """

    service: int
    class_id: int
    instance: int
    data: bytes = b""
    body_format: BodyFormat = BodyFormat.CLASS_8_INSTANCE_8

    def __post_init__(self) -> None:
        whole(self.service, "the service code", 0, 0x7F)
        most_class = 256**self.body_format.class_bytes - 1
        most_instance = 256**self.body_format.instance_bytes - 1
        whole(self.class_id, "the class number", 0, most_class)
        whole(self.instance, "the instance number", 0, most_instance)
        data = byte_string(self.data, "the service data", MOST_SERVICE_DATA)
        object.__setattr__(self, "data", data)

    @classmethod
    def get_attribute(cls, class_id: int, instance: int, attribute: int) -> "ExplicitRequest":
        """Ask for one attribute."""
        whole(attribute, "the attribute number", 0, 255)
        return cls(Service.GET_ATTRIBUTE, class_id, instance, bytes([attribute]))

    @classmethod
    def set_attribute(
        cls, class_id: int, instance: int, attribute: int, value: bytes
    ) -> "ExplicitRequest":
        """Write one attribute; `value` goes as it is, numbers low byte first."""
        whole(attribute, "the attribute number", 0, 255)
        value = byte_string(value, "the attribute's value", MOST_SERVICE_DATA - 1, 1)
        return cls(Service.SET_ATTRIBUTE, class_id, instance, bytes([attribute]) + value)

    @classmethod
    def reset(cls, kind: int = 0) -> "ExplicitRequest":
        """Reset a device: 0 as if its power were cycled, 1 to its out-of-box settings."""
        whole(kind, "the kind of reset", 0, 1)
        return cls(Service.RESET, ObjectClass.IDENTITY, 1, bytes([kind]))

    @property
    def attribute(self) -> int | None:
        """Number of the attribute that is read or written, None for any other service."""
        if self.service not in (Service.GET_ATTRIBUTE, Service.SET_ATTRIBUTE) or not self.data:
            return None
        return self.data[0]

    def to_bytes(self) -> bytes:
        """The body without the header byte."""
        return (
            bytes([self.service])
            + self.class_id.to_bytes(self.body_format.class_bytes, "little")
            + self.instance.to_bytes(self.body_format.instance_bytes, "little")
            + self.data
        )

    @classmethod
    def from_bytes(
        cls, body: bytes, body_format: BodyFormat = BodyFormat.CLASS_8_INSTANCE_8
    ) -> "ExplicitRequest":
        """Read a body, header byte taken off; the format is one that the device has named."""
        start = 1 + body_format.class_bytes
        end = start + body_format.instance_bytes
        body = byte_string(body, "the body of an explicit request", MOST_SERVICE_DATA + end, end)
        if body[0] & _RESPONSE:
            raise PlanError(
                f"service byte 0x{body[0]:02X} has bit 7 set, which marks a response; "
                "read it as a response."
            )
        class_id = int.from_bytes(body[1:start], "little")
        instance = int.from_bytes(body[start:end], "little")
        return cls(body[0], class_id, instance, body[end:], body_format)


@dataclass(frozen=True, slots=True)
class ExplicitResponse:
    """Body of a response: the request's service, and what it brought."""

    service: int
    data: bytes = b""

    def __post_init__(self) -> None:
        whole(self.service, "the service code", 0, 0x7F)
        least = 2 if self.service == Service.ERROR else 0
        data = byte_string(self.data, "the data of the reply", MOST_SERVICE_DATA, least)
        object.__setattr__(self, "data", data)

    @classmethod
    def error(cls, general: int, additional: int = 0xFF) -> "ExplicitResponse":
        """An error reply; additional code 0xFF says that there is none (from memory)."""
        whole(general, "the general error code", 0, 255)
        whole(additional, "the additional error code", 0, 255)
        return cls(Service.ERROR, bytes([general, additional]))

    @property
    def error_codes(self) -> tuple[int, int] | None:
        """General and additional code of an error reply, None for a success."""
        if self.service != Service.ERROR:
            return None
        return self.data[0], self.data[1]

    def to_bytes(self) -> bytes:
        """The body without the header byte."""
        return bytes([self.service | _RESPONSE]) + self.data

    @classmethod
    def from_bytes(cls, body: bytes) -> "ExplicitResponse":
        """Read a body, header byte taken off."""
        body = byte_string(body, "the body of an explicit response", MOST_SERVICE_DATA + 1, 1)
        if not body[0] & _RESPONSE:
            raise PlanError(
                f"service byte 0x{body[0]:02X} has bit 7 clear, which marks a request; "
                "read it as a request."
            )
        return cls(body[0] & 0x7F, body[1:])


def is_response(body: bytes) -> bool:
    """Whether the body of an explicit message, header byte taken off, is a response."""
    return bool(byte_string(body, "the body of an explicit message", 1 << 16, 1)[0] & _RESPONSE)


def strobe_command(outputs: dict[int, bool]) -> bytes:
    """The eight data bytes of a bit-strobe command: one bit a node address.

    Address a has bit a mod 8 of byte a div 8 (from memory); addresses not named get 0.
    """
    bits = 0
    for address, on in outputs.items():
        bits |= bool(on) << node_address(address)
    return bits.to_bytes(8, "little")


def strobe_outputs(data: bytes) -> dict[int, bool]:
    """The bit of each of the 64 node addresses in a bit-strobe command of eight bytes."""
    bits = int.from_bytes(byte_string(data, "a bit-strobe command", 8, 8), "little")
    return {address: bool(bits >> address & 1) for address in range(64)}
