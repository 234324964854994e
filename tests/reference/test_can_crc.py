"""The CRC-15 against other implementations and against its published properties.

Polynomial: ISO 11898-1. Published check value of CRC-15/CAN over the ASCII text "123456789":
0x059E (catalogue of parametrised CRC algorithms, from memory). `crccheck` comes with cantools.
"""

import pytest
from crccheck.crc import Crc15
from hypothesis import given, settings
from hypothesis import strategies as st

from labkit.fieldbus.can.bits import CRC_POLYNOMIAL, crc15, number_bits
from labkit.fieldbus.can.frame import Frame
from labkit.fieldbus.can.wire import encode

WHOLE_POLYNOMIAL = 0xC599
"""x^15 + x^14 + x^10 + x^8 + x^7 + x^4 + x^3 + 1, every term written out."""


def bits_of_bytes(data: bytes) -> list[int]:
    return [bit for byte in data for bit in number_bits(byte, 8)]


def remainder(bits: list[int]) -> int:
    """Long division of the whole message, shifted by 15, with Python's big integers."""
    left = int("".join(map(str, bits)) or "0", 2) << 15
    while left.bit_length() > 15:
        left ^= WHOLE_POLYNOMIAL << (left.bit_length() - 16)
    return left


def test_published_check_value() -> None:
    assert crc15(bits_of_bytes(b"123456789")) == 0x059E


def test_polynomial_has_the_terms_of_the_standard() -> None:
    terms = (15, 14, 10, 8, 7, 4, 3, 0)
    assert sum(1 << term for term in terms) == WHOLE_POLYNOMIAL == CRC_POLYNOMIAL | 1 << 15


# One recessive bit: x^15 divided by the polynomial leaves the polynomial without its first term.
# Two: x^16 + x^15 leaves (0x4599 << 1, reduced once) + 0x4599. Worked by hand.
@pytest.mark.parametrize(
    ("bits", "expected"),
    [([], 0), ([0, 0, 0], 0), ([1], 0x4599), ([1, 0], 0x4EAB), ([1, 1], 0x0B32)],
)
def test_hand_worked(bits: list[int], expected: int) -> None:
    assert crc15(bits) == expected


@settings(deadline=None)
@given(st.lists(st.integers(0, 1), max_size=130))
def test_agrees_with_long_division(bits: list[int]) -> None:
    assert crc15(bits) == remainder(bits)


@settings(deadline=None)
@given(st.binary(min_size=1, max_size=20))
def test_agrees_with_crccheck(data: bytes) -> None:
    assert crc15(bits_of_bytes(data)) == Crc15.calc(data)


@settings(deadline=None)
@given(st.integers(0, 0x7FF), st.binary(max_size=8))
def test_frame_carries_the_crc_that_crccheck_gives(identifier: int, data: bytes) -> None:
    text = f"0{identifier:011b}000{len(data):04b}" + "".join(f"{byte:08b}" for byte in data)
    # Leading zeros do not change a CRC that starts at zero, so the row can be filled to bytes.
    filled = int(text, 2).to_bytes((len(text) + 7) // 8, "big")
    assert encode(Frame(identifier, data)).crc == Crc15.calc(filled)


# The polynomial was chosen for a Hamming distance of 6 over the 127 bits that a frame has at most:
# every 1 to 5 wrong bits are seen (ISO 11898-1; Koopman and Chakravarty, "Cyclic Redundancy Code
# Polynomial Selection for Embedded Networks", DSN 2004; both from memory).
def syndromes(bits: int) -> list[int]:
    """What each single wrong bit of a code word of that many bits does to the CRC."""
    return [crc15([1] + [0] * place) for place in range(bits - 15)] + [1 << n for n in range(15)]


def fewest_unseen_even_errors(bits: int) -> int:
    """2 or 4 if so many wrong bits can stay unseen, else 6: sums of two syndromes that agree."""
    found = syndromes(bits)
    if len(set(found)) < len(found):
        return 2
    pairs: set[int] = set()
    for place, one in enumerate(found):
        for other in found[:place]:
            if one ^ other in pairs:
                return 4
            pairs.add(one ^ other)
    return 6


def test_every_odd_number_of_wrong_bits_is_seen() -> None:
    # x + 1 divides the polynomial, which then has an even number of terms.
    assert all((syndrome.bit_count() + 1) % 2 == 0 for syndrome in syndromes(127)[: 127 - 15])


def test_hamming_distance_is_six_up_to_127_bits_and_no_further() -> None:
    assert fewest_unseen_even_errors(127) == 6
    assert fewest_unseen_even_errors(128) < 6
