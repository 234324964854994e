"""Characters bit by bit, as drawn by hand, and there and back."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labkit.fieldbus import PlanError
from labkit.fieldbus.serial import Character, CharacterFormat, Parity, frame_bits

FORMATS = st.builds(CharacterFormat, st.integers(5, 8), st.sampled_from(Parity), st.integers(1, 2))


@pytest.mark.parametrize(
    ("form", "value", "drawn"),
    [
        ("8E1", 0x41, "0 10000010 0 1"),  # two ones: even already
        ("8E1", 0x43, "0 11000010 1 1"),
        ("8O1", 0x41, "0 10000010 1 1"),
        ("8N2", 0x41, "0 10000010 11"),
        ("7E1", 0x3A, "0 0101110 0 1"),
        ("8N1", 0xFF, "0 11111111 1"),
    ],
)
def test_a_character_as_drawn(form: str, value: int, drawn: str) -> None:
    bits = CharacterFormat.from_text(form).write(value)
    assert bits == tuple(int(bit) for bit in drawn.replace(" ", ""))


def test_eleven_bits_by_default_and_without_parity_with_two_stop_bits() -> None:
    assert CharacterFormat().text == "8E1"
    assert CharacterFormat().bits == CharacterFormat.from_text("8n2").bits == 11
    assert CharacterFormat.from_text("8N1").bits == 10


@given(FORMATS, st.data())
def test_there_and_back(form: CharacterFormat, data: st.DataObject) -> None:
    value = data.draw(st.integers(0, 2**form.data_bits - 1))
    bits = form.write(value)
    assert len(bits) == form.bits
    assert form.read(bits) == Character(value)
    assert CharacterFormat.from_text(form.text) == form


@given(FORMATS, st.data())
def test_a_turned_bit_is_noticed_where_it_can_be(
    form: CharacterFormat, data: st.DataObject
) -> None:
    bits = form.write(data.draw(st.integers(0, 2**form.data_bits - 1)))
    place = data.draw(st.integers(1, form.bits - 1))
    turned = form.read((*bits[:place], 1 - bits[place], *bits[place + 1 :]))
    in_stop = place >= form.bits - form.stop_bits
    assert turned.framing_error == in_stop
    assert turned.parity_error == (form.parity is not Parity.NONE and not in_stop)
    assert turned.sound == (form.parity is Parity.NONE and not in_stop)


def test_two_turned_data_bits_pass_the_parity() -> None:
    bits = [*CharacterFormat().write(0x41)]
    bits[1], bits[2] = 1 - bits[1], 1 - bits[2]
    assert CharacterFormat().read(tuple(bits)) == Character(0x42)


def test_the_bits_of_a_frame_stand_one_after_the_other() -> None:
    form = CharacterFormat()
    assert frame_bits(b"\x11\x03", form) == form.write(0x11) + form.write(0x03)


@pytest.mark.parametrize("text", ["", "8X1", "9E1", "8E3", "8E", "8E1 ", None, 81])
def test_no_format(text: object) -> None:
    with pytest.raises(PlanError, match="such as 8E1"):
        CharacterFormat.from_text(text)  # type: ignore[arg-type]


def test_what_cannot_be_is_refused_in_a_sentence() -> None:
    with pytest.raises(PlanError, match="data bits is 9, outside 5 to 8"):
        CharacterFormat(9)
    with pytest.raises(PlanError, match=r"give Parity\.EVEN"):
        CharacterFormat(parity="E")  # type: ignore[arg-type]
    with pytest.raises(PlanError, match="The character is 128, outside 0 to 127"):
        CharacterFormat(7).write(128)
    with pytest.raises(PlanError, match="has 11 bits of 0 or 1, here are 10"):
        CharacterFormat().read((0,) * 10)
    with pytest.raises(PlanError, match="no start bit"):
        CharacterFormat().read((1,) * 11)
    with pytest.raises(PlanError, match="The bit rate is 0 bit/s; it must be more than 0"):
        CharacterFormat().time_s(0)
