"""What a device answers from its four tables (application protocol V1.1b3, sections 4.3, 6 and 7).

A request is looked at in the order of the protocol's own diagrams (from memory): function, numbers
and lengths, addresses; the first of them that does not fit is refused with its exception.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any, Final

from labkit.fieldbus.checked import flag, whole
from labkit.fieldbus.errors import PlanError
from labkit.fieldbus.modbus.addresses import BROADCAST, device_address
from labkit.fieldbus.modbus.frame import Frame
from labkit.fieldbus.modbus.functions import ExceptionCode, Function, RefusedRequestError
from labkit.fieldbus.modbus.messages import (
    BitsReply,
    ExceptionReply,
    ReadRequest,
    RegistersReply,
    Reply,
    Request,
    WriteCoil,
    WriteRegister,
    WrittenReply,
    decode_request,
)
from labkit.fieldbus.modbus.registers import HIGHEST_PROTOCOL_ADDRESS, Table

_FIELDS: Final = {
    Table.COILS: "coils",
    Table.DISCRETE_INPUTS: "discrete_inputs",
    Table.INPUT_REGISTERS: "input_registers",
    Table.HOLDING_REGISTERS: "holding_registers",
}


@dataclass(frozen=True)
class DeviceTables:
    """The entries that a device has, each table by protocol address, and the functions it knows.

    >>> meter = DeviceTables(holding_registers={107: 555, 108: 0, 109: 100})
    >>> reply, _ = meter.answer(bytes.fromhex("03 00 6B 00 03"))
    >>> reply.to_bytes().hex(" ")
    '03 06 02 2b 00 00 00 64'
    """

    coils: Mapping[int, bool] = field(default_factory=dict)
    discrete_inputs: Mapping[int, bool] = field(default_factory=dict)
    input_registers: Mapping[int, int] = field(default_factory=dict)
    holding_registers: Mapping[int, int] = field(default_factory=dict)
    functions: frozenset[Function] = frozenset(Function)

    def __post_init__(self) -> None:
        for table, name in _FIELDS.items():
            object.__setattr__(self, name, _checked(table, getattr(self, name)))
        object.__setattr__(self, "functions", frozenset(self.functions))

    def table(self, table: Table) -> Mapping[int, int]:
        """One of the four tables; a bit is True or False."""
        found: Mapping[int, int] = getattr(self, _FIELDS[table])
        return found

    def answer(self, message: bytes) -> tuple[Reply, "DeviceTables"]:
        """The reply to a message, function first, and the tables after it.

        Raises `PlanError` where nothing can be answered: no bytes, or function 0 or above 127.
        """
        try:
            return self._carry_out(decode_request(message))
        except RefusedRequestError as refused:
            return ExceptionReply(refused.function, refused.code), self

    def receive(self, address: int, frame: Frame) -> tuple[Frame | None, "DeviceTables"]:
        """What the device at `address` answers to a frame, and its tables afterwards.

        To another address it keeps still; what goes to all it carries out and keeps still.
        """
        if frame.address not in (device_address(address), BROADCAST):
            return None, self
        reply, after = self.answer(frame.message)
        return (None if frame.address == BROADCAST else Frame.of_reply(address, reply)), after

    def _carry_out(self, request: Request) -> tuple[Reply, "DeviceTables"]:
        function = request.function
        if function not in self.functions:
            sentence = f"The device does not have function {function:02X}."
            raise RefusedRequestError(sentence, function, ExceptionCode.ILLEGAL_FUNCTION)
        entries = self.table(function.table)
        wanted = _addresses(request)
        missing = [address for address in wanted if address not in entries]
        if missing:
            sentence = f"The device has no {function.table.entry} at address {missing[0]}."
            raise RefusedRequestError(sentence, function, ExceptionCode.ILLEGAL_DATA_ADDRESS)
        if isinstance(request, ReadRequest):
            return self._read(function, tuple(entries[address] for address in wanted)), self
        written = {**entries, **dict(zip(wanted, _values(request), strict=True))}
        changed: dict[str, Any] = {_FIELDS[function.table]: written}
        after = replace(self, **changed)
        if isinstance(request, WriteCoil | WriteRegister):
            return request, after
        return WrittenReply(function, request.start, len(request.values)), after

    def _read(self, function: Function, values: tuple[int, ...]) -> Reply:
        if function.table.of_bits:
            return BitsReply(function, tuple(bool(value) for value in values))
        return RegistersReply(function, values)


def _addresses(request: Request) -> range:
    if isinstance(request, WriteCoil | WriteRegister):
        return range(request.address, request.address + 1)
    count = request.count if isinstance(request, ReadRequest) else len(request.values)
    return range(request.start, request.start + count)


def _values(request: Request) -> tuple[int, ...]:
    assert not isinstance(request, ReadRequest)
    if isinstance(request, WriteCoil):
        return (request.on,)
    return (request.value,) if isinstance(request, WriteRegister) else request.values


def _checked(table: Table, entries: object) -> dict[int, int]:
    if not isinstance(entries, Mapping):
        raise PlanError(
            f"The {table.entry}s of a device must be given by protocol address, not {entries!r}."
        )
    for address, value in entries.items():
        whole(address, f"the address among the {table.entry}s", 0, HIGHEST_PROTOCOL_ADDRESS)
        what = f"the {table.entry} at {address}"
        if table.of_bits:
            flag(value, what)
        else:
            whole(value, what, 0, 0xFFFF, "a register holds 16 bits")
    return dict(entries)
