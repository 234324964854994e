"""Explicit messages and fragments: properties, and refusals in sentences."""

from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labkit.fieldbus.devicenet.fragments import (
    AckStatus,
    Fragment,
    FragmentType,
    Reassembly,
    cut,
    explicit_frames,
    io_frame_lengths,
    io_frames,
    join,
)
from labkit.fieldbus.devicenet.messages import (
    BodyFormat,
    DuplicateCheck,
    ExplicitHeader,
    ExplicitRequest,
    ExplicitResponse,
    is_response,
    strobe_command,
    strobe_outputs,
)
from labkit.fieldbus.errors import PlanError

PIECES = st.sampled_from([6, 7])
LONG = st.binary(min_size=8, max_size=700)


@given(
    st.integers(0, 127),
    st.sampled_from(list(BodyFormat)),
    st.integers(0, 255),
    st.integers(0, 255),
    st.binary(max_size=60),
)
def test_request_round_trip(
    service: int, body_format: BodyFormat, class_id: int, instance: int, data: bytes
) -> None:
    request = ExplicitRequest(service, class_id, instance, data, body_format)
    body = request.to_bytes()
    assert ExplicitRequest.from_bytes(body, body_format) == request
    assert not is_response(body)
    with pytest.raises(PlanError, match="marks a request"):
        ExplicitResponse.from_bytes(body)


@given(st.integers(0, 127).filter(lambda code: code != 0x14), st.binary(max_size=60))
def test_response_round_trip(service: int, data: bytes) -> None:
    body = ExplicitResponse(service, data).to_bytes()
    assert ExplicitResponse.from_bytes(body) == ExplicitResponse(service, data)
    assert is_response(body)
    with pytest.raises(PlanError, match="marks a response"):
        ExplicitRequest.from_bytes(body.ljust(3, b"\0"))


def test_error_reply_tells_its_codes_and_a_success_none() -> None:
    assert ExplicitResponse.error(0x0C, 1).error_codes == (0x0C, 1)
    assert ExplicitResponse(0x0E, b"\x14\xff").error_codes is None


def test_sixteen_bit_instance_goes_low_byte_first() -> None:
    request = ExplicitRequest(0x0E, 4, 0x0165, b"\x03", BodyFormat.CLASS_8_INSTANCE_16)
    assert request.to_bytes().hex(" ") == "0e 04 65 01 03"


@given(st.dictionaries(st.integers(0, 63), st.booleans()))
def test_strobe_round_trip(outputs: dict[int, bool]) -> None:
    data = strobe_command(outputs)
    assert len(data) == 8
    assert strobe_outputs(data) == {node: outputs.get(node, False) for node in range(64)}


@given(LONG, PIECES)
def test_cut_and_join(message: bytes, piece: int) -> None:
    fragments = cut(message, piece)
    assert join(fragments) == message
    assert all(1 <= len(each.data) <= piece for each in fragments)
    assert [each.count for each in fragments] == [at % 64 for at in range(len(fragments))]
    again = [Fragment.from_bytes(each.to_bytes()) for each in fragments]
    assert tuple(again) == fragments


@given(st.binary(max_size=300))
def test_io_frames_fit_and_lengths_agree(data: bytes) -> None:
    frames = io_frames(data)
    assert all(len(each) <= 8 for each in frames)
    assert io_frame_lengths(len(data)) == tuple(len(each) for each in frames)
    if len(data) > 8:
        assert sum(len(each) for each in frames) == len(data) + len(frames)
        assert len(frames) == -(-len(data) // 7)


@given(LONG, st.integers(0, 63))
def test_explicit_frames_carry_header_and_come_together(body: bytes, address: int) -> None:
    frames = explicit_frames(ExplicitHeader(address).byte, body)
    assert all(len(each) <= 8 for each in frames)
    assert all(each[0] == 0x80 | address for each in frames)
    assert join(Fragment.from_bytes(each[1:]) for each in frames) == body


@given(LONG, PIECES, st.data())
def test_a_missing_fragment_is_noticed(message: bytes, piece: int, data: st.DataObject) -> None:
    fragments = list(cut(message, piece))
    if len(fragments) < 2:
        return
    del fragments[data.draw(st.integers(0, len(fragments) - 1))]
    with pytest.raises(PlanError, match=r"missing|due|without"):
        join(fragments)


@given(LONG, PIECES, st.data())
def test_a_repeated_fragment_changes_nothing(
    message: bytes, piece: int, data: st.DataObject
) -> None:
    fragments = list(cut(message, piece))
    if len(fragments) < 2:
        return
    at = data.draw(st.integers(0, len(fragments) - 2))
    fragments.insert(at, fragments[at])
    state, whole, repeats = Reassembly(), None, 0
    for each in fragments:
        step = state.take(each)
        state, whole, repeats = step.state, step.message or whole, repeats + step.repeated
    assert whole == message
    assert repeats == 1


def test_a_middle_fragment_with_count_0_is_no_repeat_of_the_first() -> None:
    state = Reassembly().take(Fragment(FragmentType.FIRST, 0, b"abcdef")).state
    step = state.take(Fragment(FragmentType.MIDDLE, 0, b"abcdef"))
    assert not step.repeated
    assert step.problem == "fragment 0 came where 1 was due"
    assert step.state == Reassembly()


def test_a_new_message_drops_the_unfinished_one_and_goes_on() -> None:
    state = Reassembly().take(Fragment(FragmentType.FIRST, 0, b"old old")).state
    step = state.take(Fragment(FragmentType.FIRST, 0, b"new new"))
    assert step.problem == "a new message began after 7 bytes of an unfinished one"
    step = step.state.take(Fragment(FragmentType.LAST, 1, b"!"))
    assert step.message == b"new new!"


def test_a_message_over_the_limit_is_dropped() -> None:
    state = Reassembly(limit=8).take(Fragment(FragmentType.FIRST, 0, bytes(6))).state
    step = state.take(Fragment(FragmentType.MIDDLE, 1, bytes(6)))
    assert step.problem == "the message is longer than 8 bytes"
    assert Reassembly(limit=4).take(Fragment(FragmentType.FIRST, 63, bytes(6))).problem


def test_a_message_of_just_the_limit_is_taken() -> None:
    assert Reassembly(limit=6).take(Fragment(FragmentType.FIRST, 63, bytes(6))).message == bytes(6)
    state = Reassembly(limit=8).take(Fragment(FragmentType.FIRST, 0, bytes(6))).state
    assert state.take(Fragment(FragmentType.LAST, 1, bytes(2))).message == bytes(8)


def test_last_without_first_and_acknowledge_are_problems() -> None:
    assert Reassembly().take(Fragment(FragmentType.LAST, 1, b"x")).problem == (
        "a last fragment came without a first one"
    )
    ack = Fragment(FragmentType.MIDDLE, 7, b"x").acknowledge(AckStatus.TOO_MUCH_DATA)
    assert ack.to_bytes() == bytes([0xC7, 1])
    assert Reassembly().take(ack).problem


@pytest.mark.parametrize(
    "bad",
    [
        lambda: DuplicateCheck(65536, 0),
        lambda: DuplicateCheck(1, -1),
        lambda: DuplicateCheck(1, 1, port=128),
        lambda: DuplicateCheck(True, 1),
        lambda: DuplicateCheck(float("nan"), 1),  # type: ignore[arg-type]
        lambda: DuplicateCheck.from_bytes(bytes(6)),
        lambda: DuplicateCheck.from_bytes("0123456"),  # type: ignore[arg-type]
        lambda: ExplicitHeader(64),
        lambda: ExplicitHeader(5, 2),
        lambda: ExplicitRequest(128, 1, 1),
        lambda: ExplicitRequest(1, 256, 1),
        lambda: ExplicitRequest(1, 1, 256),
        lambda: ExplicitRequest(1, 65536, 1, b"", BodyFormat.CLASS_16_INSTANCE_8),
        lambda: ExplicitRequest(1, 1, 1, [256]),  # type: ignore[arg-type]
        lambda: ExplicitRequest.get_attribute(1, 1, 256),
        lambda: ExplicitRequest.set_attribute(1, 1, 1, b""),
        lambda: ExplicitRequest.reset(2),
        lambda: ExplicitRequest.from_bytes(b"\x0e\x01"),
        lambda: ExplicitResponse(0x14, b"\x08"),
        lambda: ExplicitResponse.error(8, 256),
        lambda: ExplicitResponse.error(256),
        lambda: ExplicitResponse.from_bytes(b""),
        lambda: Fragment(FragmentType.FIRST, 1, b""),
        lambda: Fragment(FragmentType.MIDDLE, 64, b""),
        lambda: Fragment(FragmentType.MIDDLE, 1, bytes(8)),
        lambda: Fragment(FragmentType.ACKNOWLEDGE, 1, b""),
        lambda: Fragment(4, 1, b""),  # type: ignore[arg-type]
        lambda: Fragment.from_bytes(b""),
        lambda: cut(b"", 7),
        lambda: cut(b"abc", 8),
        lambda: io_frames(bytes(9), size=8),
        lambda: explicit_frames(0x81, b"abc"),
        lambda: join([]),
        lambda: join([*cut(bytes(8), 7), Fragment(FragmentType.LAST, 2, b"x")]),
        lambda: strobe_command({64: True}),
        lambda: strobe_outputs(bytes(7)),
        lambda: Reassembly(limit=0),
    ],
)
def test_what_cannot_be_is_refused(bad: Callable[[], object]) -> None:
    with pytest.raises(PlanError, match=r"[.;]"):
        bad()
