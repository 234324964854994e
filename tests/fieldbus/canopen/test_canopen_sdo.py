"""SDO messages and transfers, and what a device answers: round trips, any bytes, refusals."""

import pytest
from canopen_devices import HEARTBEAT, NODE, PLACES, REPLIES, REQUESTS, device
from hypothesis import given
from hypothesis import strategies as st

from labkit.fieldbus import PlanError
from labkit.fieldbus.can import Frame
from labkit.fieldbus.canopen import (
    Abort,
    AbortCode,
    AskSegment,
    DataType,
    Device,
    Multiplexor,
    NmtCommand,
    NmtMessage,
    NmtState,
    SdoReply,
    SdoRequest,
    Segment,
    StartRead,
    StartWrite,
    abort_words,
    decode_reply,
    decode_request,
    decode_value,
    encode_value,
    join,
    read_exchange,
    segments,
    write_exchange,
)

EIGHT = st.binary(min_size=8, max_size=8)
TEXT = Multiplexor(0x2002)


@given(REQUESTS)
def test_requests_come_back(request: SdoRequest) -> None:
    assert decode_request(request.to_bytes()) == request


@given(REPLIES)
def test_replies_come_back(reply: SdoReply) -> None:
    assert decode_reply(reply.to_bytes()) == reply


@given(st.binary(max_size=9))
def test_any_bytes_are_a_message_or_refused(data: bytes) -> None:
    for decode in (decode_request, decode_reply):
        try:
            message = decode(data)
        except PlanError:
            continue
        # What the sender left undefined is not read, and comes back as zeros.
        assert decode(message.to_bytes()) == message


@given(st.binary(max_size=60))
def test_segments_join_again(data: bytes) -> None:
    pieces = segments(data)
    assert join(pieces) == data
    with pytest.raises(PlanError, match="last segment is missing"):
        join(pieces[:-1])
    if len(pieces) > 2:
        with pytest.raises(PlanError, match="did not alternate"):
            join((pieces[0], *pieces[2:]))


@given(st.binary(min_size=1, max_size=60))
def test_a_device_answers_a_whole_transfer_as_the_exchange_says(data: bytes) -> None:
    there = device()
    for exchange in (write_exchange(NODE, TEXT, data), read_exchange(NODE, TEXT, data)):
        for asked, answered in zip(exchange[::2], exchange[1::2], strict=True):
            frames, there = there.receive(asked)
            assert frames == (answered,)
    assert there.held(TEXT) == data


@given(st.lists(st.tuples(st.sampled_from([0, 0x605, 0x606]), st.binary(max_size=8)), max_size=8))
def test_any_frames_leave_a_device_that_answers(frames: list[tuple[int, bytes]]) -> None:
    there = device()
    for identifier, data in frames:
        replies, there = there.receive(Frame(identifier, data))
        assert all(reply.identifier in (0x585, 0x705) for reply in replies)


@given(EIGHT, EIGHT)
def test_a_device_takes_any_messages(first: bytes, second: bytes) -> None:
    _, there = device().answer(first)
    there.answer(second)


def refusal(at: Multiplexor, data: bytes | None) -> AbortCode | None:
    request: SdoRequest = StartRead(at) if data is None else StartWrite(at, data, len(data))
    reply, _ = device().answer(request.to_bytes())
    return AbortCode(reply.code) if isinstance(reply, Abort) else None


@pytest.mark.parametrize(
    ("at", "data", "code"),
    [
        (Multiplexor(0x3000), None, AbortCode.NO_OBJECT),
        (Multiplexor(0x1018, 7), None, AbortCode.NO_SUBINDEX),
        (Multiplexor(0x2001), None, AbortCode.WRITE_ONLY),
        (Multiplexor(0x1001), b"\0", AbortCode.READ_ONLY),
        (HEARTBEAT, b"\0", AbortCode.TOO_SHORT),
        (HEARTBEAT, b"\0\0\0", AbortCode.TOO_LONG),
        (Multiplexor(0x2000), (3001).to_bytes(2, "little"), AbortCode.TOO_HIGH),
        (Multiplexor(0x2000), (-3001).to_bytes(2, "little", signed=True), AbortCode.TOO_LOW),
        (Multiplexor(0x2000), (3000).to_bytes(2, "little"), None),
        (Multiplexor(0x2002), None, AbortCode.NO_DATA),
    ],
)
def test_refusals(at: Multiplexor, data: bytes | None, code: AbortCode | None) -> None:
    assert refusal(at, data) is code


def test_a_repeated_toggle_bit_ends_the_transfer() -> None:
    _, there = device().answer(StartWrite(TEXT, None, 14).to_bytes())
    piece = Segment(False, b"1234567", False).to_bytes()
    _, there = there.answer(piece)
    reply, there = there.answer(piece)
    assert reply == Abort(TEXT, AbortCode.TOGGLE)
    assert there.transfer is None
    reply, _ = there.answer(AskSegment(False).to_bytes())
    assert isinstance(reply, Abort)
    assert reply.code == AbortCode.COMMAND_UNKNOWN


def test_a_transfer_shorter_than_said_is_refused() -> None:
    _, there = device().answer(StartWrite(TEXT, None, 9).to_bytes())
    reply, there = there.answer(Segment(False, b"1234567", True).to_bytes())
    assert reply == Abort(TEXT, AbortCode.LENGTH)
    assert there.held(TEXT) == b""


def test_a_stopped_device_answers_no_sdo_and_a_reset_forgets() -> None:
    write = write_exchange(NODE, HEARTBEAT, b"\x10\x00")[0]
    _, there = device().receive(write)
    assert there.value(HEARTBEAT) == 16
    _, there = there.receive(NmtMessage(NmtCommand.STOP).to_frame())
    assert there.receive(write)[0] == ()
    frames, there = there.receive(NmtMessage(NmtCommand.RESET_NODE, NODE).to_frame())
    assert frames == (Frame.from_hex("705", "00"),)
    assert (there.value(HEARTBEAT), there.state) == (0, NmtState.PRE_OPERATIONAL)
    assert Device(NODE, there.dictionary).receive(write)[0] == ()


def test_words_of_a_code_that_only_the_maker_knows() -> None:
    assert "maker's manual" in abort_words(0x06099999)
    assert len({abort_words(code) for code in AbortCode}) == len(AbortCode)


@given(st.sampled_from(list(DataType)), st.binary(max_size=12))
def test_any_bytes_are_a_value_that_is_written_back_or_refused(kind: DataType, data: bytes) -> None:
    try:
        value = decode_value(kind, data)
    except PlanError:
        assert kind.length not in (None, len(data))
        return
    if isinstance(value, float) and value != value:
        return
    if kind.is_real and abs(float(value)) == float("inf"):
        return
    if kind.is_whole and kind is not DataType.BOOLEAN:
        assert encode_value(kind, value) == data


@given(PLACES)
def test_an_entry_is_named_by_index_and_subindex(at: Multiplexor) -> None:
    assert Multiplexor.from_bytes(at.to_bytes()) == at
