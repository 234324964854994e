"""Log lines: round trip and what is refused."""

from contextlib import suppress

import pytest
from can_strategies import frames
from hypothesis import given, settings
from hypothesis import strategies as st

from labkit.fieldbus.can.frame import Frame
from labkit.fieldbus.can.logline import (
    LogLine,
    frame_from_log_line,
    frame_from_log_text,
    frame_to_log_text,
)
from labkit.fieldbus.errors import PlanError


@settings(deadline=None)
@given(frames())
def test_frame_text_and_back(frame: Frame) -> None:
    assert frame_from_log_text(frame_to_log_text(frame)) == frame
    assert frame_from_log_line(frame_to_log_text(frame)) == frame


@settings(deadline=None)
@given(frames(), st.integers(0, 10**12), st.sampled_from([True, False, None]))
def test_line_and_back(frame: Frame, micros: int, received: bool | None) -> None:
    line = LogLine(micros / 1_000_000, "can0", frame, received)
    assert LogLine.from_text(line.to_text() + "\n") == line
    assert frame_from_log_line(line.to_text()) == frame


@pytest.mark.parametrize(
    ("text", "frame"),
    [
        ("123#", Frame(0x123)),
        ("123#R", Frame.remote_request(0x123)),
        ("123#r3", Frame.remote_request(0x123, 3)),
        ("123#R8_A", Frame.remote_request(0x123, 10)),
        ("00000123#0a.0B", Frame(0x123, b"\x0a\x0b", extended=True)),
        ("123#1122334455667788_E", Frame(0x123, bytes.fromhex("1122334455667788"), dlc=14)),
    ],
)
def test_forms_of_a_frame(text: str, frame: Frame) -> None:
    assert frame_from_log_text(text) == frame


@pytest.mark.parametrize(
    ("text", "part"),
    [
        ("", "log line"),
        ("   ", "log line"),
        ("123", "identifier#data"),
        ("1234#00", "identifier#data"),
        ("12#00", "identifier#data"),
        ("123#0", "row of bytes"),
        ("123#GG", "row of bytes"),
        ("123#112233445566778899", "at most 8"),
        ("123#11_9", "there are 1 data bytes"),
        ("123#R9", "row of bytes"),
        ("123#R4_A", "R8_A"),
        ("123##0112233", "CAN FD"),
        ("20000080#0000000000000000", "error on the bus"),
        ("FFF#", "outside 0 to 2047"),
        ("(1.0) can0 123#00 X", "seconds"),
        ("(1.0) 123#00", "seconds"),
        ("1.0 can0 123#00", "seconds"),
        ("(-1.0) can0 123#00", "seconds"),
        ("(nan) can0 123#00", "seconds"),
        ("(1" + "0" * 400 + ".0) can0 123#00", "too large"),
        ("(1" + "0" * 20 + ".0) can0 123#00", "beyond all use"),
        ("x" * 10_000, "identifier#data"),
    ],
)
def test_refused_line(text: str, part: str) -> None:
    with pytest.raises(PlanError, match=part) as caught:
        frame_from_log_line(text)
    assert len(str(caught.value)) < 300


def test_line_values_are_checked() -> None:
    frame = Frame(1)
    for arguments in [
        (float("nan"), "can0", frame),
        (-1.0, "can0", frame),
        (True, "can0", frame),
        (1.0, "", frame),
        (1.0, "can 0", frame),
        (1.0, "can0", "123#"),
        (1.0, "can0", frame, "R"),
    ]:
        with pytest.raises(PlanError):
            LogLine(*arguments)  # type: ignore[arg-type]
    with pytest.raises(PlanError):
        LogLine.from_text(5)  # type: ignore[arg-type]


scrap = st.text("0123456789abcdefABCDEFxRr#_. ()\n-é٣", max_size=40)


@settings(deadline=None)
@given(scrap, scrap)
def test_any_text_gives_a_frame_or_a_sentence(one: str, other: str) -> None:
    with suppress(PlanError):
        assert isinstance(frame_from_log_line(one), Frame)
    with suppress(PlanError):
        assert isinstance(Frame.from_hex(one, other), Frame)
