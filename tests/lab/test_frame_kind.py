"""Frames: what they say is held against the bits of the published layout, worked here again."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from small_lab import DRAWS, prepared, scenarios

from labkit.doors.installed import check_for
from labkit.families.devicenet.frame_facts import FACTS, FrameRead, number_fact
from labkit.fieldbus.errors import PlanError
from labkit.lab.draw import draw
from labkit.lab.reading import read_lab_text

# The predefined set and the duplicate check, as the reference page lists them (IEC 62026-3).
PURPOSES = {
    (1, 13): "change-of-state or cyclic data of a device",
    (1, 14): "bit-strobe response",
    (1, 15): "poll response",
    (2, 0): "bit-strobe command",
    (2, 2): "master's change-of-state or cyclic acknowledge",
    (2, 3): "explicit response",
    (2, 4): "explicit request",
    (2, 5): "poll command",
    (2, 6): "unconnected explicit request to a group-2-only device",
    (2, 7): "duplicate node address check",
}


def _taken_apart(value: int) -> tuple[int, int, int | None]:
    """Group, message, address by the printed bit patterns 0 mmmm ssssss and so on."""
    bits = f"{value:011b}"
    if bits[0] == "0":
        return 1, int(bits[1:5], 2), int(bits[5:], 2)
    if bits[:2] == "10":
        return 2, int(bits[8:], 2), int(bits[2:8], 2)
    if bits[:5] != "11111":
        return 3, int(bits[2:5], 2), int(bits[5:], 2)
    return 4, int(bits[5:], 2), None


def test_every_identifier_is_taken_apart_as_its_bits_are_printed() -> None:
    for value in range(0x7F0):
        frame = FrameRead(value, b"")
        group, message, address = _taken_apart(value)
        assert FACTS["group"](frame).value == group
        assert FACTS["message"](frame).value == message
        if address is None:
            with pytest.raises(PlanError):
                FACTS["address"](frame)
        else:
            assert FACTS["address"](frame).value == address
        if (group, message) in PURPOSES:
            assert FACTS["purpose"](frame).value == PURPOSES[group, message]


def test_exchanged_bits_are_the_identifier_read_by_the_other_layout() -> None:
    for value in range(0x7C0):
        bits = f"{value:011b}"
        message, address = (
            dict(FACTS[name](FrameRead(value, b"")).slips)["bits-exchanged"]
            for name in ("message", "address")
        )
        if bits[:2] == "10":
            assert (message, address) == (int(bits[2:5], 2), int(bits[5:], 2))
        else:
            assert (message, address) == (int(bits[8:], 2), int(bits[2:8], 2))


# A check is a request from the address it asks about; node 5's identifier is 0x42F (reference
# page). Explicit layouts are from memory of IEC 62026-3, as the reference page marks them.
@pytest.mark.parametrize(
    ("identifier", "data", "facts"),
    [
        (0x42F, "00 9A 6E 3D 44 0B 00", {"vendor": 0x6E9A, "serial": 0x0B443D}),
        (0x42F, "80 9A 6E 3D 44 0B 00", {"direction": "response", "destination": 5}),
        (
            0x42C,
            "01 0E 01 02 06",
            {"source": 1, "destination": 5, "service": 0x0E, "class": 1, "instance": 2}
            | {"attribute": 6, "direction": "request", "transaction": 0},
        ),
        (0x42C, "41 10 04 64 03 34 12", {"transaction": 1, "service": 0x10, "value": 0x1234}),
        (0x42B, "01 8E 34 12", {"source": 5, "destination": 1, "service": 0x0E, "value": 0x1234}),
        (0x42B, "01 94 16 FF", {"error": 0x16, "reason": "it has no such object"}),
        (0x3C5, "11", {"source": 5, "role": "the sender's address", "purpose": "poll response"}),
    ],
)
def test_known_frames_say_what_they_are_known_to_say(
    identifier: int, data: str, facts: dict[str, Any]
) -> None:
    frame = FrameRead(identifier, bytes.fromhex(data))
    assert {name: FACTS[name](frame).value for name in facts} == facts


@pytest.mark.parametrize(
    ("identifier", "data", "name"),
    [
        (0x3C5, "11", "destination"),
        (0x3C5, "11", "service"),
        (0x42C, "01", "service"),
        (0x42C, "81 0E 01 02 06", "class"),
        (0x42C, "01 05 01 01 00", "attribute"),
        (0x42B, "01 8E 34 12", "error"),
        (0x42B, "01 94 16 FF", "value"),
        (0x42B, "01 8E", "value"),
        (0x42B, "01 94 77 FF", "reason"),
        (0x42F, "00 9A", "vendor"),
        (0x3C5, "11", "serial"),
        (0x7EC, "", "address"),
        (0x7F2, "", "group"),
    ],
)
def test_what_a_frame_does_not_say_cannot_be_asked(identifier: int, data: str, name: str) -> None:
    with pytest.raises(PlanError):
        FACTS[name](FrameRead(identifier, bytes.fromhex(data)))


@pytest.mark.parametrize("number", range(0, DRAWS, 10))
def test_written_frames_are_those_of_the_layout(number: int) -> None:
    names = scenarios()[number].names
    node, master = names["node"], names["master"]
    check, ask, key = prepared("write-request", number)
    numbers = (names["class_asked"], names["instance_asked"], names["attribute_asked"])
    data = " ".join(f"{byte:02x}" for byte in (master, 0x0E, *numbers))
    right = {"1.identifier": f"{0x400 + 8 * node + 4:x}", "1.data": data}
    assert check.check(ask, key, right).right
    for written in (data.replace(" ", ""), data.replace(" ", ", "), f"0x{data.replace(' ', '')}"):
        assert check.check(ask, key, {**right, "1.data": written}).right
    high_first = names["pressure"].to_bytes(2, "big").hex()
    check, ask, key = prepared("write-inputs", number)
    right = {"1.identifier": f"0x{0x3C0 + node:x}", "1.data": high_first[2:] + high_first[:2]}
    assert check.check(ask, key, right).right
    wrong = check.check(ask, key, {**right, "1.data": high_first})
    assert (wrong.slip, wrong.credit) == ("byte-order", 0.5)


def test_a_whole_header_byte_is_no_address() -> None:
    # Transaction bit set: byte 0 is 0x41 where the sender is node 1.
    source = FACTS["source"](FrameRead(0x42C, bytes.fromhex("41 0E 01 02 06")))
    assert source.value == 1
    assert dict(source.slips) == {
        "ends-exchanged": 5,
        "header-as-address": 0x41,
        "hex-as-decimal": 1,
    }


def test_group_3_read_as_group_1_has_a_message_number_of_four_bits() -> None:
    # 11 000 000101 read as 0 mmmm ssssss: message 8.
    assert dict(FACTS["message"](FrameRead(0x605, b"")).slips)["wrong-group"] == 8


def _written(frame: str) -> tuple[dict[str, Any], dict[str, Any]]:
    """The right answer and the slips of an exercise that asks for this frame to be written."""
    block = f"kind: frame\ntask: write\ntitle: T\nquestion: Q\nmarks: 1\nframes: [{frame}]\n"
    text = f"---\nid: a\nversion: 1\ntitle: A\n---\n\n```exercise x\n{block}working: W\n```\n"
    lab = read_lab_text(text)
    made = draw(lab, "seed").prepare(lab.exercises[0])
    check = check_for("frame")
    return check.right_answer(made.ask, made.key), check.slip_answers(made.ask, made.key)


@pytest.mark.parametrize("value", [0x3C5, 0x36F, 0x001, 0x42C, 0x57F, 0x605, 0x7AB])
def test_an_identifier_written_by_another_layout_is_told_so(value: int) -> None:
    right, slips = _written(f"{{identifier: {value}}}")
    assert right == {"1.identifier": f"{value:03X}", "1.data": "none"}
    bits = f"{value:011b}"
    # 0 mmmm ssssss, 10 aaaaaa mmm, 11 mmm ssssss, each with its two fields in the other order.
    parts = (1, 5) if bits[0] == "0" else (2, 8) if bits[1] == "0" else (2, 5)
    exchanged = int(bits[: parts[0]] + bits[parts[1] :] + bits[parts[0] : parts[1]], 2)
    assert slips["bits-exchanged"]["1.identifier"] == f"{exchanged:03X}"
    if f"{value:d}" != f"{value:X}":
        assert slips["decimal-for-hex"]["1.identifier"] == f"{value:03d}"
    group, message, address = _taken_apart(value)
    # Message 15 exists in group 1 only, message 7 in groups 1 and 2.
    assert ("wrong-group" in slips) == (message <= 7)
    if "wrong-group" in slips:
        other = _taken_apart(int(slips["wrong-group"]["1.identifier"], 16))
        assert other[0] != group
        assert other[1:] == (message, address)


def test_an_explicit_request_is_spoilt_in_the_known_ways() -> None:
    frame = "{purpose: explicit-request, address: 5, other: 1, service: get-attribute"
    right, slips = _written(f"{frame}, class: 1, instance: 2, attribute: 16}}")
    assert right == {"1.identifier": "42C", "1.data": "01 0E 01 02 10"}
    spoilt = {slip: answer["1.data"] for slip, answer in slips.items()}
    assert spoilt["response-bit"] == "01 8E 01 02 10"
    assert spoilt["header-forgotten"] == "0E 01 02 10"
    assert spoilt["header-own-address"] == "05 0E 01 02 10"
    assert spoilt["decimal-for-hex"] == "01 14 01 02 16"


def test_a_duplicate_check_is_written_low_bytes_first() -> None:
    frame = "{purpose: duplicate-check, address: 5, vendor: 0x1234, serial: 0x0A0B0C0D}"
    right, slips = _written(frame)
    assert right == {"1.identifier": "42F", "1.data": "00 34 12 0D 0C 0B 0A"}
    assert slips["byte-order"]["1.data"] == "00 12 34 0A 0B 0C 0D"


def test_a_wrong_identifier_is_told_what_it_would_mean() -> None:
    check, ask, key = prepared("write-request")
    right = check.right_answer(ask, key)
    verdict = check.check(ask, key, {**right, "1.identifier": "42F"})
    assert (
        "What you wrote is 0x42F: group 2 message 7, address 5, duplicate node" in verdict.message
    )
    verdict = check.check(ask, key, {**right, "1.identifier": "7F3"})
    assert "belongs to no DeviceNet message group" in verdict.message
    verdict = check.check(ask, key, {**right, "1.data": "03 05 01 01"})
    assert "node 3 tells node" in verdict.message
    assert right["1.data"] not in verdict.message


def test_a_response_shown_alone_is_not_blamed_for_it() -> None:
    check, ask, key = prepared("inputs")
    message = check.check(ask, key, check.right_answer(ask, key)).message
    assert message.startswith("Right. In words: node ")
    assert "yet no poll" not in message


def test_wrong_lines_are_named_without_their_right_value() -> None:
    for number in range(DRAWS):
        check, ask, key = prepared("who-asks", number)
        right = check.right_answer(ask, key)
        wrong = {**right, "1.vendor": "1", "1.serial": "1"}
        message = check.check(ask, key, wrong).message
        assert "**Vendor id, Serial number**: not right yet." in message
        assert right["1.vendor"] not in message
        assert right["1.serial"] not in message


@settings(deadline=None)
@given(st.integers(-(2**15), 2**15 - 1))
def test_a_signed_number_is_read_low_byte_first(level: int) -> None:
    low_first = bytes([level % 256, level // 256 % 256])
    fact = number_fact("Level", low_first, signed=True)
    assert fact.value == level
    slips: dict[str, Any] = dict(fact.slips)
    assert slips["sign-forgotten"] == level % 2**16
    reversed_bytes = slips["byte-order"] % 2**16
    assert (reversed_bytes // 256, reversed_bytes % 256) == tuple(low_first)
