"""Silences by their published values; gaps, errors, and a receiver at another rate or parity."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labkit.fieldbus import PlanError
from labkit.fieldbus.serial import (
    CharacterFormat,
    Reception,
    Silence,
    TimedCharacter,
    edges_of,
    listen,
    silence,
    split_frames,
    timed,
)

FORM = CharacterFormat()
RATES = st.sampled_from([1200, 9600, 19_200, 38_400, 115_200])
FRAME = bytes.fromhex("11 03 00 6B 00 03 76 87")


@pytest.mark.parametrize(
    ("bit_rate", "between_ms", "inside_ms"),
    [
        (9600, 4.01, 1.72),
        (19_200, 2.005, 0.859),
        (19_201, 1.75, 0.75),
        (38_400, 1.75, 0.75),
        (115_200, 1.75, 0.75),
    ],
)
def test_silences_as_published(bit_rate: int, between_ms: float, inside_ms: float) -> None:
    found = silence(bit_rate, FORM)
    assert 1000 * found.between_s == pytest.approx(between_ms, rel=1e-3)
    assert 1000 * found.inside_s == pytest.approx(inside_ms, rel=1e-3)


def with_gap(characters: float, at: int = 3, bit_rate: int = 9600) -> tuple[TimedCharacter, ...]:
    """A frame in which so many character times pass before its character number `at`."""
    whole = timed(FRAME, FORM, bit_rate)
    gap_s = characters * FORM.time_s(bit_rate)
    return tuple(
        replace(each, start_s=each.start_s + gap_s) if place >= at else each
        for place, each in enumerate(whole)
    )


@pytest.mark.parametrize(
    ("gap", "receptions", "whole"),
    [
        (0.0, 1, [True]),
        (1.5, 1, [True]),
        (1.51, 1, [False]),
        (3.49, 1, [False]),
        (3.5, 2, [True, True]),
        (90.0, 2, [True, True]),
    ],
)
def test_what_a_gap_does(gap: float, receptions: int, whole: list[bool]) -> None:
    found = split_frames(with_gap(gap), FORM, 9600)
    assert len(found) == receptions
    assert [each.whole for each in found] == whole
    assert b"".join(each.data for each in found) == FRAME


def test_above_19200_the_fixed_times_hold() -> None:
    """3.5 characters at 115,200 are a third of a millisecond: they pass inside a frame."""
    (found,) = split_frames(with_gap(3.5, bit_rate=115_200), FORM, 115_200)
    assert found.whole


def test_a_gap_is_told_with_its_place_and_length() -> None:
    (found,) = split_frames(with_gap(2.0), FORM, 9600)
    assert found.spoiled_by == ("a gap of 2.29 ms after character 3, where at most 1.72 ms may be",)
    assert found.start_s == 0.0
    assert found.end_s == pytest.approx(10 * FORM.time_s(9600))


def test_a_character_with_an_error_spoils_its_frame_only() -> None:
    first = list(timed(FRAME, FORM, 9600))
    first[2] = replace(first[2], parity_error=True)
    first[4] = replace(first[4], framing_error=True)
    second = timed(FRAME, FORM, 9600, start_s=1.0)
    spoiled, sound = split_frames([*first, *second], FORM, 9600)
    assert spoiled.spoiled_by == ("a parity error in character 3", "a framing error in character 5")
    assert sound == Reception(second, second[-1].start_s + FORM.time_s(9600))


@given(st.lists(st.binary(min_size=1, max_size=20), max_size=5), RATES, st.floats(0, 1e3))
def test_frames_with_silence_between_are_found_again(
    frames: list[bytes], bit_rate: int, start_s: float
) -> None:
    sent: list[TimedCharacter] = []
    for frame in frames:
        sent += timed(frame, FORM, bit_rate, start_s)
        start_s = sent[-1].start_s + FORM.time_s(bit_rate) + silence(bit_rate, FORM).between_s
    found = split_frames(sent, FORM, bit_rate)
    assert [each.data for each in found] == frames
    assert all(each.whole for each in found)


def test_overlap_and_disorder_are_refused() -> None:
    one, two = timed(b"\x01\x02", FORM, 9600)
    with pytest.raises(PlanError, match="begins before the one at"):
        split_frames([two, one], FORM, 9600)
    with pytest.raises(PlanError, match="begins before the one at"):
        split_frames([one, replace(two, start_s=9.8 / 9600)], FORM, 9600)
    assert split_frames([], FORM, 9600) == ()


@given(st.binary(max_size=20), RATES, st.sampled_from(["8E1", "8O1", "8N2", "8N1"]))
def test_a_receiver_set_like_the_sender_hears_every_character(
    data: bytes, bit_rate: int, text: str
) -> None:
    form = CharacterFormat.from_text(text)
    heard = listen(edges_of(data, form, bit_rate), form, bit_rate)
    assert bytes(each.value for each in heard) == data
    assert not any(each.parity_error or each.framing_error for each in heard)
    assert len(split_frames(heard, form, bit_rate)) == bool(data)


@pytest.mark.parametrize("off", [0.98, 1.02])
def test_a_bit_rate_two_per_cent_off_is_heard(off: float) -> None:
    heard = listen(edges_of(FRAME, FORM, 9600 * off), FORM, 9600)
    assert bytes(each.value for each in heard) == FRAME
    (found,) = split_frames(heard, FORM, 9600)
    assert found.whole


def test_another_parity_is_an_error_in_every_character() -> None:
    heard = listen(edges_of(FRAME, CharacterFormat.from_text("8O1"), 9600), FORM, 9600)
    assert bytes(each.value for each in heard) == FRAME
    assert all(each.parity_error for each in heard)


def test_half_the_rate_by_hand() -> None:
    """0x00 in 8N1 is nine bits of 0; a receiver at half the rate sees four and a half of them.

    Its samples lie at 1, 3, 5, 7 and 9 bits of the sender: 0 0 0 0 and then 1.
    """
    form = CharacterFormat.from_text("8N1")
    assert listen(edges_of(b"\x00", form, 19_200), form, 9600) == (TimedCharacter(0.0, 0xF8),)


def test_twice_the_rate_by_hand() -> None:
    """0xFE is the start bit and one more 0, then ones: four bits of 0 at twice the rate."""
    form = CharacterFormat.from_text("8N1")
    assert listen(edges_of(b"\xfe", form, 9600), form, 19_200) == (TimedCharacter(0.0, 0xF8),)


def test_a_line_held_at_zero_is_one_framing_error_and_a_short_fall_is_noise() -> None:
    assert listen([(0.0, 0)], FORM, 9600) == (TimedCharacter(0.0, 0, framing_error=True),)
    assert listen([(0.0, 0), (0.4 / 9600, 1)], FORM, 9600) == ()
    with pytest.raises(PlanError, match="not in the order of time"):
        listen([(1.0, 0), (0.5, 1)], FORM, 9600)


def test_silence_is_a_value() -> None:
    assert silence(38_400, FORM) == Silence(1.75e-3, 0.75e-3)
