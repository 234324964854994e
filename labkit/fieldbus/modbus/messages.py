"""Requests and replies, without address and CRC: to bytes and back.

Byte layouts: application protocol V1.1b3, sections 6.1 to 6.6, 6.11, 6.12 and 7. Function first;
numbers of two bytes go high byte first; bits fill a byte from its least significant place on.
All addresses are protocol addresses, from 0 (`registers` has the numbers of documents).
"""

import struct
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final, NoReturn

from labkit.fieldbus.checked import byte_string, flag, whole
from labkit.fieldbus.errors import PlanError
from labkit.fieldbus.modbus.functions import (
    EXCEPTION_BIT,
    ExceptionCode,
    Function,
    RefusedRequestError,
)
from labkit.fieldbus.modbus.registers import HIGHEST_PROTOCOL_ADDRESS

MOST_MESSAGE_BYTES: Final = 253
"""Function and data: the 256 bytes of a frame without address and CRC (V1.02, 2.5.1)."""
ON: Final = 0xFF00
"""What switches a coil on in function 05; 0x0000 switches it off (V1.1b3, 6.5, from memory)."""
_WORD: Final = 0xFFFF


@dataclass(frozen=True, slots=True)
class ReadRequest:
    """Read `count` entries from `start` on, by one of the functions 01 to 04.

    >>> ReadRequest(Function.READ_HOLDING_REGISTERS, 107, 3).to_bytes().hex(" ")
    '03 00 6b 00 03'
    """

    function: Function
    start: int
    count: int

    def __post_init__(self) -> None:
        if not isinstance(self.function, Function) or not self.function.reads:
            raise PlanError(f"The function {self.function!r} does not read; give one of 01 to 04.")
        _check_span(self.function, self.start, self.count)

    def to_bytes(self) -> bytes:
        """The five bytes of the request."""
        return struct.pack(">BHH", self.function, self.start, self.count)

    @property
    def reply_bytes(self) -> int:
        """Bytes of the reply that carries the data."""
        return 2 + (_bytes_of(self.count) if self.function.table.of_bits else 2 * self.count)


@dataclass(frozen=True, slots=True)
class WriteCoil:
    """Switch one coil, function 05; the reply repeats the request."""

    address: int
    on: bool

    def __post_init__(self) -> None:
        _check_address(self.address)
        flag(self.on, "the state of the coil")

    @property
    def function(self) -> Function:
        """Function 05."""
        return Function.WRITE_SINGLE_COIL

    def to_bytes(self) -> bytes:
        """The five bytes of the request, and of its reply."""
        return struct.pack(">BHH", self.function, self.address, ON if self.on else 0)

    @property
    def reply_bytes(self) -> int:
        """Bytes of the reply."""
        return 5


@dataclass(frozen=True, slots=True)
class WriteRegister:
    """Write one holding register, function 06; the reply repeats the request."""

    address: int
    value: int

    def __post_init__(self) -> None:
        _check_address(self.address)
        _check_word(self.value)

    @property
    def function(self) -> Function:
        """Function 06."""
        return Function.WRITE_SINGLE_REGISTER

    def to_bytes(self) -> bytes:
        """The five bytes of the request, and of its reply."""
        return struct.pack(">BHH", self.function, self.address, self.value)

    @property
    def reply_bytes(self) -> int:
        """Bytes of the reply."""
        return 5


@dataclass(frozen=True, slots=True)
class WriteCoils:
    """Switch several coils from `start` on, function 15."""

    start: int
    values: tuple[bool, ...]

    def __post_init__(self) -> None:
        object.__setattr__(self, "values", _bits(self.values))
        _check_span(self.function, self.start, len(self.values))

    @property
    def function(self) -> Function:
        """Function 15."""
        return Function.WRITE_MULTIPLE_COILS

    def to_bytes(self) -> bytes:
        """The bytes of the request: start, count, number of bytes, coils."""
        data = _packed(self.values)
        head = struct.pack(">BHHB", self.function, self.start, len(self.values), len(data))
        return head + data

    @property
    def reply_bytes(self) -> int:
        """Bytes of the reply."""
        return 5


@dataclass(frozen=True, slots=True)
class WriteRegisters:
    """Write several holding registers from `start` on, function 16."""

    start: int
    values: tuple[int, ...]

    def __post_init__(self) -> None:
        object.__setattr__(self, "values", _words(self.values))
        _check_span(self.function, self.start, len(self.values))

    @property
    def function(self) -> Function:
        """Function 16."""
        return Function.WRITE_MULTIPLE_REGISTERS

    def to_bytes(self) -> bytes:
        """The bytes of the request: start, count, number of bytes, registers."""
        count = len(self.values)
        return struct.pack(
            f">BHHB{count}H", self.function, self.start, count, 2 * count, *self.values
        )

    @property
    def reply_bytes(self) -> int:
        """Bytes of the reply."""
        return 5


@dataclass(frozen=True, slots=True)
class BitsReply:
    """The bits that function 01 or 02 read; they fill whole bytes, so off ones are added."""

    function: Function
    bits: tuple[bool, ...]

    def __post_init__(self) -> None:
        if self.function not in (Function.READ_COILS, Function.READ_DISCRETE_INPUTS):
            raise PlanError(f"The function {self.function!r} reads no bits; give 01 or 02.")
        bits = _bits(self.bits)
        _check_length(len(bits), self.function)
        object.__setattr__(self, "bits", bits + (False,) * (-len(bits) % 8))

    def to_bytes(self) -> bytes:
        """The bytes of the reply: function, number of bytes, bits."""
        data = _packed(self.bits)
        return bytes([self.function, len(data)]) + data


@dataclass(frozen=True, slots=True)
class RegistersReply:
    """The registers that function 03 or 04 read."""

    function: Function
    values: tuple[int, ...]

    def __post_init__(self) -> None:
        if self.function not in (
            Function.READ_HOLDING_REGISTERS,
            Function.READ_INPUT_REGISTERS,
        ):
            raise PlanError(f"The function {self.function!r} reads no registers; give 03 or 04.")
        values = _words(self.values)
        _check_length(len(values), self.function)
        object.__setattr__(self, "values", values)

    def to_bytes(self) -> bytes:
        """The bytes of the reply: function, number of bytes, registers."""
        count = len(self.values)
        return struct.pack(f">BB{count}H", self.function, 2 * count, *self.values)


@dataclass(frozen=True, slots=True)
class WrittenReply:
    """The device wrote `count` entries from `start` on, by function 15 or 16."""

    function: Function
    start: int
    count: int

    def __post_init__(self) -> None:
        if self.function not in (
            Function.WRITE_MULTIPLE_COILS,
            Function.WRITE_MULTIPLE_REGISTERS,
        ):
            raise PlanError(f"The function {self.function!r} writes no several; give 15 or 16.")
        _check_address(self.start)
        _check_length(whole(self.count, "the number of entries", 0, _WORD), self.function)

    def to_bytes(self) -> bytes:
        """The five bytes of the reply."""
        return struct.pack(">BHH", self.function, self.start, self.count)


@dataclass(frozen=True, slots=True)
class ExceptionReply:
    """The device refuses `function` (1 to 127) with a `code`; 1 to 4 are `ExceptionCode`s."""

    function: int
    code: int

    def __post_init__(self) -> None:
        whole(self.function, "the function", 1, EXCEPTION_BIT - 1)
        whole(self.code, "the exception code", 1, 255)

    @property
    def meaning(self) -> str:
        """What the code says, in words."""
        try:
            return ExceptionCode(self.code).meaning
        except ValueError:
            return f"code {self.code:02X}, none of 01 to 04; look it up in the device's manual"

    def to_bytes(self) -> bytes:
        """The two bytes of the reply."""
        return bytes([self.function | EXCEPTION_BIT, self.code])


Request = ReadRequest | WriteCoil | WriteRegister | WriteCoils | WriteRegisters
"""What a master asks."""
Reply = BitsReply | RegistersReply | WriteCoil | WriteRegister | WrittenReply | ExceptionReply
"""What a device answers."""


def decode_request(message: bytes) -> Request:
    """Read the bytes of a request, function first.

    Raises `RefusedRequestError`, which knows the exception a device answers with, where a device
    would refuse it, and `PlanError` for no bytes or too many.
    """
    message = byte_string(message, "a request", MOST_MESSAGE_BYTES, 1)
    try:
        function = Function(message[0])
    except ValueError:
        sentence = f"Function {message[0]:02X} is not known here; known are 01 to 06, 0F and 10."
        code = ExceptionCode.ILLEGAL_FUNCTION
        raise RefusedRequestError(sentence, message[0], code) from None
    if function is Function.WRITE_MULTIPLE_COILS or function is Function.WRITE_MULTIPLE_REGISTERS:
        return _decode_write(function, message)
    if len(message) != 5:
        _refuse_value(function, f"A request has 5 bytes, this one {len(message)}: check its length")
    first, second = struct.unpack(">HH", message[1:])
    if function.reads:
        return ReadRequest(function, first, second)
    return _single(function, first, second)


def decode_reply(message: bytes) -> Reply:
    """Read the bytes of a reply, function first; raises `PlanError` that says what is wrong."""
    message = byte_string(message, "a reply", MOST_MESSAGE_BYTES, 1)
    if message[0] & EXCEPTION_BIT:
        return _decode_exception(message)
    try:
        function = Function(message[0])
    except ValueError:
        raise PlanError(
            f"Function {message[0]:02X} is not known here; known are 01 to 06, 0F and 10."
        ) from None
    if function.reads:
        return _decode_data(function, message)
    if len(message) != 5:
        raise PlanError(f"This reply has 5 bytes, here are {len(message)}: check its length.")
    first, second = struct.unpack(">HH", message[1:])
    if function is Function.WRITE_MULTIPLE_COILS or function is Function.WRITE_MULTIPLE_REGISTERS:
        return WrittenReply(function, first, second)
    return _single(function, first, second)


def reply_problem(request: Request, reply: Reply) -> str | None:
    """Why a reply does not answer a request, in a sentence; None where it does.

    A reply that refuses the request's function does answer it.
    """
    if reply.function != request.function:
        return (
            f"The request is function {request.function:02X}, the reply {reply.function:02X}: "
            "it answers another request."
        )
    if isinstance(reply, ExceptionReply):
        return None
    if isinstance(reply, BitsReply | RegistersReply):
        came, wanted = len(reply.to_bytes()), request.reply_bytes
        return None if came == wanted else f"The reply has {came} bytes where {wanted} belong."
    if isinstance(reply, WrittenReply):
        assert isinstance(request, WriteCoils | WriteRegisters)
        same = (reply.start, reply.count) == (request.start, len(request.values))
        return None if same else "The reply names another start or count than the request."
    return None if reply == request else "The reply does not repeat the request."


def _decode_write(function: Function, message: bytes) -> Request:
    if len(message) < 7:
        _refuse_value(
            function,
            f"A request to write several has 7 bytes or more, this one "
            f"{len(message)}: check its length",
        )
    start, count, length = struct.unpack(">HHB", message[1:6])
    data = message[6:]
    of_bits = function is Function.WRITE_MULTIPLE_COILS
    if len(data) != length or length != (_bytes_of(count) if of_bits else 2 * count):
        _refuse_value(
            function,
            f"The request is to write {count} entries and says {length} bytes, {len(data)} "
            "follow: the three must fit",
        )
    if of_bits:
        return WriteCoils(start, _unpacked(data)[:count])
    return WriteRegisters(start, struct.unpack(f">{count}H", data))


def _decode_exception(message: bytes) -> ExceptionReply:
    if len(message) != 2:
        raise PlanError(f"An exception has 2 bytes, here are {len(message)}: check its length.")
    return ExceptionReply(message[0] & ~EXCEPTION_BIT, message[1])


def _decode_data(function: Function, message: bytes) -> BitsReply | RegistersReply:
    data = message[2:]
    if len(message) < 2 or message[1] != len(data):
        raise PlanError(
            f"The reply says {message[1] if len(message) > 1 else 'no'} bytes of data, "
            f"{len(data)} follow: check its length."
        )
    if function.table.of_bits:
        return BitsReply(function, _unpacked(data))
    if len(data) % 2:
        raise PlanError(
            f"The reply has {len(data)} bytes of data, which are no whole registers of 2 bytes: "
            "check its length."
        )
    return RegistersReply(function, struct.unpack(f">{len(data) // 2}H", data))


def _single(function: Function, address: int, value: int) -> WriteCoil | WriteRegister:
    if function is Function.WRITE_SINGLE_REGISTER:
        return WriteRegister(address, value)
    if value not in (0, ON):
        _refuse_value(function, f"A coil is switched by FF 00 or 00 00, not by {value:04X}")
    return WriteCoil(address, value == ON)


def _check_span(function: Function, start: int, count: int) -> None:
    """Raise unless a request may name `count` entries from `start` on."""
    _check_address(start)
    whole(count, "the number of entries", 0, _WORD)
    if not 1 <= count <= function.most:
        _refuse_value(
            function,
            f"The request names {count} {function.table.entry}s; function {function:02X} takes "
            f"1 to {function.most}: divide it into several requests",
        )
    if start + count > HIGHEST_PROTOCOL_ADDRESS + 1:
        raise RefusedRequestError(
            f"The request names {count} {function.table.entry}s from address {start} on, which go "
            f"beyond {HIGHEST_PROTOCOL_ADDRESS}: begin lower or take fewer.",
            function,
            ExceptionCode.ILLEGAL_DATA_ADDRESS,
        )


def _refuse_value(function: Function, sentence: str) -> NoReturn:
    raise RefusedRequestError(f"{sentence}.", function, ExceptionCode.ILLEGAL_DATA_VALUE)


def _check_address(address: int) -> None:
    whole(address, "the protocol address", 0, HIGHEST_PROTOCOL_ADDRESS, "two bytes carry it")


def _check_word(value: int) -> None:
    whole(value, "the value of a register", 0, _WORD, "a register holds 16 bits")


def _check_length(count: int, function: Function) -> None:
    if not 1 <= count <= function.most:
        raise PlanError(
            f"The reply is about {count} {function.table.entry}s; 1 to {function.most} are "
            f"possible with function {function:02X}."
        )


def _bits(values: object) -> tuple[bool, ...]:
    if isinstance(values, str | bytes) or not isinstance(values, Iterable):
        raise PlanError(f"The bits must be a list of true and false, not {values!r}.")
    return tuple(flag(value, f"bit {at}") for at, value in enumerate(values))


def _words(values: object) -> tuple[int, ...]:
    if isinstance(values, str | bytes) or not isinstance(values, Iterable):
        raise PlanError(f"The registers must be a list of whole numbers, not {values!r}.")
    words = tuple(values)
    for value in words:
        _check_word(value)
    return words


def _bytes_of(bits: int) -> int:
    return -(-bits // 8)


def _packed(bits: tuple[bool, ...]) -> bytes:
    number = sum(bit << place for place, bit in enumerate(bits))
    return number.to_bytes(_bytes_of(len(bits)), "little")


def _unpacked(data: bytes) -> tuple[bool, ...]:
    return tuple(bool(byte >> place & 1) for byte in data for place in range(8))
