"""A log read out in sentences: what a trainee must learn from each frame."""

from collections.abc import Iterable
from pathlib import Path

import can
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from labkit.fieldbus.devicenet.connections import (
    BusFrame,
    ConnectionKind,
    allocation_requests,
    device_report,
    master_report,
    poll_exchange,
    release_request,
    request_frames,
    response_frames,
    strobe_exchange,
)
from labkit.fieldbus.devicenet.decoder import Sentence, decode_log
from labkit.fieldbus.devicenet.fragments import Fragment
from labkit.fieldbus.devicenet.messages import DuplicateCheck, ExplicitRequest, ExplicitResponse
from labkit.fieldbus.devicenet.node import Node
from labkit.fieldbus.devicenet.scanlist import ScanEntry, ScanList
from labkit.fieldbus.devicenet.startup import Received, come_on_line, react
from labkit.fieldbus.errors import PlanError

SCAN = ScanList(
    0,
    125,
    (
        ScanEntry(5, ConnectionKind.POLL, 1, 2),
        ScanEntry(6, ConnectionKind.POLL, 12, 0),
        ScanEntry(7, ConnectionKind.BIT_STROBE, 2),
        ScanEntry(8, ConnectionKind.CHANGE_OF_STATE, 3, 1, 50.0),
    ),
)
ASK = (0x42F, DuplicateCheck(1, 0x11223344).to_bytes())


def said(
    *pairs: tuple[int, bytes], scan_list: ScanList | None = None, gap: float = 0.001
) -> list[Sentence]:
    log = [(at * gap, *pair) for at, pair in enumerate(pairs)]
    return decode_log(log, scan_list)


def pairs(frames: Iterable[BusFrame]) -> list[tuple[int, bytes]]:
    return [frame.pair for frame in frames]


def test_two_checks_that_nobody_answers() -> None:
    first, second = said(ASK, ASK, gap=1.0)
    assert first.text == (
        "node 5 asks whether anyone else has address 5 (vendor 1, serial number 0x11223344)"
    )
    assert second.text.startswith("node 5 asks a second time, 1.000 s after the first")
    assert not first.trouble
    assert not second.trouble
    assert str(first).startswith("0.000000 s  42F  00 01 00 44 33 22 11: node 5 asks")


@pytest.mark.parametrize(("gap", "trouble"), [(0.5, True), (0.95, False), (1.3, True)])
def test_the_second_check_at_the_wrong_time(gap: float, trouble: bool) -> None:
    assert said(ASK, ASK, gap=gap)[1].trouble is trouble


def test_a_node_that_asks_for_ever() -> None:
    last = said(ASK, ASK, ASK, gap=0.01)[-1]
    assert "time 3" in last.text
    assert last.trouble


def test_a_taken_address_and_two_newcomers() -> None:
    response = (0x42F, DuplicateCheck(2, 9, response=True).to_bytes())
    other = (0x42F, DuplicateCheck(2, 9).to_bytes())
    answered = said(ASK, response)[1]
    assert "address 5 is its own (vendor 2, serial number 0x00000009)" in answered.text
    assert answered.trouble
    twice = said(ASK, other)[1]
    assert "two devices are set to the same address" in twice.text
    assert twice.trouble


def test_allocation_and_packet_rate_as_a_conversation() -> None:
    node = come_on_line(Node(5, 1, 2, inputs=b"\x03")).node
    log = []
    for frame in allocation_requests(5, 0, {ConnectionKind.POLL: 100}):
        reaction = react(node, Received(*frame.pair))
        node = reaction.node
        log += [frame.pair, *pairs(reaction.frames)]
    texts = [each.text for each in said(*log)]
    assert texts == [
        "node 0 wants to take node 5 as its device: explicit, poll",
        "node 5 accepts its master",
        "node 0 sets attribute 9 (expected packet rate) of the connection object, instance 2 "
        "in node 5 to 100 (64 00)",
        "node 5 has set attribute 9 (expected packet rate)",
    ]


def test_a_refusal_is_trouble_with_its_reason() -> None:
    ask = request_frames(ExplicitRequest.get_attribute(1, 1, 7), 5, 0)
    no = response_frames(ExplicitResponse.error(0x14), 5, 0)
    asked, refused = said(*pairs(ask + no))
    assert asked.text == (
        "node 0 asks node 5 for attribute 7 (product name) of the identity object, instance 1"
    )
    assert refused.text == (
        "node 5 refuses to read attribute 7 (product name): it has no such attribute "
        "(general error 0x14)"
    )
    assert refused.trouble


def test_a_response_needs_its_request() -> None:
    reply = response_frames(ExplicitResponse(0x0E, b"\x05"), 5, 0)
    assert said(*pairs(reply))[0].trouble
    ask = request_frames(ExplicitRequest.reset(), 5, 0)
    assert "but 0x05 was asked" in said(*pairs(ask + reply))[1].text


def test_a_long_reply_is_put_together() -> None:
    name = b"demo valve island"
    ask = request_frames(ExplicitRequest.get_attribute(1, 1, 7), 5, 0)
    reply = response_frames(ExplicitResponse(0x0E, name), 5, 0)
    ack = (0x42C, b"\x80" + Fragment.from_bytes(reply[0].data[1:]).acknowledge().to_bytes())
    found = said(*pairs(ask), reply[0].pair, ack, *pairs(reply[1:]))
    assert found[2].text == "node 0 sends node 5 the acknowledge of fragment 0"
    assert not any(each.trouble for each in found)
    assert found[-1].text.endswith(f"attribute 7 (product name) is {name.hex(' ').upper()}")
    lost = said(*pairs(ask), reply[0].pair, reply[-1].pair)
    assert "fragment 2 came where 1 was due" in lost[-1].text
    assert lost[-1].trouble


def test_long_request_and_long_reply_do_not_mix() -> None:
    ask = pairs(request_frames(ExplicitRequest.set_attribute(4, 100, 3, bytes(9)), 5, 0))
    reply = pairs(response_frames(ExplicitResponse(0x10, bytes(9)), 5, 0))
    found = said(ask[0], reply[0], ask[1], ask[2], reply[1])
    texts = [each.text for each in found]
    assert texts[0] == "node 0 sends node 5 the first fragment (count 0) of a long message"
    assert (
        "together: node 0 sets attribute 3 (data) of the assembly object, instance 100" in texts[3]
    )
    assert texts[4].endswith("together: node 5 has set attribute 3 (data)")
    assert not any(each.trouble for each in found)


def test_release_and_reset_and_services_of_the_makers_own() -> None:
    bodies = [release_request(3), ExplicitRequest.reset(), ExplicitRequest(0x32, 200, 1, b"\x07")]
    answers = [ExplicitResponse(body.service) for body in bodies]
    log = []
    for body, reply in zip(bodies, answers, strict=True):
        log += pairs(request_frames(body, 5, 0) + response_frames(reply, 5, 0))
    assert [each.text for each in said(*log)] == [
        "node 0 gives connections of node 5 back: explicit, poll",
        "node 5 is released",
        "node 0 tells node 5 to reset",
        "node 5 has carried out reset",
        "node 0 asks node 5 for service 0x32 of class 200, instance 1, data 07",
        "node 5 has carried out service 0x32",
    ]


def test_eight_bytes_are_one_frame_and_no_fragment() -> None:
    scan = ScanList(0, 125, (ScanEntry(5, ConnectionKind.POLL, 8, 8),))
    found = said(*pairs(poll_exchange(5, bytes(8), bytes(range(8)))), scan_list=scan)
    assert found[1].text == "node 5 answers the poll with 8 input bytes: 00 01 02 03 04 05 06 07"
    assert not any(each.trouble for each in found)


def test_polls_answered_unanswered_and_of_the_wrong_size() -> None:
    command, response = pairs(poll_exchange(5, b"\x01\xff", b"\x03"))
    ok = said(command, response, command, response, scan_list=SCAN)
    assert not any(each.trouble for each in ok)
    assert ok[0].text == "the master polls node 5, 2 output bytes: 01 FF"
    assert ok[1].text == "node 5 answers the poll with 1 input byte: 03"
    silent = said(command, command, scan_list=SCAN)[1]
    assert silent.text.endswith("its poll at 0.000000 s was not answered")
    assert silent.trouble
    wrong = said(command, (0x3C5, b"\x03\x04"), scan_list=SCAN)[1]
    assert wrong.text.endswith("the scan list says 1 input byte")
    assert wrong.trouble
    assert "no poll came before it" in said(response)[0].text
    stranger = said(*pairs(poll_exchange(9, b"", b"")), scan_list=SCAN)
    assert all("node 9 is not in the scan list" in each.text for each in stranger)
    assert all(each.trouble for each in stranger)


def test_fragmented_poll_response_is_put_together_and_answers_its_poll() -> None:
    exchange = pairs(poll_exchange(6, b"", bytes(range(12))))
    found = said(*exchange, *exchange, scan_list=SCAN)
    assert not any(each.trouble for each in found)
    assert "12 input bytes in all: 00 01 02" in found[2].text
    assert "no poll" not in found[2].text
    short = said(*pairs(poll_exchange(6, b"", bytes(11))), scan_list=SCAN)[-1]
    assert short.text.endswith("the scan list says 12 input bytes")
    assert short.trouble
    lost = said(exchange[0], exchange[2], exchange[0], scan_list=SCAN)
    assert "message is lost" in lost[1].text
    assert "was not answered" in lost[2].text


def test_strobe_and_reports() -> None:
    frames = strobe_exchange(0, {3: True, 63: True}, {7: b"\x01\x02"})
    frames += device_report(8, b"\x01\x02\x03") + master_report(8, b"\x09")
    found = said(*pairs(frames), scan_list=SCAN)
    assert [each.text for each in found] == [
        "node 0, the master, strobes its bit-strobe devices: output bit on for 3, 63",
        "node 7 answers the strobe with 2 input bytes: 01 02",
        "node 8 reports of its own accord (change of state or cyclic) 3 input bytes: 01 02 03",
        "the master acknowledges the report of node 8",
        "the master sends node 8 its data, 1 output byte: 09",
        "node 8 acknowledges the master's data",
    ]
    assert not any(each.trouble for each in found)


def test_frames_that_do_not_belong() -> None:
    found = said((0x7F1, b""), (0x7C0, b""), (0x42F, b"\x00"), (0x005, b"\x01"), (0x42C, b"\x00"))
    assert [each.trouble for each in found] == [True, True, True, False, True]
    assert not said((0x605, b""), (0x745, b""))[1].trouble
    assert "no DeviceNet message group" in found[0].text
    assert found[1].text == "0x7C0: group 4 message 0, reserved message, data none"
    assert found[3].text.startswith("0x005: group 1 message 0, address 5, message of a connection")
    assert "cannot be read" in found[2].text


def test_a_log_file_that_python_can_wrote(tmp_path: Path) -> None:
    """A candump log, written and read by python-can, an independent implementation."""
    path = tmp_path / "bus.log"
    with can.CanutilsLogWriter(path) as log:
        for at, (identifier, data) in enumerate([ASK, ASK]):
            log.on_message_received(
                can.Message(
                    timestamp=1000.0 + at,
                    arbitration_id=identifier,
                    data=data,
                    is_extended_id=False,
                )
            )
    read = [(m.timestamp, m.arbitration_id, bytes(m.data)) for m in can.LogReader(path)]
    assert [each.text[:12] for each in decode_log(read)] == ["node 5 asks "] * 2


@settings(deadline=None, max_examples=400)
@given(
    st.lists(
        st.tuples(st.integers(0, 0x7FF), st.binary(max_size=8)),
        max_size=40,
    ),
    st.sampled_from([None, SCAN]),
)
def test_any_log_is_read_to_the_end(
    frames: list[tuple[int, bytes]], scan_list: ScanList | None
) -> None:
    found = said(*frames, scan_list=scan_list)
    assert [(each.identifier, each.data) for each in found] == frames
    assert all(each.text for each in found)


@settings(deadline=None, max_examples=200)
@given(
    st.lists(
        st.tuples(st.sampled_from([0x42B, 0x42C, 0x42E, 0x3C6, 0x436]), st.binary(max_size=8)),
        max_size=60,
    )
)
def test_any_explicit_and_fragmented_log_is_read_to_the_end(
    frames: list[tuple[int, bytes]],
) -> None:
    assert len(said(*frames, scan_list=SCAN)) == len(frames)


@pytest.mark.parametrize(
    "log",
    [
        [(0.0, 2048, b"")],
        [(0.0, -1, b"")],
        [(0.0, True, b"")],
        [(0.0, "42F", b"")],
        [(0.0, 1, bytes(9))],
        [(0.0, 1, None)],
        [(float("nan"), 1, b"")],
        [(-1.0, 1, b"")],
        [(1.0, 1, b""), (0.5, 1, b"")],
    ],
)
def test_what_no_log_holds_is_refused(log: list[tuple[float, int, bytes]]) -> None:
    with pytest.raises(PlanError, match=r"[.;]"):
        decode_log(log)
