"""A recording in words: talk, refusals, silence, answers to nobody, spoiled frames."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from modbus_messages import REPLIES, REQUESTS

from labkit.fieldbus import PlanError
from labkit.fieldbus.modbus import (
    DeviceTables,
    Frame,
    Reply,
    Request,
    crc_bytes,
    decode_log,
)
from labkit.fieldbus.serial import CharacterFormat, Reception, TimedCharacter, split_frames, timed

FORM = CharacterFormat()


def received(*frames: str, gap_s: float = 0.1) -> tuple[Reception, ...]:
    """Frames at 9,600 bit/s, each a tenth of a second after the one before; the CRC is added."""
    sent: list[TimedCharacter] = []
    for at, text in enumerate(frames):
        data = bytes.fromhex(text)
        sent += timed(data + crc_bytes(data), FORM, 9600, at * gap_s)
    return split_frames(sent, FORM, 9600)


def told(*frames: str) -> list[str]:
    """The sentences, trouble marked."""
    return [
        f"{'(!) ' if each.trouble else ''}{each.text}" for each in decode_log(received(*frames))
    ]


@pytest.mark.parametrize(
    ("frames", "words"),
    [
        (
            ["11 03 00 6B 00 03", "11 03 06 02 2B 00 00 00 64"],
            [
                "the master asks device 17 for 3 holding registers from address 107 (40108) on",
                "device 17 answers: 555, 0, 100",
            ],
        ),
        (
            ["11 02 00 C4 00 03", "11 02 01 05"],
            [
                "the master asks device 17 for 3 discrete inputs from address 196 (10197) on",
                "device 17 answers: 1, 0, 1",
            ],
        ),
        (
            ["11 04 00 08 00 01", "11 84 02"],
            [
                "the master asks device 17 for 1 input register from address 8 (30009) on",
                "(!) device 17 refuses (exception 02): "
                "the device does not have all of these addresses",
            ],
        ),
        (
            ["11 05 00 AC FF 00", "11 05 00 AC FF 00", "11 06 00 01 00 03", "11 06 00 01 00 03"],
            [
                "the master tells device 17 to switch on the coil at address 172 (00173)",
                "device 17 has done it",
                "the master tells device 17 to write 3 into the holding register at address 1 "
                "(40002)",
                "device 17 has done it",
            ],
        ),
        (
            ["00 0F 00 13 00 03 01 05", "11 10 00 01 00 02 04 00 0A 01 02", "11 10 00 01 00 02"],
            [
                "the master tells all devices to write 3 coils from address 19 (00020) on: 1, 0, 1",
                "the master tells device 17 to write 2 holding registers from address 1 (40002) "
                "on: 10, 258",
                "device 17 has done it",
            ],
        ),
        (
            ["11 03 00 00 00 01", "11 03 00 00 00 01", "12 03 00 00 00 01", "12 03 02 00 07"],
            [
                "the master asks device 17 for 1 holding register from address 0 (40001) on",
                "(!) device 17 has not answered",
                "the master asks device 17 for 1 holding register from address 0 (40001) on",
                "(!) device 17 has not answered",
                "the master asks device 18 for 1 holding register from address 0 (40001) on",
                "device 18 answers: 7",
            ],
        ),
        (
            ["12 03 00 00 00 01", "11 03 02 00 07", "12 03 02 00 08"],
            [
                "the master asks device 18 for 1 holding register from address 0 (40001) on",
                "(!) device 17 answers and was not asked just now: it is too late, or another "
                "master asked it",
                "device 18 answers: 8",
            ],
        ),
        (
            ["12 03 00 00 00 01", "12 03 04 00 07 00 08"],
            [
                "the master asks device 18 for 1 holding register from address 0 (40001) on",
                "(!) device 18 answers, but not what it was asked: The reply has 6 bytes where 4 "
                "belong.",
            ],
        ),
        (
            ["11 03 00 00 00 7E", "11 83 03", "11 2B 0E 01 00", "11 AB 01"],
            [
                "(!) the master asks device 17 what it has to refuse: The request names 126 "
                "holding registers; function 03 takes 1 to 125: divide it into several requests.",
                "(!) device 17 refuses (exception 03): the request holds a number or a length "
                "that is not allowed",
                "(!) the master asks device 17 what it has to refuse: Function 2B is not known "
                "here; known are 01 to 06, 0F and 10.",
                "(!) device 17 refuses (exception 01): the device does not have this function",
            ],
        ),
        (
            ["11 2B 0E 01 00", "11 83 01"],
            [
                "(!) the master asks device 17 what it has to refuse: Function 2B is not known "
                "here; known are 01 to 06, 0F and 10.",
                "(!) device 17 answers, but not what it was asked: A device has to refuse what "
                "it was asked.",
            ],
        ),
        (["11 83 02 02"], ["(!) device 17 refuses in a form that cannot be read"]),
    ],
)
def test_what_is_told(frames: list[str], words: list[str]) -> None:
    assert told(*frames) == words


def test_many_values_are_counted() -> None:
    values = " ".join("00 01" for _ in range(20))
    *_, last = told("11 03 00 00 00 14", f"11 03 28 {values}")
    assert last == f"device 17 answers: {', '.join('1' * 16)} and 4 more"


def test_spoiled_frames_are_told_and_change_nothing_else() -> None:
    ask, spoiled, answer = received("11 03 00 00 00 01", "11 03 02 00 07", "11 03 02 00 07")
    wrong = replace(spoiled, characters=(*spoiled.characters[:3], *spoiled.characters[4:]))
    cut = replace(spoiled, spoiled_by=("a parity error in character 2",))
    _, first, second, last = decode_log([ask, wrong, cut, answer])
    assert first.trouble
    assert first.text.startswith("nobody takes a frame: The CRC of the frame is")
    assert second.text == "nobody takes a frame: a parity error in character 2."
    assert second.time_s == spoiled.start_s
    assert last.text == "device 17 answers: 7"
    assert not last.trouble


@given(st.lists(st.one_of(REQUESTS, REPLIES), max_size=6), st.integers(0, 255))
def test_any_frames_give_sentences(messages: list[Request | Reply], address: int) -> None:
    frames = [Frame(address, each.to_bytes()).to_bytes()[:-2].hex() for each in messages]
    sentences = decode_log(received(*frames, gap_s=0.5))
    assert len(sentences) >= len(messages)


@given(REQUESTS)
def test_a_device_that_answers_is_never_told_as_silent(request_: Request) -> None:
    device = DeviceTables()
    asked = Frame.of_request(17, request_)
    answer, _ = device.receive(17, asked)
    assert answer is not None
    frames = [frame.to_bytes()[:-2].hex() for frame in (asked, answer)]
    first, second = decode_log(received(*frames, gap_s=0.5))
    assert not first.trouble
    assert "exception 02" in second.text


def test_only_receptions_can_be_read() -> None:
    with pytest.raises(PlanError, match="must hold only Reception objects"):
        decode_log([b"\x11"])  # type: ignore[list-item]
