"""The frame value: constructors, what it refuses, and the order of priority."""

from dataclasses import FrozenInstanceError

import pytest
from can_strategies import frames
from hypothesis import given, settings

from labkit.fieldbus.can.frame import Frame
from labkit.fieldbus.errors import PlanError


def test_from_hex_reads_identifier_and_data() -> None:
    frame = Frame.from_hex("0x42F", "00 01 00.44 332211")
    assert frame == Frame(0x42F, bytes([0, 1, 0, 0x44, 0x33, 0x22, 0x11]))
    assert frame.dlc == frame.data_bytes == 7
    assert not frame.extended


@pytest.mark.parametrize(
    ("digits", "identifier", "extended"),
    [("7", 7, False), ("7FF", 0x7FF, False), ("0007", 7, True), ("1FFFFFFF", 0x1FFFFFFF, True)],
)
def test_digits_decide_the_format(digits: str, identifier: int, extended: bool) -> None:
    assert Frame.from_hex(digits) == Frame(identifier, extended=extended)


@pytest.mark.parametrize("digits", ["", "0x", "8FF", "20000000", "123456789", "42G", "-1", "4 2"])
def test_from_hex_refuses_what_is_no_identifier(digits: str) -> None:
    with pytest.raises(PlanError, match="identifier"):
        Frame.from_hex(digits)


@pytest.mark.parametrize("data", ["0", "0G", "001", "00 01 02 03 04 05 06 07 08", "0x01"])
def test_from_hex_refuses_what_is_no_data(data: str) -> None:
    with pytest.raises(PlanError, match="data"):
        Frame.from_hex("123", data)


@pytest.mark.parametrize(
    ("arguments", "part"),
    [
        ({"identifier": 0x800}, "outside 0 to 2047: 11 bits carry it; a longer one needs"),
        ({"identifier": 1 << 29, "extended": True}, "29 bits carry it"),
        ({"identifier": -1}, "outside 0 to 2047"),
        ({"identifier": True}, "no whole number"),
        ({"identifier": 5.0}, "no whole number"),
        ({"identifier": float("nan")}, "no whole number"),
        ({"identifier": "5"}, "no whole number"),
        ({"identifier": None}, "no whole number"),
        ({"identifier": 10**5000}, "more than 15 digits"),
        ({"identifier": 5, "extended": 1}, "write true or false"),
        ({"identifier": 5, "remote": "no"}, "write true or false"),
        ({"identifier": 5, "data": "01"}, "give bytes"),
        ({"identifier": 5, "data": bytearray(2)}, "give bytes"),
        ({"identifier": 5, "data": bytes(9)}, "at most 8"),
        ({"identifier": 5, "data": b"1", "remote": True}, "carries no data"),
        ({"identifier": 5, "data": b"1", "dlc": 2}, "there are 1 data bytes"),
        ({"identifier": 5, "data": b"1", "dlc": 9}, "there are 1 data bytes"),
        ({"identifier": 5, "data": b"1", "dlc": True}, "no whole number"),
        ({"identifier": 5, "dlc": 16, "remote": True}, "outside 0 to 15"),
        ({"identifier": 5, "dlc": -2, "remote": True}, "outside 0 to 15"),
    ],
)
def test_frame_that_cannot_exist(arguments: dict[str, object], part: str) -> None:
    with pytest.raises(PlanError, match=part):
        Frame(**arguments)  # type: ignore[arg-type]


def test_length_codes_above_eight_mean_eight_bytes() -> None:
    frame = Frame(1, bytes(8), dlc=12)
    assert (frame.dlc, frame.data_bytes) == (12, 8)
    assert frame != Frame(1, bytes(8))


def test_frame_is_a_value() -> None:
    frame = Frame(1, b"a")
    assert {frame: "found"}[Frame(1, b"a")] == "found"
    with pytest.raises(FrozenInstanceError):
        frame.identifier = 2  # type: ignore[misc]


@settings(deadline=None)
@given(frames())
def test_repr_builds_the_frame_again(frame: Frame) -> None:
    assert eval(repr(frame)) == frame


@settings(deadline=None)
@given(frames())
def test_identifier_splits_into_base_and_extension(frame: Frame) -> None:
    if frame.extended:
        assert frame.base_identifier << 18 | frame.identifier_extension == frame.identifier
    else:
        assert (frame.base_identifier, frame.identifier_extension) == (frame.identifier, 0)


def test_priority_order_of_one_leading_identifier() -> None:
    data, remote = Frame(0x123), Frame.remote_request(0x123)
    long_data = Frame(0x123 << 18, extended=True)
    long_remote = Frame.remote_request(0x123 << 18, extended=True)
    later = Frame(0x124)
    order = [data, remote, long_data, long_remote, later]
    mixed = [later, long_data, remote, long_remote, data]
    assert sorted(mixed, key=lambda frame: frame.priority) == order
