"""What a DeviceNet frame says, fact by fact, with the mistakes that are made in reading it.

Every value is worked out by `labkit.fieldbus.devicenet` from the identifier and the data; each
mistake is the same frame read in a known wrong way.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import Final

from labkit.doors.frames import Fact, FrameValue
from labkit.fieldbus.devicenet.identifiers import AddressRole, Identifier, Purpose
from labkit.fieldbus.devicenet.messages import (
    DuplicateCheck,
    ExplicitHeader,
    ExplicitRequest,
    ExplicitResponse,
    is_response,
)
from labkit.fieldbus.devicenet.objects import ERROR_SENTENCES, GeneralError
from labkit.fieldbus.errors import PlanError

TELLS: Final = {
    "first-digit": "That is the first hexadecimal digit of the identifier. The group stands in the "
    "leading *bits*: write the identifier in binary.",
    "bits-exchanged": "You took the message bits and the address bits in the order of another "
    "group. In group 2 the address comes first, in groups 1 and 3 the message.",
    "wrong-group": "You read the identifier as one of another message group.",
    "hex-as-decimal": "You copied hexadecimal digits; a decimal number is asked for.",
    "other-role": "Whose address an identifier carries hangs on the message: a request goes to the "
    "address, a response comes from it.",
    "other-end": "That is the message of the other end: what a master sends is a command or a "
    "request, what a device sends back is a response.",
    "ends-exchanged": "Sender and receiver are exchanged.",
    "response-bit": "Bit 7 of the service byte only marks a response; the code is in bits 6 to 0.",
    "header-forgotten": "You began one byte too early: byte 0 is the message header.",
    "header-as-address": "You took the whole header byte; the address is in its bits 5 to 0.",
    "byte-order": "You read the bytes high first. DeviceNet sends the low byte first.",
    "sign-forgotten": "The number is signed: its highest bit set makes it negative.",
    "request-for-response": "Look at bit 7 of the service byte: it tells requests from responses.",
    "additional-code": "That is the other of the two error codes: the general code comes first.",
}

_EXPLICIT: Final = frozenset(
    {
        Purpose.EXPLICIT_REQUEST,
        Purpose.EXPLICIT_RESPONSE,
        Purpose.UNCONNECTED_REQUEST,
        Purpose.UNCONNECTED_REQUEST_GROUP_3,
        Purpose.UNCONNECTED_RESPONSE,
    }
)
PURPOSE_WORDS: Final = [purpose.value for purpose in Purpose]
ROLE_WORDS: Final = [role.value for role in AddressRole]
REASON_WORDS: Final = [ERROR_SENTENCES[code] for code in GeneralError]
_ENDS: Final = (
    (Purpose.POLL_COMMAND, Purpose.POLL_RESPONSE),
    (Purpose.BIT_STROBE_COMMAND, Purpose.BIT_STROBE_RESPONSE),
    (Purpose.EXPLICIT_REQUEST, Purpose.EXPLICIT_RESPONSE),
    (Purpose.MASTER_ACKNOWLEDGE, Purpose.CHANGE_OF_STATE),
)
_OTHER_END: Final = {**dict(_ENDS), **{back: forth for forth, back in _ENDS}}
_OTHER_ROLE: Final = {
    AddressRole.SOURCE: AddressRole.DESTINATION,
    AddressRole.DESTINATION: AddressRole.SOURCE,
}
_BYTE: Final = 2
"""Hexadecimal digits."""


@dataclass(frozen=True, slots=True)
class FrameRead:
    """An identifier and data bytes taken apart. Raises `PlanError` where no frame can be so."""

    value: int
    data: bytes

    @property
    def identifier(self) -> Identifier:
        """The identifier taken apart."""
        return Identifier.from_value(self.value)

    @property
    def header(self) -> ExplicitHeader:
        """Byte 0 of an explicit message."""
        self._check_explicit()
        return ExplicitHeader.from_byte(self.data[0])

    @property
    def body(self) -> bytes:
        """The bytes after the header."""
        self._check_explicit()
        return self.data[1:]

    def _check_explicit(self) -> None:
        purpose = self.identifier.purpose
        if purpose not in _EXPLICIT:
            raise PlanError(f"a {purpose.value} is no explicit message.")
        if len(self.data) < 2:
            raise PlanError("an explicit message has a header and a service at least.")
        if ExplicitHeader.from_byte(self.data[0]).fragmented:
            raise PlanError("a fragment does not hold the whole message.")

    @property
    def request(self) -> ExplicitRequest:
        """The request that stands in the frame."""
        return ExplicitRequest.from_bytes(self.body)

    @property
    def response(self) -> ExplicitResponse:
        """The response that stands in the frame."""
        return ExplicitResponse.from_bytes(self.body)

    @property
    def check(self) -> DuplicateCheck:
        """The duplicate node address check that stands in the frame."""
        if self.identifier.purpose is not Purpose.DUPLICATE_CHECK:
            raise PlanError(f"a {self.identifier.purpose.value} is no duplicate check.")
        return DuplicateCheck.from_bytes(self.data)

    @property
    def misreadings(self) -> Iterator[tuple[str, Identifier]]:
        """The identifier read by the layout of another group."""
        right = self.identifier
        if right.group == 4:
            return
        if right.group == 2:
            yield "bits-exchanged", Identifier(1, self.value >> 6 & 0x7, self.value & 0x3F)
            return
        yield "bits-exchanged", Identifier(2, self.value & 0x7, self.value >> 3 & 0x3F)
        if right.group == 3:
            # Four message bits, as in group 1.
            yield "wrong-group", Identifier(1, self.value >> 6 & 0xF, self.value & 0x3F)


def _group(frame: FrameRead) -> Fact:
    first_digit = frame.value >> 8
    return Fact("Message group", frame.identifier.group, (("first-digit", first_digit),))


def _message(frame: FrameRead) -> Fact:
    right = frame.identifier.message
    slips = [(slip, wrong.message) for slip, wrong in frame.misreadings]
    return Fact("Message number", right, (*slips, *_copied_digits(right)))


def _address(frame: FrameRead) -> Fact:
    right = frame.identifier.address
    if right is None:
        raise PlanError("a group 4 message carries no node address.")
    slips = _misread_addresses(frame)
    return Fact("Node address in it", right, (*slips, *_copied_digits(right)))


def _misread_addresses(frame: FrameRead) -> list[tuple[str, int]]:
    read = [(slip, wrong.address) for slip, wrong in frame.misreadings]
    return [(slip, address) for slip, address in read if address is not None]


def _role(frame: FrameRead) -> Fact:
    right = frame.identifier.role
    other = _OTHER_ROLE.get(right)
    slips = (("other-role", other.value),) if other else ()
    return Fact("Whose address it is", right.value, slips, words=ROLE_WORDS)


def _purpose(frame: FrameRead) -> Fact:
    right = frame.identifier.purpose
    slips = [(slip, wrong.purpose.value) for slip, wrong in frame.misreadings]
    if right in _OTHER_END:
        slips.insert(0, ("other-end", _OTHER_END[right].value))
    return Fact("Purpose", right.value, tuple(slips), words=PURPOSE_WORDS)


def _ends(frame: FrameRead) -> tuple[int | None, int | None]:
    """Sender and receiver, as far as identifier and header tell them."""
    identifier = frame.identifier
    known = identifier.address
    other = frame.header.other if identifier.purpose in _EXPLICIT else None
    if identifier.role is AddressRole.SOURCE:
        return known, other
    if identifier.role is AddressRole.DESTINATION:
        return other, known
    return None, None


def _end(frame: FrameRead, which: int, label: str) -> Fact:
    ends = _ends(frame)
    right, other = ends[which], ends[1 - which]
    if right is None:
        raise PlanError(f"a {frame.identifier.purpose.value} does not say its {label.lower()}.")
    slips: list[tuple[str, FrameValue]] = [] if other is None else [("ends-exchanged", other)]
    slips += _misread_addresses(frame)
    if frame.identifier.purpose in _EXPLICIT and right == frame.header.other:
        slips = [*slips[:1], ("header-as-address", frame.data[0])]
    return Fact(label, right, (*slips, *_copied_digits(right)))


def _source(frame: FrameRead) -> Fact:
    return _end(frame, 0, "Sender's address")


def _destination(frame: FrameRead) -> Fact:
    return _end(frame, 1, "Receiver's address")


def _direction(frame: FrameRead) -> Fact:
    if frame.identifier.purpose is Purpose.DUPLICATE_CHECK:
        response = frame.check.response
    else:
        response = is_response(frame.body)
    words = ["request", "response"]
    slips = (("request-for-response", words[not response]),)
    return Fact("Request or response", words[response], slips, words=words)


def _transaction(frame: FrameRead) -> Fact:
    return Fact("Transaction id", frame.header.transaction)


def _service(frame: FrameRead) -> Fact:
    service = frame.body[0] & 0x7F
    slips = [("response-bit", frame.body[0]), ("header-forgotten", frame.data[0])]
    return Fact("Service code", service, tuple(slips), digits=_BYTE)


def _class(frame: FrameRead) -> Fact:
    return _shifted(frame, "Class", frame.request.class_id, 1)


def _instance(frame: FrameRead) -> Fact:
    return _shifted(frame, "Instance", frame.request.instance, 2)


def _attribute(frame: FrameRead) -> Fact:
    right = frame.request.attribute
    if right is None:
        raise PlanError("this service names no attribute.")
    return _shifted(frame, "Attribute", right, 3)


def _shifted(frame: FrameRead, label: str, right: int, early: int) -> Fact:
    """`early` is the byte that is read when the header is forgotten."""
    slips = [("header-forgotten", frame.data[early]), *_copied_digits(right)]
    return Fact(label, right, tuple(slips))


def _value(frame: FrameRead) -> Fact:
    if is_response(frame.body):
        if frame.response.error_codes:
            raise PlanError("an error reply carries codes, no value.")
        data = frame.response.data
    else:
        data = frame.request.data[1:] if frame.request.attribute is not None else b""
    if not data:
        raise PlanError("this message carries no value.")
    return number_fact("Value", data)


def _error(frame: FrameRead) -> Fact:
    general, additional = _codes(frame)
    return Fact("General error code", general, (("additional-code", additional),), digits=_BYTE)


def _reason(frame: FrameRead) -> Fact:
    general, _ = _codes(frame)
    known = {int(code): sentence for code, sentence in ERROR_SENTENCES.items()}
    if general not in known:
        raise PlanError(f"general error 0x{general:02X} has no words here.")
    return Fact("What the device says", known[general], words=REASON_WORDS)


def _codes(frame: FrameRead) -> tuple[int, int]:
    codes = frame.response.error_codes
    if codes is None:
        raise PlanError("this response is no error reply.")
    return codes


def _vendor(frame: FrameRead) -> Fact:
    return number_fact("Vendor id", frame.check.vendor.to_bytes(2, "little"))


def _serial(frame: FrameRead) -> Fact:
    right = frame.check.serial
    slips = (("byte-order", int.from_bytes(frame.data[3:7], "big")),)
    return Fact("Serial number", right, slips, digits=8)


FACTS: Final[Mapping[str, Callable[[FrameRead], Fact]]] = {
    "group": _group,
    "message": _message,
    "address": _address,
    "role": _role,
    "purpose": _purpose,
    "source": _source,
    "destination": _destination,
    "direction": _direction,
    "transaction": _transaction,
    "service": _service,
    "class": _class,
    "instance": _instance,
    "attribute": _attribute,
    "value": _value,
    "error": _error,
    "reason": _reason,
    "vendor": _vendor,
    "serial": _serial,
}
"""What can be asked of a frame, by the name an author writes."""


def number_fact(label: str, data: bytes, *, signed: bool = False) -> Fact:
    """A whole number that stands in `data`, low byte first."""
    right = int.from_bytes(data, "little", signed=signed)
    slips: list[tuple[str, FrameValue]] = [
        ("byte-order", int.from_bytes(data, "big", signed=signed))
    ]
    if signed:
        slips.append(("sign-forgotten", int.from_bytes(data, "little")))
    digits = data[::-1].hex()
    if digits.isdecimal():
        slips.append(("hex-as-decimal", int(digits)))
    return Fact(label, right, tuple(slips))


def _copied_digits(right: int) -> list[tuple[str, int]]:
    digits = f"{right:x}"
    return [("hex-as-decimal", int(digits))] if digits.isdecimal() else []
