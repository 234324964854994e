"""DeviceNet bytes against the reference page, and against cantools reading the same fields.

Layouts of explicit messages and fragments: from memory of IEC 62026-3, as the page marks them.
"""

from typing import Any

import cantools
import pytest
from hypothesis import given
from hypothesis import strategies as st

from labkit.fieldbus.devicenet.connections import (
    Allocation,
    BusFrame,
    ConnectionKind,
    allocation_requests,
    device_report,
    master_report,
    poll_exchange,
    request_frames,
    response_frames,
    strobe_exchange,
)
from labkit.fieldbus.devicenet.fragments import Fragment, FragmentType, explicit_frames, io_frames
from labkit.fieldbus.devicenet.messages import (
    BodyFormat,
    DuplicateCheck,
    ExplicitHeader,
    ExplicitRequest,
    ExplicitResponse,
)

# The same fields written down a second time, as signals: start bit | length @ 1 = low byte first.
DATABASE: Any = cantools.database.load_string(
    """
VERSION ""
NS_ :
BS_:
BU_: any
BO_ 1071 duplicate_check: 7 any
 SG_ port : 0|7@1+ (1,0) [0|0] "" any
 SG_ response : 7|1@1+ (1,0) [0|0] "" any
 SG_ vendor : 8|16@1+ (1,0) [0|0] "" any
 SG_ serial : 24|32@1+ (1,0) [0|0] "" any
BO_ 1068 set_packet_rate: 7 any
 SG_ other : 0|6@1+ (1,0) [0|0] "" any
 SG_ transaction : 6|1@1+ (1,0) [0|0] "" any
 SG_ fragmented : 7|1@1+ (1,0) [0|0] "" any
 SG_ service : 8|7@1+ (1,0) [0|0] "" any
 SG_ is_response : 15|1@1+ (1,0) [0|0] "" any
 SG_ class : 16|8@1+ (1,0) [0|0] "" any
 SG_ instance : 24|8@1+ (1,0) [0|0] "" any
 SG_ attribute : 32|8@1+ (1,0) [0|0] "" any
 SG_ rate : 40|16@1+ (1,0) [0|0] "" any
BO_ 965 fragment: 8 any
 SG_ count : 0|6@1+ (1,0) [0|0] "" any
 SG_ kind : 6|2@1+ (1,0) [0|0] "" any
""",
    "dbc",
)


@given(st.integers(0, 0xFFFF), st.integers(0, 0xFFFF_FFFF), st.booleans(), st.integers(0, 127))
def test_duplicate_check_as_cantools_reads_it(
    vendor: int, serial: int, response: bool, port: int
) -> None:
    check = DuplicateCheck(vendor, serial, response, port)
    fields = {"vendor": vendor, "serial": serial, "response": int(response), "port": port}
    assert DATABASE.encode_message("duplicate_check", fields) == check.to_bytes()
    assert DuplicateCheck.from_bytes(check.to_bytes()) == check


@given(st.integers(0, 63), st.integers(0, 1), st.integers(0, 0xFFFF), st.integers(1, 4))
def test_explicit_request_as_cantools_reads_it(
    other: int, transaction: int, rate: int, instance: int
) -> None:
    body = ExplicitRequest.set_attribute(5, instance, 9, rate.to_bytes(2, "little"))
    data = bytes([ExplicitHeader(other, transaction).byte]) + body.to_bytes()
    assert DATABASE.decode_message("set_packet_rate", data) == {
        "other": other,
        "transaction": transaction,
        "fragmented": 0,
        "service": 0x10,
        "is_response": 0,
        "class": 5,
        "instance": instance,
        "attribute": 9,
        "rate": rate,
    }
    assert ExplicitHeader.from_byte(data[0]) == ExplicitHeader(other, transaction)


@given(st.sampled_from([FragmentType.MIDDLE, FragmentType.LAST]), st.integers(0, 63))
def test_fragment_byte_as_cantools_reads_it(kind: FragmentType, count: int) -> None:
    fragment = Fragment(kind, count, bytes(7))
    fields = DATABASE.decode_message("fragment", fragment.to_bytes())
    assert fields == {"count": count, "kind": int(kind)}


@pytest.mark.parametrize(
    ("body_format", "code", "class_bytes", "instance_bytes"),
    [
        # Message body formats, from memory of IEC 62026-3: 8/8, 8/16, 16/16, 16/8.
        (BodyFormat.CLASS_8_INSTANCE_8, 0, 1, 1),
        (BodyFormat.CLASS_8_INSTANCE_16, 1, 1, 2),
        (BodyFormat.CLASS_16_INSTANCE_16, 2, 2, 2),
        (BodyFormat.CLASS_16_INSTANCE_8, 3, 2, 1),
    ],
)
def test_body_formats(
    body_format: BodyFormat, code: int, class_bytes: int, instance_bytes: int
) -> None:
    found = body_format.code, body_format.class_bytes, body_format.instance_bytes
    assert found == (code, class_bytes, instance_bytes)
    body = ExplicitRequest(0x0E, 3, 4, b"\x01", body_format).to_bytes()
    expected = (
        b"\x0e" + (3).to_bytes(class_bytes, "little") + (4).to_bytes(instance_bytes, "little")
    )
    assert body == expected + b"\x01"


def test_allocation_choice_bits() -> None:
    # Reference page, from memory: bit 0 explicit, 1 poll, 2 bit-strobe, 4 change of state,
    # 5 cyclic, 6 acknowledge suppression.
    assert {each.name: each.value for each in Allocation} == {
        "EXPLICIT": 1 << 0,
        "POLL": 1 << 1,
        "BIT_STROBE": 1 << 2,
        "CHANGE_OF_STATE": 1 << 4,
        "CYCLIC": 1 << 5,
        "SUPPRESS_ACKNOWLEDGE": 1 << 6,
    }


@pytest.mark.parametrize(
    ("frames", "master_sends"),
    [
        (poll_exchange(5, bytes(9), bytes(9)), [True, True, False, False]),
        (strobe_exchange(1, {}, {3: b"", 4: b""}), [True, False, False]),
        (device_report(5, b"\x01"), [False, True]),
        (master_report(5, b"\x01"), [True, False]),
        (response_frames(ExplicitResponse(0x0E, bytes(9)), 5, 1), [False, False]),
    ],
)
def test_who_sends_each_frame(frames: tuple[BusFrame, ...], master_sends: list[bool]) -> None:
    assert [each.from_master for each in frames] == master_sends


def test_check_of_the_page() -> None:
    # Reference page: vendor id 2 bytes, serial number 4 bytes, each low byte first.
    assert DuplicateCheck(1, 0x11223344).to_bytes() == bytes.fromhex("00 01 00 44 33 22 11")
    assert DuplicateCheck(1, 0x11223344, response=True).to_bytes()[0] == 0x80


# Frames written out by hand from the page's layout (from memory of IEC 62026-3).
@pytest.mark.parametrize(
    ("frames", "expected"),
    [
        # Master 1 allocates explicit + poll of node 5, then sets the poll connection to 100 ms.
        (
            allocation_requests(5, 1, {ConnectionKind.POLL: 100}),
            [(0x42E, "01 4B 03 01 03 01"), (0x42C, "01 10 05 02 09 64 00")],
        ),
        # Change of state shares connection instance 4 with cyclic; choice bits 0 and 4.
        (
            allocation_requests(5, 1, {ConnectionKind.CHANGE_OF_STATE: 1000}),
            [(0x42E, "01 4B 03 01 11 01"), (0x42C, "01 10 05 04 09 E8 03")],
        ),
        # Serial number: get attribute 6 of identity, instance 1; the answer in one frame.
        (
            request_frames(ExplicitRequest.get_attribute(1, 1, 6), 5, 1),
            [(0x42C, "01 0E 01 01 06")],
        ),
        (
            response_frames(ExplicitResponse(0x0E, bytes.fromhex("44 33 22 11")), 5, 1),
            [(0x42B, "01 8E 44 33 22 11")],
        ),
        # "attribute not supported", no additional code.
        (response_frames(ExplicitResponse.error(0x14), 5, 1), [(0x42B, "01 94 14 FF")]),
        # A reply of eight body bytes: two fragments of six and two.
        (
            response_frames(ExplicitResponse(0x0E, bytes(range(1, 8))), 5, 1),
            [(0x42B, "81 00 8E 01 02 03 04 05"), (0x42B, "81 81 06 07")],
        ),
        # One strobe bit a node: node 3 in byte 0, node 9 in byte 1, node 63 the last bit.
        (
            strobe_exchange(1, {3: True, 9: True, 63: True, 4: False}, {3: b"\x55"}),
            [(0x408, "08 02 00 00 00 00 00 80"), (0x383, "55")],
        ),
    ],
)
def test_frames_written_out_by_hand(
    frames: tuple[BusFrame, ...], expected: list[tuple[int, str]]
) -> None:
    assert [each.pair for each in frames] == [(i, bytes.fromhex(d)) for i, d in expected]


def test_io_over_eight_bytes_written_out_by_hand() -> None:
    data = bytes(range(1, 17))
    assert [frame.hex(" ") for frame in io_frames(data)] == [
        "00 01 02 03 04 05 06 07",
        "41 08 09 0a 0b 0c 0d 0e",
        "82 0f 10",
    ]
    assert io_frames(data[:8]) == (data[:8],)
    assert io_frames(data[:3], size=16) == (bytes.fromhex("3f 01 02 03"),)


def test_longest_unfragmented_explicit_body_is_seven_bytes() -> None:
    assert explicit_frames(1, bytes(7)) == (b"\x01" + bytes(7),)
    assert len(explicit_frames(1, bytes(8))) == 2
