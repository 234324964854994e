"""Modbus frames and 32-bit numbers against pymodbus and the specification's own examples.

pymodbus is asked for frames only: it knows no silences, gives the CRC with its bytes exchanged, and
lets 2000 coils be written at once where the application protocol has 1968 (from memory).
"""

import logging

import pytest
from hypothesis import given
from hypothesis import strategies as st
from modbus_messages import REPLIES, REQUESTS
from pymodbus.client.mixin import ModbusClientMixin
from pymodbus.framer import FramerRTU
from pymodbus.pdu import DecodePDU, ModbusPDU
from pymodbus.simulator import DataType, SimData, SimDevice
from pymodbus.simulator.simcore import SimCore

from labkit.fieldbus.check_sums import CHECK_SUMS
from labkit.fieldbus.modbus import (
    BitsReply,
    DeviceTables,
    ExceptionReply,
    Frame,
    Function,
    NumberKind,
    ReadRequest,
    RegistersReply,
    Reply,
    Request,
    WordOrder,
    WriteCoil,
    WriteCoils,
    WriteRegister,
    WriteRegisters,
    WrittenReply,
    crc_bytes,
    from_registers,
    to_registers,
)

logging.getLogger("pymodbus").setLevel(logging.CRITICAL)


def theirs(frame: bytes, *, request: bool) -> ModbusPDU:
    """What pymodbus makes of a frame: it must take all of it."""
    used, made = FramerRTU(DecodePDU(request)).handleFrame(frame, 0, 0)
    assert used == len(frame)
    assert made is not None
    return made


def facts(message: Request | Reply) -> tuple[object, ...]:
    """Function, address, count, bits, registers and code as pymodbus would hold them."""
    function = int(message.function)
    if isinstance(message, ReadRequest):
        return function, message.start, message.count, [], [], 0
    if isinstance(message, WriteCoil):
        return function, message.address, 0, [message.on], [], 0
    if isinstance(message, WriteRegister):
        return function, message.address, 0, [], [message.value], 0
    if isinstance(message, WriteCoils):
        return function, message.start, len(message.values), [*message.values], [], 0
    if isinstance(message, WriteRegisters):
        return function, message.start, len(message.values), [], [*message.values], 0
    if isinstance(message, WrittenReply):
        return function, message.start, message.count, [], [], 0
    if isinstance(message, BitsReply):
        return function, 0, 0, [*message.bits], [], 0
    if isinstance(message, RegistersReply):
        return function, 0, 0, [], [*message.values], 0
    return function | 0x80, 0, 0, [], [], message.code


def their_facts(made: ModbusPDU) -> tuple[object, ...]:
    single = made.function_code in (5, 6)
    return (
        made.function_code,
        made.address,
        0 if single else made.count,
        [*made.bits],
        [*made.registers],
        made.exception_code,
    )


@given(REQUESTS, st.integers(1, 247))
def test_requests(request_: Request, address: int) -> None:
    frame = Frame.of_request(address, request_).to_bytes()
    made = theirs(frame, request=True)
    assert made.dev_id == address
    assert their_facts(made) == facts(request_)
    assert FramerRTU(DecodePDU(True)).buildFrame(made) == frame


@given(REPLIES, st.integers(1, 247))
def test_replies(reply: Reply, address: int) -> None:
    frame = Frame.of_reply(address, reply).to_bytes()
    made = theirs(frame, request=False)
    assert made.dev_id == address
    assert their_facts(made) == facts(reply)
    assert FramerRTU(DecodePDU(False)).buildFrame(made) == frame


@given(st.binary(max_size=254))
def test_check_sums(data: bytes) -> None:
    assert crc_bytes(data) == FramerRTU.compute_CRC(data).to_bytes(2, "big")


@pytest.mark.parametrize(
    ("kind", "name", "values"),
    [
        (NumberKind.INT32, "INT32", st.integers(-(2**31), 2**31 - 1)),
        (NumberKind.UINT32, "UINT32", st.integers(0, 2**32 - 1)),
        (NumberKind.FLOAT32, "FLOAT32", st.floats(width=32, allow_nan=False)),
    ],
)
@pytest.mark.parametrize(
    ("order", "word_order"), [(WordOrder.ABCD, "big"), (WordOrder.CDAB, "little")]
)
def test_numbers_over_two_registers(
    kind: NumberKind,
    name: str,
    values: st.SearchStrategy[float],
    order: WordOrder,
    word_order: str,
) -> None:
    @given(values)
    def compare(value: float) -> None:
        data_type = ModbusClientMixin.DATATYPE[name]
        registers = ModbusClientMixin.convert_to_registers(
            value,
            data_type,
            word_order=word_order,  # type: ignore[arg-type]
        )
        assert to_registers(value, kind, order) == tuple(registers)
        assert from_registers(registers, kind, order) == value

    compare()


@pytest.mark.parametrize(
    ("data", "crc"),
    [
        ("02 07", "41 12"),  # V1.02, appendix B
        ("11 03 00 6B 00 03", "76 87"),
        ("11 83 02", "C1 34"),
        (b"123456789".hex(), "37 4B"),  # catalogue: 0x4B37
    ],
)
def test_published_check_sums(data: str, crc: str) -> None:
    assert crc_bytes(bytes.fromhex(data)) == bytes.fromhex(crc)
    assert CHECK_SUMS["CRC-16/MODBUS"].of_bytes(bytes.fromhex(data)) == int.from_bytes(
        bytes.fromhex(crc), "little"
    )


@pytest.mark.parametrize(
    ("message", "published"),
    [
        (ReadRequest(Function.READ_COILS, 19, 19), "01 00 13 00 13"),
        (ReadRequest(Function.READ_DISCRETE_INPUTS, 196, 22), "02 00 C4 00 16"),
        (ReadRequest(Function.READ_HOLDING_REGISTERS, 107, 3), "03 00 6B 00 03"),
        (ReadRequest(Function.READ_INPUT_REGISTERS, 8, 1), "04 00 08 00 01"),
        (WriteCoil(172, True), "05 00 AC FF 00"),
        (WriteRegister(1, 3), "06 00 01 00 03"),
        (
            WriteCoils(19, tuple(bit == "1" for bit in "1011001110")),
            "0F 00 13 00 0A 02 CD 01",
        ),
        (WriteRegisters(1, (10, 258)), "10 00 01 00 02 04 00 0A 01 02"),
        (RegistersReply(Function.READ_HOLDING_REGISTERS, (555, 0, 100)), "03 06 02 2B 00 00 00 64"),
        (RegistersReply(Function.READ_INPUT_REGISTERS, (10,)), "04 02 00 0A"),
        (
            BitsReply(Function.READ_COILS, tuple(bit == "1" for bit in "1011001111010110101")),
            "01 03 CD 6B 05",
        ),
        (WrittenReply(Function.WRITE_MULTIPLE_COILS, 19, 10), "0F 00 13 00 0A"),
        (WrittenReply(Function.WRITE_MULTIPLE_REGISTERS, 1, 2), "10 00 01 00 02"),
        (ExceptionReply(1, 2), "81 02"),
    ],
)
def test_examples_of_the_application_protocol(message: Request | Reply, published: str) -> None:
    """The examples of V1.1b3, sections 6 and 7, from memory."""
    assert message.to_bytes() == bytes.fromhex(published)


def their_reply(message: bytes, holding: list[int], inputs: list[int]) -> bytes:
    """What a pymodbus server with these registers from address 0 on answers to a message."""
    device = SimDevice(
        1,
        simdata=(
            [SimData(0, values=[False] * 16, datatype=DataType.BITS)],
            [SimData(0, values=[False] * 16, datatype=DataType.BITS)],
            [SimData(0, values=[*holding], datatype=DataType.REGISTERS)],
            [SimData(0, values=[*inputs], datatype=DataType.REGISTERS)],
        ),
    )
    pdu = DecodePDU(True).decode(message)
    assert pdu is not None
    # Nothing in it waits: one step runs it to its end.
    running = pdu.datastore_update(SimCore(device), 1)  # type: ignore[arg-type]
    try:
        running.send(None)
    except StopIteration as done:
        made: ModbusPDU = done.value
        return bytes([made.function_code]) + made.encode()
    raise AssertionError("pymodbus waits for something")


REGISTERS = st.lists(st.integers(0, 0xFFFF), min_size=1, max_size=8)


@given(REGISTERS, REGISTERS, st.integers(0, 9), st.integers(1, 5), st.data())
def test_what_a_device_answers_about_registers(
    holding: list[int], inputs: list[int], start: int, count: int, data: st.DataObject
) -> None:
    values = tuple(data.draw(st.lists(st.integers(0, 0xFFFF), min_size=count, max_size=count)))
    ours = DeviceTables(
        holding_registers=dict(enumerate(holding)), input_registers=dict(enumerate(inputs))
    )
    requests: tuple[Request, ...] = (
        ReadRequest(Function.READ_HOLDING_REGISTERS, start, count),
        ReadRequest(Function.READ_INPUT_REGISTERS, start, count),
        WriteRegister(start, values[0]),
        WriteRegisters(start, values),
    )
    for request_ in requests:
        message = request_.to_bytes()
        assert ours.answer(message)[0].to_bytes() == their_reply(message, holding, inputs)
