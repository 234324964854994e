"""Frames to bits and back, and what a listener says about disturbed ones."""

from itertools import groupby

import pytest
from can_strategies import frames
from hypothesis import given, settings
from hypothesis import strategies as st

from labkit.fieldbus.can.bits import crc15, number_bits, unstuff
from labkit.fieldbus.can.frame import Frame
from labkit.fieldbus.can.wire import BusErrorKind, Field, decode, encode, frame_from_bits
from labkit.fieldbus.errors import PlanError

TAIL_BITS = 10


@settings(deadline=None)
@given(frames(), st.booleans())
def test_frame_to_bits_and_back(frame: Frame, acknowledged: bool) -> None:
    wire = encode(frame, acknowledged=acknowledged)
    decoded = decode(wire.levels)
    assert decoded.frame == frame
    assert decoded.acknowledged == acknowledged
    assert decoded.bits == wire.bits
    assert decoded.spans == wire.spans
    assert bool(decoded.errors) != acknowledged


@settings(deadline=None)
@given(frames())
def test_from_bits(frame: Frame) -> None:
    assert frame_from_bits(encode(frame).text) == frame


@settings(deadline=None)
@given(frames())
def test_no_six_equal_bits_up_to_the_crc(frame: Frame) -> None:
    stuffed = encode(frame).levels[:-TAIL_BITS]
    assert all(len(list(run)) <= 5 for _, run in groupby(stuffed))


@settings(deadline=None)
@given(frames())
def test_stuff_bits_are_marked_where_they_are(frame: Frame) -> None:
    wire = encode(frame)
    plain = [bit.level for bit in wire.bits[:-TAIL_BITS] if not bit.stuff]
    assert unstuff(wire.levels[:-TAIL_BITS]) == tuple(plain)
    assert crc15(plain) == 0
    assert wire.stuff_bits == len(wire.bits) - TAIL_BITS - len(plain)


@settings(max_examples=40, deadline=None)
@given(frames())
def test_every_single_flipped_bit_is_seen(frame: Frame) -> None:
    levels = list(encode(frame).levels)
    for place in range(len(levels)):
        flipped = levels.copy()
        flipped[place] ^= 1
        assert decode(flipped).errors, f"bit {place} flipped unseen"


@settings(max_examples=40, deadline=None)
@given(frames())
def test_receivers_refuse_every_flip_before_the_last_bit_but_of_the_slot(frame: Frame) -> None:
    wire = encode(frame)
    for place, bit in enumerate(wire.bits[:-1]):
        flipped = list(wire.levels)
        flipped[place] ^= 1
        accepted = decode(flipped).frame
        if bit.field is Field.ACKNOWLEDGE_SLOT:
            assert accepted == frame
        else:
            assert accepted is None


@settings(deadline=None)
@given(st.lists(st.integers(0, 1), max_size=160))
def test_any_row_of_bits_gives_a_frame_or_an_error(row: list[int]) -> None:
    decoded = decode(row)
    assert decoded.errors or decoded.frame is not None
    for error in decoded.errors:
        assert error.sentence.endswith(".")
        assert 0 <= error.bit <= len(row)


@settings(deadline=None)
@given(frames(), st.data())
def test_cut_short_row_says_where_it_ends(frame: Frame, data: st.DataObject) -> None:
    levels = encode(frame).levels
    kept = data.draw(st.integers(0, len(levels) - 1))
    decoded = decode(levels[:kept])
    assert decoded.frame is None
    assert decoded.errors[-1].kind is BusErrorKind.CUT_SHORT
    assert decoded.errors[-1].bit == kept == len(decoded.bits)


@settings(deadline=None)
@given(frames(), st.lists(st.integers(0, 1), max_size=20))
def test_bits_behind_the_end_are_not_read(frame: Frame, rest: list[int]) -> None:
    levels = encode(frame).levels
    decoded = decode([*levels, *rest])
    assert decoded.frame == frame
    assert len(decoded.bits) == len(levels)


# Worked by hand after the field order of ISO 11898-1; stuff bits in brackets.
def test_hand_worked_base_frame_without_data() -> None:
    wire = encode(Frame(0x555))
    crc = crc15([0, *number_bits(0x555, 11), 0, 0, 0, 0, 0, 0, 0])
    # SOF 0, identifier 10101010101, RTR IDE r0 and DLC 0000000: 00000[1]00.
    assert wire.text.startswith("0" + "10101010101" + "00000" + "1" + "00")
    assert wire.text.endswith("1" + "0" + "1" + "1111111")
    assert wire.crc == crc
    spans = {span.field: span for span in wire.spans}
    assert spans[Field.DATA_LENGTH].start == 15
    assert spans[Field.DATA_LENGTH].stop == 20
    assert spans[Field.DATA_LENGTH].width == 4
    assert Field.DATA not in spans


def test_hand_worked_extended_frame_head() -> None:
    wire = encode(Frame.remote_request(0x0AAAAAAA, 5, extended=True))
    # 0x0AAAAAAA: 01010101010, SRR 1, IDE 1, then 101010101010101010, RTR 1, r1 r0 00, DLC 0101.
    assert wire.text.startswith(
        "0" + "01010101010" + "11" + "101010101010101010" + "1" + "00" + "0101"
    )


def test_fields_of_both_formats_in_order() -> None:
    base = [span.field for span in encode(Frame(0x123, b"\x01")).spans]
    assert base == [
        Field.START_OF_FRAME,
        Field.IDENTIFIER,
        Field.REMOTE_REQUEST,
        Field.IDENTIFIER_EXTENSION,
        Field.RESERVED_0,
        Field.DATA_LENGTH,
        Field.DATA,
        Field.CRC,
        Field.CRC_DELIMITER,
        Field.ACKNOWLEDGE_SLOT,
        Field.ACKNOWLEDGE_DELIMITER,
        Field.END_OF_FRAME,
    ]
    extended = [span.field for span in encode(Frame(0x123, extended=True)).spans]
    assert extended[1:8] == [
        Field.IDENTIFIER,
        Field.SUBSTITUTE_REMOTE_REQUEST,
        Field.IDENTIFIER_EXTENSION,
        Field.EXTENDED_IDENTIFIER,
        Field.REMOTE_REQUEST,
        Field.RESERVED_1,
        Field.RESERVED_0,
    ]


def kinds(levels: list[int]) -> list[BusErrorKind]:
    return [error.kind for error in decode(levels).errors]


def test_each_kind_of_error_is_called_by_its_name() -> None:
    frame = Frame(0x2AA, b"\xa5")
    levels = list(encode(frame).levels)
    size = len(levels)
    # From the end: 7 end of frame, delimiter, slot, delimiter.
    for place, kind in {
        0: BusErrorKind.FORM,
        size - 10: BusErrorKind.FORM,
        size - 9: BusErrorKind.ACKNOWLEDGEMENT,
        size - 8: BusErrorKind.FORM,
        size - 7: BusErrorKind.FORM,
        size - 2: BusErrorKind.FORM,
        size - 1: BusErrorKind.OVERLOAD,
        size - 11: BusErrorKind.CRC,
    }.items():
        flipped = levels.copy()
        flipped[place] ^= 1
        assert kind in kinds(flipped), place


def test_form_error_at_the_last_bit_but_one_of_the_crc_side() -> None:
    frame = Frame(0x2AA)
    flipped = list(encode(frame).levels)
    flipped[-8] = 0
    (error,) = decode(flipped).errors
    assert error.bit == len(flipped) - 8
    assert error.sentence == (
        f"Form error at bit {error.bit}: the acknowledge delimiter bit must be recessive."
    )


def test_error_flag_shows_as_a_stuff_error() -> None:
    levels = list(encode(Frame(0x555, bytes(8))).levels)
    levels[12:18] = [0] * 6
    decoded = decode(levels)
    assert decoded.frame is None
    assert decoded.errors[-1].kind is BusErrorKind.STUFF
    # Identifier 0x555 ends recessive at bit 11: dominant bits 12 to 16 are due a stuff bit at 17.
    assert decoded.errors[-1].bit == 17
    assert "error flag" in decoded.errors[-1].sentence


def test_crc_error_tells_both_values() -> None:
    frame = Frame(0x2AA, b"\xa5")
    levels = list(encode(frame).levels)
    levels[-11] ^= 1
    crc = encode(frame).crc
    errors = decode(levels).errors
    assert f"carries 0x{crc ^ 1:04X}, its bits give 0x{crc:04X}" in errors[0].sentence


def test_from_bits_raises_the_first_sentence() -> None:
    with pytest.raises(PlanError, match="Acknowledgement error at bit"):
        frame_from_bits(encode(Frame(1), acknowledged=False).text)
    with pytest.raises(PlanError, match="Cut short: the bits end at bit 0, in the start of frame"):
        frame_from_bits("")


@pytest.mark.parametrize("place", [13, 14])
def test_recessive_reserved_bit_is_accepted_by_a_classical_receiver(place: int) -> None:
    # r0 of a base frame is bit 14, SRR of an extended one bit 12: both may have either level.
    frame = Frame(0x2AA, extended=False)
    plain = [0, *number_bits(0x2AA, 11), 0, 0, 0, 0, 0, 0, 0]
    if place == 13:
        frame = Frame(0x2AA << 18 | 0x15555, extended=True)
        plain = [0, *number_bits(0x2AA, 11), 0, 1, *number_bits(0x15555, 18), 0, 0, 0, 0, 0, 0, 0]
    else:
        plain[14] = 1
    from labkit.fieldbus.can.bits import stuff

    row = [*stuff([*plain, *number_bits(crc15(plain), 15)]), 1, 0, 1, *[1] * 7]
    assert decode(row).frame == frame
