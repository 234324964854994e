"""What a device answers: its tables, the order of exceptions, and frames that are not for it."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from modbus_messages import REQUESTS

from labkit.fieldbus import PlanError
from labkit.fieldbus.modbus import (
    BitsReply,
    DeviceTables,
    ExceptionReply,
    Frame,
    Function,
    ReadRequest,
    RegistersReply,
    Request,
    WriteCoil,
    WriteCoils,
    WriteRegister,
    WriteRegisters,
    reply_problem,
)

DEVICE = DeviceTables(
    coils=dict.fromkeys(range(10), False),
    discrete_inputs={5: True, 6: False},
    input_registers={8: 10},
    holding_registers={107: 555, 108: 0, 109: 100},
    functions=frozenset(Function) - {Function.WRITE_MULTIPLE_COILS},
)


def answered(message: str, device: DeviceTables = DEVICE) -> str:
    return device.answer(bytes.fromhex(message))[0].to_bytes().hex(" ").upper()


@pytest.mark.parametrize(
    ("message", "reply"),
    [
        ("03 00 6B 00 03", "03 06 02 2B 00 00 00 64"),
        ("04 00 08 00 01", "04 02 00 0A"),
        ("02 00 05 00 02", "02 01 01"),
        ("01 00 00 00 0A", "01 02 00 00"),
        ("05 00 09 FF 00", "05 00 09 FF 00"),
        ("10 00 6B 00 02 04 00 01 00 02", "10 00 6B 00 02"),
        ("03 00 6B 00 04", "83 02"),  # one register too far
        ("04 00 6B 00 01", "84 02"),  # in the other table
        ("06 00 08 00 01", "86 02"),  # an input register cannot be written
        ("0F 00 00 00 02 01 03", "8F 01"),  # a function that it does not have
        ("0F 00 00 00 00 01 03", "8F 03"),
        ("07", "87 01"),
        ("03 FF FF 00 7E", "83 03"),  # the count is looked at before the addresses
        ("03 FF FF 00 02", "83 02"),
        ("05 00 09 12 34", "85 03"),
    ],
)
def test_replies(message: str, reply: str) -> None:
    assert answered(message) == reply


def test_what_was_written_is_read_afterwards_and_the_old_tables_stay() -> None:
    _, after = DEVICE.answer(WriteRegisters(107, (1, 2)).to_bytes())
    reply, same = after.answer(ReadRequest(Function.READ_HOLDING_REGISTERS, 107, 3).to_bytes())
    assert reply == RegistersReply(Function.READ_HOLDING_REGISTERS, (1, 2, 100))
    assert same is after
    assert DEVICE.holding_registers[107] == 555
    _, after = replace(DEVICE, functions=frozenset(Function)).answer(
        WriteCoils(8, (True, True)).to_bytes()
    )
    _, after = after.answer(WriteCoil(9, False).to_bytes())
    reply, _ = after.answer(ReadRequest(Function.READ_COILS, 8, 2).to_bytes())
    assert reply == BitsReply(Function.READ_COILS, (True, False))


def test_the_tables_are_the_devices_own() -> None:
    given_to_it = {1: 5}
    device = DeviceTables(holding_registers=given_to_it)
    given_to_it[1] = 6
    assert answered("03 00 01 00 01", device) == "03 02 00 05"


def test_only_the_device_meant_answers_and_nobody_a_broadcast() -> None:
    write = WriteRegister(107, 7)
    reply, after = DEVICE.receive(17, Frame.of_request(17, write))
    assert reply == Frame.of_reply(17, write)
    assert after.holding_registers[107] == 7
    assert DEVICE.receive(17, Frame.of_request(18, write)) == (None, DEVICE)
    reply, after = DEVICE.receive(17, Frame.of_request(0, write))
    assert reply is None
    assert after.holding_registers[107] == 7
    assert DEVICE.receive(17, Frame(0, bytes.fromhex("03 00 6B 00 03"))) == (None, DEVICE)
    reply, _ = DEVICE.receive(17, Frame(17, b"\x07"))
    assert reply == Frame.of_reply(17, ExceptionReply(7, 1))


@given(REQUESTS, st.integers(0, 3))
def test_every_reply_answers_its_request(request_: Request, room: int) -> None:
    count = len(request_.values) if isinstance(request_, WriteCoils | WriteRegisters) else 1
    start = getattr(request_, "start", getattr(request_, "address", 0))
    count = getattr(request_, "count", count)
    there = range(start, min(start + count + 1 - room, 0x10000))
    entries = dict.fromkeys(there, False if request_.function.table.of_bits else 0)
    device = DeviceTables(
        **{f"{request_.function.table.entry.replace(' ', '_')}s": entries}  # type: ignore[arg-type]
    )
    reply, _ = device.answer(request_.to_bytes())
    assert reply_problem(request_, reply) is None
    assert isinstance(reply, ExceptionReply) == (len(there) < count)


@given(st.binary(min_size=1, max_size=20))
def test_any_message_is_answered_or_refused_in_a_sentence(message: bytes) -> None:
    if 0 < message[0] < 128:
        assert DEVICE.answer(message)[0].function == message[0]
        return
    with pytest.raises(PlanError, match="function is"):
        DEVICE.answer(message)


def test_tables_that_cannot_be() -> None:
    with pytest.raises(PlanError, match="The coil at 3 is 1; write true or false"):
        DeviceTables(coils={3: 1})  # type: ignore[dict-item]
    with pytest.raises(PlanError, match="The holding register at 3 is 65536, outside"):
        DeviceTables(holding_registers={3: 65_536})
    with pytest.raises(PlanError, match="address among the input registers is -1"):
        DeviceTables(input_registers={-1: 0})
    with pytest.raises(PlanError, match="must be given by protocol address, not"):
        DeviceTables(holding_registers=[1, 2])  # type: ignore[arg-type]
    with pytest.raises(PlanError, match="248 to 255 are reserved"):
        DEVICE.receive(250, Frame(250, b"\x07"))
