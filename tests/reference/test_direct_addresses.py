"""Direct addresses of IEC 61131-3: the standard's prefixes, and struct as the byte-order referee.

The examples %IW215, %QB7 and %QX75 are in the standard's table of directly represented variables
(from memory); what the numbers count is left to the implementer there.
"""

import struct
from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labkit.fieldbus.direct_address import (
    Addressing,
    Area,
    ByteOrder,
    DirectAddress,
    Numbering,
    Size,
)
from labkit.fieldbus.errors import PlanError

FORMATS = {Size.BYTE: "B", Size.WORD: "H", Size.DOUBLE_WORD: "I", Size.LONG_WORD: "Q"}
ELEMENTS = st.sampled_from(list(FORMATS))
ADDRESSING = st.builds(Addressing, st.sampled_from(Numbering), st.sampled_from(ByteOrder))


@pytest.mark.parametrize(
    ("text", "address"),
    [
        ("%IW215", DirectAddress(Area.INPUT, Size.WORD, 215)),
        ("%QB7", DirectAddress(Area.OUTPUT, Size.BYTE, 7)),
        ("%IX4.2", DirectAddress(Area.INPUT, Size.BIT, 4, 2)),
        ("%ID1", DirectAddress(Area.INPUT, Size.DOUBLE_WORD, 1)),
        ("%QL3", DirectAddress(Area.OUTPUT, Size.LONG_WORD, 3)),
        (" %qx0.7 ", DirectAddress(Area.OUTPUT, Size.BIT, 0, 7)),
        ("%I4.2", DirectAddress(Area.INPUT, Size.BIT, 4, 2)),
    ],
)
def test_texts(text: str, address: DirectAddress) -> None:
    assert DirectAddress.from_text(text) == address
    assert DirectAddress.from_text(str(address)) == address


@pytest.mark.parametrize(
    ("text", "numbering", "expected"),
    [
        ("%IB5", Numbering.BY_ELEMENT, range(5, 6)),
        ("%IW2", Numbering.BY_ELEMENT, range(4, 6)),
        ("%ID1", Numbering.BY_ELEMENT, range(4, 8)),
        ("%IL1", Numbering.BY_ELEMENT, range(8, 16)),
        ("%IX5.0", Numbering.BY_ELEMENT, range(5, 6)),
        ("%IW4", Numbering.BY_BYTE, range(4, 6)),
        ("%ID4", Numbering.BY_BYTE, range(4, 8)),
    ],
)
def test_bytes_of_an_address(text: str, numbering: Numbering, expected: range) -> None:
    assert Addressing(numbering).bytes_of(DirectAddress.from_text(text)) == expected


@given(ADDRESSING, ELEMENTS, st.integers(0, 200), st.integers(0, 7))
def test_a_bit_has_the_weight_that_struct_gives_it(
    addressing: Addressing, size: Size, byte: int, bit: int
) -> None:
    element = addressing.element(Area.INPUT, byte, size)
    area = bytearray(256)
    area[byte] = 1 << bit
    order = "<" if addressing.byte_order is ByteOrder.LOW_FIRST else ">"
    span = addressing.bytes_of(element)
    (value,) = struct.unpack(order + FORMATS[size], area[span.start : span.stop])
    assert value == 1 << addressing.bit_of_element(element, byte, bit)


@given(ADDRESSING, ELEMENTS, st.integers(0, 200), st.integers(0, 7))
def test_bit_of_element_and_back(addressing: Addressing, size: Size, byte: int, bit: int) -> None:
    element = addressing.element(Area.OUTPUT, byte, size)
    there = addressing.bit_of_element(element, byte, bit)
    assert addressing.byte_and_bit(element, there) == (byte, bit)


@pytest.mark.parametrize(
    "text",
    [
        "",
        "IW2",
        "%MW2",
        "%IX2",
        "%QX75",
        "%IW2.5.7.1",
        "%IX2.8",
        "%IW2.1",
        "%IB-1",
        "%IB70000",
        "%IX٣.1",
        "%IW 2",
        "%KW1",
        None,
        5,
    ],
)
def test_what_is_no_direct_address(text: str) -> None:
    with pytest.raises(PlanError, match=r"[.;]"):
        DirectAddress.from_text(text)


@pytest.mark.parametrize(
    "bad",
    [
        lambda: DirectAddress("I", Size.WORD, 1),  # type: ignore[arg-type]
        lambda: DirectAddress(Area.INPUT, Size.BIT, 1),
        lambda: DirectAddress(Area.INPUT, Size.WORD, 1, 0),
        lambda: DirectAddress(Area.INPUT, Size.WORD, True),
        lambda: Addressing().element(Area.INPUT, 3, Size.BIT),
        lambda: Addressing().bit_of_element(DirectAddress.from_text("%IW2"), 3, 0),
        lambda: Addressing().byte_and_bit(DirectAddress.from_text("%IW2"), 16),
        lambda: Addressing().byte_and_bit(DirectAddress.from_text("%IX2.1"), 0),
    ],
)
def test_what_cannot_be_is_refused(bad: Callable[[], object]) -> None:
    with pytest.raises(PlanError, match=r"[.;]"):
        bad()
