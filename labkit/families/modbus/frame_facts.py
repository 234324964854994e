"""What a Modbus frame says, fact by fact, with the mistakes that are made in reading it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Final, Literal

from labkit.doors.frames import Fact, FrameValue
from labkit.fieldbus.errors import PlanError
from labkit.fieldbus.modbus.frame import Frame
from labkit.fieldbus.modbus.functions import ExceptionCode, Function
from labkit.fieldbus.modbus.messages import (
    ExceptionReply,
    ReadRequest,
    RegistersReply,
    Reply,
    Request,
    WriteCoil,
    WriteCoils,
    WriteRegister,
    WriteRegisters,
    WrittenReply,
)
from labkit.fieldbus.modbus.registers import Entry

TELLS: Final = {
    "hex-as-decimal": "You copied hexadecimal digits; a decimal number is asked for.",
    "byte-order": "You read the bytes low first. Modbus sends the high byte of a register and of "
    "an address first; only the CRC goes low byte first.",
    "crc-order": "The two CRC bytes go low byte first: the second one is the high one.",
    "document-number": "That is the number as documents count it, from 1. In the frame addresses "
    "count from 0.",
    "frame-address": "That is the address in the frame, which counts from 0. Documents count "
    "from 1.",
    "exception-bit": "80 is added to the function in a refusal: take it off again.",
    "function-for-code": "That is the function. The exception code is the byte after it.",
    "bytes-for-entries": "That is the number of bytes; a register has two.",
    "sign-forgotten": "The number is signed: its highest bit set makes it negative.",
    "word-order": "You exchanged the two registers. Here the first one holds the high half.",
    "request-for-reply": "Look at what follows the function: a request to read has a start and a "
    "count, a reply the number of bytes and the data.",
    "on-for-off": "FF 00 switches on, 00 00 off.",
}
_REASONS: Final = {
    ExceptionCode.ILLEGAL_FUNCTION: "no such function",
    ExceptionCode.ILLEGAL_DATA_ADDRESS: "no such address",
    ExceptionCode.ILLEGAL_DATA_VALUE: "a value not allowed",
    ExceptionCode.SERVER_DEVICE_FAILURE: "the device failed",
}
"""Short, to choose from on a narrow screen."""
REASON_WORDS: Final = list(_REASONS.values())
DIRECTION_WORDS: Final = ["request", "reply"]
_FUNCTION_WORDS: Final = [each.name.lower().replace("_", " ") for each in Function]
_BYTE: Final = 2
_CRC: Final = 4
"""Hexadecimal digits."""


@dataclass(frozen=True, slots=True)
class FrameRead:
    """The bytes of a frame, and whether it is a reply. Raises `PlanError` where it cannot be so."""

    data: bytes
    is_reply: bool

    @property
    def frame(self) -> Frame:
        """Address and message."""
        return Frame.from_bytes(self.data)

    @property
    def message(self) -> Request | Reply:
        """What it asks or answers."""
        return self.frame.reply if self.is_reply else self.frame.request

    @property
    def refused(self) -> ExceptionReply:
        """The refusal that it is."""
        message = self.message
        if not isinstance(message, ExceptionReply):
            raise PlanError("this frame refuses nothing.")
        return message


def _address(frame: FrameRead) -> Fact:
    right = frame.frame.address
    return Fact("Device address", right, tuple(_copied_digits(right)))


def _function(frame: FrameRead) -> Fact:
    sent = frame.frame.message[0]
    return Fact("Function", sent & 0x7F, (("exception-bit", sent),), digits=_BYTE)


def _asks(frame: FrameRead) -> Fact:
    right = Function(frame.frame.message[0] & 0x7F)
    return Fact("What the function does", _words(right), words=_FUNCTION_WORDS)


def _direction(frame: FrameRead) -> Fact:
    right, wrong = DIRECTION_WORDS[frame.is_reply], DIRECTION_WORDS[not frame.is_reply]
    return Fact("Request or reply", right, (("request-for-reply", wrong),), words=DIRECTION_WORDS)


def _start_of(frame: FrameRead) -> tuple[Function, int]:
    message = frame.message
    if isinstance(message, WriteCoil | WriteRegister):
        return message.function, message.address
    if isinstance(message, ReadRequest | WriteCoils | WriteRegisters | WrittenReply):
        return message.function, message.start
    raise PlanError("this frame does not say where its entries begin.")


def _start(frame: FrameRead) -> Fact:
    _, right = _start_of(frame)
    slips = [("document-number", right + 1), ("byte-order", _turned(right))]
    return Fact("First address in the frame", right, (*slips, *_copied_digits(right)))


def _number(frame: FrameRead) -> Fact:
    function, start = _start_of(frame)
    right = int(Entry.at(function.table, start).text)
    return Fact("First number in documents", right, (("frame-address", right - 1),))


def _count(frame: FrameRead) -> Fact:
    message = frame.message
    slips: list[tuple[str, FrameValue]] = []
    if isinstance(message, ReadRequest | WrittenReply):
        right = message.count
        slips.append(("byte-order", _turned(right)))
    elif isinstance(message, WriteCoils | WriteRegisters):
        right = len(message.values)
        slips.append(("bytes-for-entries", frame.frame.message[5]))
    elif isinstance(message, RegistersReply):
        right = len(message.values)
        slips.append(("bytes-for-entries", 2 * right))
    else:
        raise PlanError("this frame does not say how many entries it is about.")
    return Fact("How many", right, (*slips, *_copied_digits(right)))


def _value(frame: FrameRead) -> Fact:
    message = frame.message
    if isinstance(message, WriteCoil):
        words = ["off", "on"]
        slips = (("on-for-off", words[not message.on]),)
        return Fact("The coil goes", words[message.on], slips, words=words)
    if isinstance(message, WriteRegister):
        return number_fact("Value", message.value.to_bytes(2, "big"))
    if isinstance(message, RegistersReply | WriteRegisters) and len(message.values) == 1:
        return number_fact("Value", message.values[0].to_bytes(2, "big"))
    raise PlanError("this frame does not carry one value; ask a number from its bytes.")


def _error(frame: FrameRead) -> Fact:
    refused = frame.refused
    slips = (("function-for-code", refused.function),)
    return Fact("Exception code", refused.code, slips, digits=_BYTE)


def _reason(frame: FrameRead) -> Fact:
    refused = frame.refused
    said = {int(code): words for code, words in _REASONS.items()}.get(refused.code)
    if said is None:
        raise PlanError(f"exception code {refused.code:02X} has no words here.")
    return Fact("What the device says", said, words=REASON_WORDS)


def _crc(frame: FrameRead) -> Fact:
    sent = frame.data[-2:]
    slips = (("crc-order", int.from_bytes(sent, "big")),)
    return Fact("CRC as a number", int.from_bytes(sent, "little"), slips, digits=_CRC)


FACTS: Final[Mapping[str, Callable[[FrameRead], Fact]]] = {
    "address": _address,
    "function": _function,
    "asks": _asks,
    "direction": _direction,
    "start": _start,
    "number": _number,
    "count": _count,
    "value": _value,
    "error": _error,
    "reason": _reason,
    "crc": _crc,
}
"""What can be asked of a frame, by the name an author writes."""


def number_fact(label: str, data: bytes, *, signed: bool = False) -> Fact:
    """A whole number that stands in `data`, high byte first."""
    right = int.from_bytes(data, "big", signed=signed)
    slips: list[tuple[str, FrameValue]] = [("byte-order", _read(data, "little", signed))]
    if len(data) == 4:
        slips.append(("word-order", _read(data[2:] + data[:2], "big", signed)))
    if signed:
        slips.append(("sign-forgotten", int.from_bytes(data, "big")))
    digits = data.hex().lstrip("0")
    if digits.isdecimal():
        slips.append(("hex-as-decimal", int(digits)))
    return Fact(label, right, tuple(slips))


def _read(data: bytes, order: Literal["big", "little"], signed: bool) -> int:
    return int.from_bytes(data, order, signed=signed)


def _turned(number: int) -> int:
    """A number of two bytes read the other way round."""
    return int.from_bytes(number.to_bytes(2, "big"), "little")


def _words(function: Function) -> str:
    return function.name.lower().replace("_", " ")


def _copied_digits(right: int) -> list[tuple[str, int]]:
    digits = f"{right:x}"
    return [("hex-as-decimal", int(digits))] if digits.isdecimal() else []
