"""Frames, register numbers and 32-bit numbers as formulas ask for them.

Frames are lists of bytes from the address to the CRC; `hex_bytes(…)` shows one.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from types import MappingProxyType
from typing import Any, Final

from labkit.fieldbus.modbus.frame import Frame, crc_bytes
from labkit.fieldbus.modbus.functions import Function
from labkit.fieldbus.modbus.messages import (
    BitsReply,
    ExceptionReply,
    ReadRequest,
    RegistersReply,
    WriteCoil,
    WriteRegister,
    WriteRegisters,
)
from labkit.fieldbus.modbus.registers import Entry, Table
from labkit.fieldbus.modbus.values import NumberKind, WordOrder, from_registers, to_registers

_TABLES: Final = {table.entry: table for table in Table}
_NUMBERS: Final = {kind.name.lower(): kind for kind in NumberKind}
_ORDERS: Final = {order.name: order for order in WordOrder}


def crc_of(data: Sequence[int]) -> list[int]:
    """The two bytes of the CRC in the order of the line, low byte first."""
    return list(crc_bytes(bytes(data)))


def read_request(address: int, function: int, start: int, count: int) -> list[int]:
    """The frame that asks for `count` entries from protocol address `start` on."""
    request = ReadRequest(Function(function), start, count)
    return list(Frame.of_request(address, request).to_bytes())


def read_reply(address: int, function: int, values: Sequence[Any]) -> list[int]:
    """The frame that answers with these registers, or with these bits (true or false)."""
    asked = Function(function)
    if asked.table.of_bits:
        bits = BitsReply(asked, tuple(bool(value) for value in values))
        return list(Frame.of_reply(address, bits).to_bytes())
    registers = RegistersReply(asked, tuple(values))
    return list(Frame.of_reply(address, registers).to_bytes())


def refusal(address: int, function: int, code: int) -> list[int]:
    """The frame by which a device refuses a function, with an exception code."""
    return list(Frame.of_reply(address, ExceptionReply(function, code)).to_bytes())


def write_coil(address: int, at: int, on: bool) -> list[int]:
    """The frame that switches one coil, function 05; its reply is the same."""
    return list(Frame.of_request(address, WriteCoil(at, bool(on))).to_bytes())


def write_register(address: int, at: int, value: int) -> list[int]:
    """The frame that writes one register, function 06; its reply is the same."""
    return list(Frame.of_request(address, WriteRegister(at, value)).to_bytes())


def write_registers(address: int, start: int, values: Sequence[int]) -> list[int]:
    """The frame that writes several registers, function 16."""
    return list(Frame.of_request(address, WriteRegisters(start, tuple(values))).to_bytes())


def protocol_address(number: str | int) -> int:
    """The address in a frame of a number of five or six digits, such as 40108."""
    return Entry.from_text(str(number)).protocol_address


def document_number(table: str, address: int) -> str:
    """The number in documents of a protocol address of a table, such as "holding register"."""
    return Entry.at(_named(table, _TABLES, "table"), address).text


def registers_of(value: float, kind: str, order: str = "ABCD") -> list[int]:
    """The two registers of an "int32", "uint32" or "float32", in an order of their bytes."""
    named = _named(kind, _NUMBERS, "kind of number")
    return list(to_registers(value, named, _named(order, _ORDERS, "order")))


def number_in(registers: Sequence[int], kind: str, order: str = "ABCD") -> float:
    """The number that two registers hold."""
    named = _named(kind, _NUMBERS, "kind of number")
    return from_registers(registers, named, _named(order, _ORDERS, "order"))


def _named(word: str, known: Mapping[str, Any], what: str) -> Any:
    if word not in known:
        raise ValueError(f"no {what} is called {word!r}; known are {', '.join(known)}")
    return known[word]


MESSAGE_FUNCTIONS: Final[Mapping[str, Any]] = MappingProxyType(
    {
        "crc_of": crc_of,
        "document_number": document_number,
        "number_in": number_in,
        "protocol_address": protocol_address,
        "read_reply": read_reply,
        "read_request": read_request,
        "refusal": refusal,
        "registers_of": registers_of,
        "write_coil": write_coil,
        "write_register": write_register,
        "write_registers": write_registers,
    }
)
