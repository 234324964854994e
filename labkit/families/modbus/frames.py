"""Modbus frames in words."""

from __future__ import annotations

from collections.abc import Sequence

from labkit.fieldbus.errors import PlanError
from labkit.fieldbus.modbus.addresses import AddressUse
from labkit.fieldbus.modbus.frame import Frame
from labkit.fieldbus.modbus.functions import Function
from labkit.fieldbus.modbus.messages import (
    BitsReply,
    ExceptionReply,
    ReadRequest,
    RegistersReply,
    Reply,
    Request,
    WriteCoil,
    WriteCoils,
    WriteRegister,
    WrittenReply,
    decode_reply,
    decode_request,
)
from labkit.fieldbus.modbus.registers import Entry

_ROOM = 26
"""Bytes that a trainee's line has room for."""


class ModbusFrames:
    """See `labkit.doors.frames.FamilyFrames`: a frame is its bytes, from the address to the CRC."""

    identifier_bits = 0
    most_bytes = _ROOM

    def identifier_in_words(self, identifier: int) -> str:
        """Frames have none. Raises `PlanError`."""
        raise PlanError(f"a Modbus frame has no identifier, so {identifier} is none")

    def in_words(self, frames: Sequence[tuple[int, bytes]]) -> list[str]:
        """The sentences of the frames, without full stops."""
        told = []
        asked: Frame | None = None
        for _, data in frames:
            try:
                frame = Frame.from_bytes(data)
            except PlanError as error:
                told.append(f"nothing that a device takes: {_lower(str(error))}")
                continue
            answers = asked is not None and _answers(frame, asked)
            told.append(_told(frame, answers))
            asked = None if answers else frame
        return told


def looks_like_reply(message: bytes) -> bool:
    """Whether a message, function first, is a reply by its own length.

    Writes of one entry read alike both ways: they are taken for requests.
    """
    if message[0] & 0x80:
        return True
    if message[0] in (Function.WRITE_MULTIPLE_COILS, Function.WRITE_MULTIPLE_REGISTERS):
        return len(message) == 5
    reads = message[0] <= Function.READ_INPUT_REGISTERS
    return reads and len(message) > 1 and message[1] == len(message) - 2 and len(message) != 5


def _answers(frame: Frame, asked: Frame) -> bool:
    if frame.address != asked.address or frame.message[0] & 0x7F != asked.message[0]:
        return False
    try:
        decode_reply(frame.message)
    except PlanError:
        return False
    return True


def _told(frame: Frame, answers: bool) -> str:
    whom = f"device {frame.address}"
    if frame.use is AddressUse.BROADCAST:
        whom = "all devices"
    if frame.use is AddressUse.RESERVED:
        return f"nothing to anybody: {frame.address} is reserved, devices have 1 to 247"
    try:
        if answers or looks_like_reply(frame.message):
            return f"{whom} answers: {_reply(decode_reply(frame.message))}"
        return f"{whom} is to {_request(decode_request(frame.message))}"
    except PlanError as error:
        return f"nothing that {whom} carries out: {_lower(str(error))}"


def _request(request: Request) -> str:
    if isinstance(request, ReadRequest):
        return f"read {_span(request.function, request.start, request.count)}"
    if isinstance(request, WriteCoil):
        return f"switch {_entry(request.function, request.address)} {_on(request.on)}"
    if isinstance(request, WriteRegister):
        return f"write {request.value} into {_entry(request.function, request.address)}"
    span = _span(request.function, request.start, len(request.values))
    if isinstance(request, WriteCoils):
        return f"switch {span}: {', '.join(map(_on, request.values))}"
    return f"write {', '.join(map(str, request.values))} into {span}"


def _reply(reply: Reply) -> str:
    if isinstance(reply, ExceptionReply):
        return f"no to function {reply.function:02X}, {reply.meaning}"
    if isinstance(reply, RegistersReply):
        return f"registers {', '.join(map(str, reply.values))}"
    if isinstance(reply, BitsReply):
        return f"bits {', '.join(map(_on, reply.bits))}"
    if isinstance(reply, WrittenReply):
        return f"{_span(reply.function, reply.start, reply.count)} written"
    if isinstance(reply, WriteCoil):
        return f"{_entry(reply.function, reply.address)} switched {_on(reply.on)}"
    return f"{reply.value} written into {_entry(reply.function, reply.address)}"


def _span(function: Function, start: int, count: int) -> str:
    many = f"{count} {function.table.entry}{'s' * (count != 1)}"
    return f"{many} from address {start} on ({Entry.at(function.table, start).text} in documents)"


def _entry(function: Function, address: int) -> str:
    number = Entry.at(function.table, address).text
    return f"{function.table.entry} {address} ({number} in documents)"


def _on(on: bool) -> str:
    return "on" if on else "off"


def _lower(sentence: str) -> str:
    return sentence[:1].lower() + sentence[1:].rstrip(".")
