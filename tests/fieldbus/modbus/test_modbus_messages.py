"""Requests, replies and frames: there and back, limits, and any bytes whatever."""

import re
from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st
from modbus_messages import REPLIES, REQUESTS

from labkit.fieldbus import PlanError
from labkit.fieldbus.modbus import (
    AddressUse,
    BitsReply,
    ExceptionCode,
    ExceptionReply,
    Frame,
    Function,
    ReadRequest,
    RefusedRequestError,
    RegistersReply,
    Reply,
    Request,
    WriteCoil,
    WriteCoils,
    WriteRegister,
    WriteRegisters,
    WrittenReply,
    address_use,
    check_addresses,
    complete_addresses,
    crc_bytes,
    decode_reply,
    decode_request,
    device_address,
    reply_problem,
)
from labkit.fieldbus.serial import CharacterFormat

READ = ReadRequest(Function.READ_HOLDING_REGISTERS, 107, 3)


@given(REQUESTS)
def test_requests_there_and_back(request_: Request) -> None:
    assert decode_request(request_.to_bytes()) == request_
    frame = Frame.of_request(17, request_)
    assert Frame.from_bytes(frame.to_bytes()) == frame
    assert frame.request == request_
    assert len(frame.to_bytes()) <= 256


@given(REPLIES)
def test_replies_there_and_back(reply: Reply) -> None:
    assert decode_reply(reply.to_bytes()) == reply
    frame = Frame.of_reply(17, reply)
    assert Frame.from_bytes(frame.to_bytes()).reply == reply
    assert len(frame.to_bytes()) <= 256


def refusal(read: Callable[[bytes], object], data: bytes) -> str:
    """The sentence by which bytes are refused; "" where they are read."""
    try:
        read(data)
    except PlanError as error:
        return str(error)
    return ""


@given(st.one_of(st.binary(max_size=300), st.binary(max_size=12)), st.integers(1, 16))
def test_any_bytes_give_a_message_or_a_sentence(data: bytes, function: int) -> None:
    like_a_message = bytes([function]) + data
    like_a_frame = like_a_message + crc_bytes(like_a_message)
    for read in (decode_request, decode_reply, Frame.from_bytes):
        for each in (data, like_a_message, like_a_frame):
            assert re.fullmatch(r"([A-Z].*\.)?", refusal(read, each))


@given(REQUESTS, st.data())
def test_every_turned_bit_is_noticed(request_: Request, data: st.DataObject) -> None:
    sent = bytearray(Frame.of_request(1, request_).to_bytes())
    sent[data.draw(st.integers(0, len(sent) - 1))] ^= 1 << data.draw(st.integers(0, 7))
    with pytest.raises(PlanError, match="The CRC of the frame is"):
        Frame.from_bytes(bytes(sent))


@pytest.mark.parametrize(
    ("message", "code", "words"),
    [
        ("07", 1, "Function 07 is not known"),
        ("2B 0E 01 00", 1, "Function 2B is not known"),
        ("03 00 00 00 00", 3, "names 0 holding registers; function 03 takes 1 to 125"),
        ("03 00 00 00 7E", 3, "names 126 holding registers; function 03 takes 1 to 125"),
        ("01 00 00 07 D1", 3, "names 2001 coils; function 01 takes 1 to 2000"),
        ("04 FF FF 00 02", 2, "2 input registers from address 65535 on, which go beyond 65535"),
        ("03 00 00 00", 3, "A request has 5 bytes, this one 4"),
        ("05 00 00 00 01", 3, "A coil is switched by FF 00 or 00 00, not by 0001"),
        ("10 00 00 00 01 02 00", 3, "write 1 entries and says 2 bytes, 1 follow"),
        ("10 00 00 00 02 02 00 00", 3, "write 2 entries and says 2 bytes, 2 follow"),
        ("10 00 00 00", 3, "7 bytes or more, this one 4"),
        ("0F 00 00 00 00 00 00", 3, "write 0 entries and says 0 bytes, 1 follow"),
        ("0F FF FF 00 02 01 03", 2, "2 coils from address 65535 on, which go beyond 65535"),
    ],
)
def test_what_a_device_refuses_and_with_which_exception(
    message: str, code: int, words: str
) -> None:
    with pytest.raises(RefusedRequestError, match=words) as refused:
        decode_request(bytes.fromhex(message))
    assert refused.value.code is ExceptionCode(code)
    assert refused.value.function == bytes.fromhex(message)[0]


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: WriteRegisters(0, (0,) * 124), "names 124 holding registers; function 10 takes"),
        (lambda: WriteCoils(0, (True,) * 1969), "names 1969 coils; function 0F takes 1 to 1968"),
        (lambda: WriteCoils(0, ()), "names 0 coils"),
        (lambda: WriteCoils(0, (1,)), "Bit 0 is 1; write true or false"),  # type: ignore[arg-type]
        (lambda: WriteCoils(0, "on"), "must be a list of true and false, not 'on'"),  # type: ignore[arg-type]
        (lambda: WriteRegisters(0, 5), "must be a list of whole numbers, not 5"),  # type: ignore[arg-type]
        (lambda: WriteRegister(0, 65_536), "register is 65536, outside 0 to 65535"),
        (lambda: WriteRegister(-1, 0), "protocol address is -1, outside 0 to 65535"),
        (lambda: WriteCoil(0, 1), "The state of the coil is 1; write true or false"),  # type: ignore[arg-type]
        (lambda: ReadRequest(Function.WRITE_SINGLE_COIL, 0, 1), "does not read"),
        (lambda: ReadRequest(3, 0, 1), "does not read"),  # type: ignore[arg-type]
        (lambda: BitsReply(Function.READ_HOLDING_REGISTERS, (True,)), "reads no bits"),
        (lambda: BitsReply(Function.READ_COILS, (True,) * 2001), "1 to 2000 are possible"),
        (lambda: RegistersReply(Function.READ_COILS, (1,)), "reads no registers"),
        (lambda: RegistersReply(Function.READ_INPUT_REGISTERS, (1,) * 126), "1 to 125 are"),
        (lambda: WrittenReply(Function.READ_COILS, 0, 1), "give 15 or 16"),
        (lambda: WrittenReply(Function.WRITE_MULTIPLE_COILS, 0, 0), "1 to 1968 are possible"),
        (lambda: ExceptionReply(128, 1), "function is 128, outside 1 to 127"),
        (lambda: ExceptionReply(3, 0), "exception code is 0, outside 1 to 255"),
        (lambda: Frame(256, b"\x03"), "address is 256, outside 0 to 255"),
        (lambda: Frame(1, b""), "holds 0 bytes where 1 to 253 belong"),
        (lambda: Frame.of_request(0, READ), "nothing can be read by it"),
        (lambda: Frame.of_request(248, READ), "248 to 255 are reserved"),
        (lambda: Frame.of_request(False, READ), "which is no whole number"),
        (lambda: Frame.of_reply(0, RegistersReply(READ.function, (1,))), "outside 1 to 247"),
        (lambda: decode_reply(b"\x83"), "An exception has 2 bytes, here are 1"),
        (lambda: decode_reply(b"\x07\x00"), "Function 07 is not known"),
        (lambda: decode_reply(b"\x03"), "says no bytes of data, 0 follow"),
        (lambda: decode_reply(b"\x03\x04\x00\x01"), "says 4 bytes of data, 2 follow"),
        (
            lambda: decode_reply(b"\x03\x03\x00\x01\x02"),
            "has 3 bytes of data, which are no whole registers",
        ),
        (lambda: decode_reply(b"\x03\x00"), "is about 0 holding registers"),
        (lambda: decode_reply(b"\x10\x00\x01\x00"), "This reply has 5 bytes, here are 4"),
        (lambda: decode_request(b""), "A request holds 0 bytes"),
    ],
)
def test_what_cannot_exist(make: object, words: str) -> None:
    assert callable(make)
    with pytest.raises(PlanError, match=words):
        make()


def test_a_crc_with_its_bytes_exchanged_is_told() -> None:
    with pytest.raises(PlanError, match="is 87 76 where 76 87 belongs: its two bytes stand in"):
        Frame.from_bytes(bytes.fromhex("11 03 00 6B 00 03 87 76"))
    with pytest.raises(PlanError, match="a bit was turned, or bytes are missing"):
        Frame.from_bytes(bytes.fromhex("11 03 00 6B 00 03 76 86"))


def test_codes_have_meanings() -> None:
    assert ExceptionReply(3, 2).meaning == "the device does not have all of these addresses"
    assert "look it up" in ExceptionReply(3, 6).meaning
    assert len({code.meaning for code in ExceptionCode}) == 4


@pytest.mark.parametrize(
    ("request_", "reply", "problem"),
    [
        (READ, RegistersReply(READ.function, (1, 2, 3)), None),
        (READ, RegistersReply(READ.function, (1, 2)), "has 6 bytes where 8 belong"),
        (READ, ExceptionReply(3, 2), None),
        (READ, ExceptionReply(4, 2), "is function 03, the reply 04"),
        (READ, RegistersReply(Function.READ_INPUT_REGISTERS, (1, 2, 3)), "answers another"),
        (
            ReadRequest(Function.READ_COILS, 0, 9),
            BitsReply(Function.READ_COILS, (True,)),
            "3 bytes",
        ),
        (ReadRequest(Function.READ_COILS, 0, 8), BitsReply(Function.READ_COILS, (True,)), None),
        (WriteCoil(4, True), WriteCoil(4, True), None),
        (WriteCoil(4, True), WriteCoil(4, False), "does not repeat"),
        (WriteRegister(4, 1), WriteRegister(5, 1), "does not repeat"),
        (WriteRegisters(4, (1, 2)), WrittenReply(Function.WRITE_MULTIPLE_REGISTERS, 4, 2), None),
        (
            WriteRegisters(4, (1, 2)),
            WrittenReply(Function.WRITE_MULTIPLE_REGISTERS, 4, 1),
            "another start or count",
        ),
        (WriteCoils(4, (True,)), WrittenReply(Function.WRITE_MULTIPLE_COILS, 4, 1), None),
    ],
)
def test_whether_a_reply_answers(request_: Request, reply: Reply, problem: str | None) -> None:
    found = reply_problem(request_, reply)
    assert (found is None) == (problem is None)
    if problem is not None:
        assert found is not None
        assert problem in found


@given(REQUESTS)
def test_the_length_of_the_reply_is_known_beforehand(request_: Request) -> None:
    answer: Reply
    if isinstance(request_, ReadRequest) and request_.function.table.of_bits:
        answer = BitsReply(request_.function, (False,) * request_.count)
    elif isinstance(request_, ReadRequest):
        answer = RegistersReply(request_.function, (0,) * request_.count)
    elif isinstance(request_, WriteCoil | WriteRegister):
        answer = request_
    else:
        answer = WrittenReply(request_.function, request_.start, len(request_.values))
    assert len(answer.to_bytes()) == request_.reply_bytes
    assert reply_problem(request_, answer) is None


def test_addresses() -> None:
    uses = [address_use(address) for address in range(256)]
    assert uses.count(AddressUse.DEVICE) == 247
    assert uses[0] is AddressUse.BROADCAST
    assert uses[1] is uses[247] is AddressUse.DEVICE
    assert set(uses[248:]) == {AddressUse.RESERVED}
    assert device_address(247) == 247
    assert Frame(250, b"\x03").use is AddressUse.RESERVED
    problems = check_addresses([("drive", 0), ("meter", 5), ("valve", 5), ("pump", 248)])
    assert [(each.kind, each.devices) for each in problems] == [
        ("out of range", ("drive",)),
        ("out of range", ("pump",)),
        ("duplicate", ("meter", "valve")),
    ]
    plan = complete_addresses([("drive", None), ("meter", 1)], keep_free=[2])
    assert plan.addresses == (("drive", 3), ("meter", 1))


def test_a_frame_on_the_line() -> None:
    frame = Frame.of_request(17, READ)
    assert len(frame.bits()) == 88
    assert frame.bits()[:11] == (0, 1, 0, 0, 0, 1, 0, 0, 0, 0, 1)
    assert len(frame.bits(CharacterFormat.from_text("8N1"))) == 80
    assert crc_bytes(b"") == b"\xff\xff"
