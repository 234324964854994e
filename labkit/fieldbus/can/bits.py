"""The two mechanisms under every classical CAN frame: bit stuffing and the CRC-15 check.

A bit is an int: 0 is dominant, 1 is recessive. Source of both: ISO 11898-1 (classical base and
extended format), the same in the CAN specification 2.0 of 1991.
"""

from collections.abc import Iterable, Sequence

from labkit.fieldbus.check_sums import CHECK_SUMS
from labkit.fieldbus.errors import PlanError

DOMINANT = 0
RECESSIVE = 1

_CRC = CHECK_SUMS["CRC-15/CAN"]

CRC_POLYNOMIAL = _CRC.polynomial
"""x^15 + x^14 + x^10 + x^8 + x^7 + x^4 + x^3 + 1, the leading term left out (ISO 11898-1)."""

CRC_BITS = _CRC.width

STUFF_RUN = 5
"""After this many equal bits the transmitter inserts one complementary bit (ISO 11898-1)."""

_SPACERS = " _\t\n|"


def bits_of(text: str | Iterable[int]) -> tuple[int, ...]:
    """Read bits from a text such as `"0100 1011"` or from a sequence of 0 and 1.

    Blanks, underscores and bars between the bits are skipped. Raises `PlanError` that names the
    first thing that is neither 0 nor 1.
    """
    if isinstance(text, str):
        return _bits_of_text(text)
    try:
        found = tuple(text)
    except TypeError:
        raise PlanError(
            f"{text!r} is no row of bits: give a text of 0 and 1 or a list of them."
        ) from None
    for place, bit in enumerate(found):
        if type(bit) is not int or bit not in (DOMINANT, RECESSIVE):
            raise PlanError(
                f"Bit {place} is {bit!r}: a bit is 0 (dominant) or 1 (recessive), nothing else."
            )
    return found


def _bits_of_text(text: str) -> tuple[int, ...]:
    kept = [sign for sign in text if sign not in _SPACERS]
    for place, sign in enumerate(kept):
        if sign not in ("0", "1"):
            raise PlanError(
                f"Bit {place} is written {sign!r}: a bit is 0 (dominant) or 1 (recessive)."
            )
    return tuple(int(sign) for sign in kept)


def number_bits(value: int, width: int) -> tuple[int, ...]:
    """Return `value` as `width` bits, most significant first, the order on the wire."""
    return tuple((value >> place) & 1 for place in reversed(range(width)))


def bits_number(bits: Iterable[int]) -> int:
    """Return the number that `bits` write, most significant first; no bits write 0."""
    value = 0
    for bit in bits:
        value = value << 1 | bit
    return value


def crc15(bits: Iterable[int]) -> int:
    """Return the CRC sequence (0 to 0x7FFF) over unstuffed bits from start of frame to data.

    The remainder of B(x)·x^15 divided by the generator polynomial over GF(2), the register
    starting at zero: ISO 11898-1. For a frame the bits are the start of frame, arbitration,
    control and data fields without stuff bits.
    """
    return _CRC.of_bits(bits)


def stuff_places(bits: Sequence[int]) -> tuple[int, ...]:
    """Return the indexes in `bits` after which a stuff bit is inserted.

    A stuff bit itself begins the next run, so that the pattern 11111 0000 1111 … is stuffed after
    5, then after every 4 further bits (ISO 11898-1). A run that ends with the last bit is stuffed
    as well.
    """
    places = []
    run = 0
    last = None
    for place, bit in enumerate(bits):
        run = run + 1 if bit == last else 1
        last = bit
        if run == STUFF_RUN:
            places.append(place)
            last = 1 - bit
            run = 1
    return tuple(places)


def stuff(bits: Sequence[int]) -> tuple[int, ...]:
    """Return `bits` with the stuff bits inserted."""
    places = set(stuff_places(bits))
    stuffed: list[int] = []
    for place, bit in enumerate(bits):
        stuffed.append(bit)
        if place in places:
            stuffed.append(1 - bit)
    return tuple(stuffed)


def unstuff(bits: Sequence[int]) -> tuple[int, ...]:
    """Return stuffed `bits` without their stuff bits.

    Raises `PlanError` with "stuff error at bit n" where a sixth equal bit follows five.
    """
    plain: list[int] = []
    run = 0
    last = None
    for place, bit in enumerate(bits):
        if run == STUFF_RUN and bit == last:
            raise PlanError(stuff_error_sentence(place, bit))
        stuffed = run == STUFF_RUN
        run = run + 1 if bit == last else 1
        last = bit
        if not stuffed:
            plain.append(bit)
    return tuple(plain)


def stuff_error_sentence(place: int, level: int) -> str:
    """Say that `place` (first bit of the row is bit 0) is a sixth bit of the same level."""
    word = "recessive" if level == RECESSIVE else "dominant"
    hint = (
        "an active error flag looks like this"
        if level == DOMINANT
        else "the sender fell silent or a passive error flag began"
    )
    return (
        f"Stuff error at bit {place}: a sixth {word} bit in a row where a stuff bit is due; {hint}."
    )
