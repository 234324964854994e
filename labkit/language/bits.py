"""Functions of bits and bytes for every lab, and numbers as IEC 61131-3 writes them.

Bits are counted from 0, the least significant; lists begin with the most significant bit or byte.
A number here is whole, from 0, and has up to 64 bits: a long word of IEC 61131-3.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from functools import reduce
from operator import and_, or_, xor
from typing import Any, Final

from labkit.fieldbus.checked import whole
from labkit.language.no_value import NoValueError, kind_of

MOST_BITS: Final = 64
MOST_BYTES: Final = 1_000
"""Bytes in one go: several frames of any fieldbus."""
_LARGEST: Final = (1 << MOST_BITS) - 1
_BITS_A_BYTE: Final = 8


def bit(number: int, place: int) -> int:
    """The bit at a place, 0 or 1."""
    return _word(number) >> _place(place) & 1


def set_bit(number: int, place: int, value: int = 1) -> int:
    """The number with the bit at a place set to 1, or to `value`."""
    mask = 1 << _place(place)
    on = value if isinstance(value, bool) else whole(_tidy(value), "the value of a bit", 0, 1)
    return _word(number) | mask if on else _word(number) & ~mask


def bit_and(number: int, *others: int) -> int:
    """The bits that are 1 in all numbers."""
    return reduce(and_, map(_word, others), _word(number))


def bit_or(number: int, *others: int) -> int:
    """The bits that are 1 in one of the numbers."""
    return reduce(or_, map(_word, others), _word(number))


def bit_xor(number: int, *others: int) -> int:
    """The bits that are 1 in an odd count of numbers."""
    return reduce(xor, map(_word, others), _word(number))


def bit_not(number: int, bits: int) -> int:
    """So many bits of the number, each turned over."""
    return _fitting(number, bits) ^ ((1 << _width(bits)) - 1)


def shift_left(number: int, places: int) -> int:
    """The bits moved up, zeros behind them."""
    return _word(_word(number) << _count(places))


def shift_right(number: int, places: int) -> int:
    """The bits moved down, the last ones dropped."""
    return _word(number) >> _count(places)


def signed(number: int, bits: int) -> int:
    """The number that so many bits mean in two's complement: of 16#FFFE and 16 it is -2."""
    found, width = _fitting(number, bits), _width(bits)
    return found - (1 << width) if found >> (width - 1) else found


def unsigned(number: int, bits: int) -> int:
    """The bits of a number in two's complement, as a number from 0: of -2 and 16 it is 16#FFFE."""
    half = 1 << (_width(bits) - 1)
    return whole(_tidy(number), f"the number for {bits} bits", -half, half - 1) % (2 * half)


def bits_of(number: int, count: int) -> list[int]:
    """So many bits, the most significant one first."""
    found = _fitting(number, count)
    return [found >> place & 1 for place in reversed(range(_width(count)))]


def bytes_of(number: int, count: int) -> list[int]:
    """So many bytes, the most significant one first."""
    most = MOST_BITS // _BITS_A_BYTE
    bits = _BITS_A_BYTE * whole(_tidy(count), "the count of bytes", 1, most)
    return [*_fitting(number, bits).to_bytes(bits // _BITS_A_BYTE, "big")]


def number_of(data: Sequence[int]) -> int:
    """The number that up to 8 bytes make, the most significant one first."""
    found = byte_list(data)
    if len(found) > MOST_BITS // _BITS_A_BYTE:
        raise NoValueError(f"a number has up to {MOST_BITS} bits, and here are {len(found)} bytes")
    return int.from_bytes(found, "big")


def bytes_in(text: str) -> list[int]:
    """The bytes that a text says in hexadecimal: "01 03 00 6B"."""
    if not isinstance(text, str):
        raise NoValueError(f"'bytes_in' reads a text, not {kind_of(text)}")
    try:
        found = [*bytes.fromhex(text)]
    except ValueError:
        raise NoValueError(
            f"'{text[:60]}' is not bytes in hexadecimal: two digits 0 to F for each"
        ) from None
    return [*byte_list(found)]


def hex(number: int, digits: int = 1) -> str:
    """The number in hexadecimal with at least so many digits: "16#00FF"."""
    return f"16#{_word(number):0{_digits(digits)}X}"


def binary(number: int, digits: int = 1) -> str:
    """The number in binary with at least so many digits, in groups of four: "2#1010_0101"."""
    written = f"{_word(number):0{_digits(digits)}b}"
    head = len(written) % 4
    groups = [written[at : at + 4] for at in range(head, len(written), 4)]
    return "2#" + "_".join([written[:head], *groups] if head else groups)


def hex_bytes(data: Sequence[int]) -> str:
    """Bytes as two digits each: "01 03 00 6B"."""
    return byte_list(data).hex(" ").upper()


def byte_list(data: Any) -> bytes:
    """A list of numbers 0 to 255 as bytes. Raises `NoValueError`."""
    if not isinstance(data, list | tuple):
        raise NoValueError(f"bytes are a list of numbers, not {kind_of(data)}")
    if len(data) > MOST_BYTES:
        raise NoValueError(f"bytes are limited to {MOST_BYTES}")
    return bytes(whole(_tidy(one), f"byte [{at}]", 0, 255) for at, one in enumerate(data))


def _tidy(value: Any) -> Any:
    """A number that is drawn in steps is a float, and may be whole all the same."""
    return int(value) if isinstance(value, float) and value.is_integer() else value


def _word(number: Any) -> int:
    found = _tidy(number)
    if type(found) is int and 0 <= found <= _LARGEST:
        return found
    said = f"{number:.15g}" if type(found) in (int, float) else kind_of(number)
    reason = f"bits are of a whole number from 0 with up to {MOST_BITS} bits, not of {said}"
    if not said.startswith("-"):
        raise NoValueError(reason)
    raise NoValueError(reason, f"Of a negative number write unsigned({said}, 16).")


def _place(place: Any) -> int:
    return whole(_tidy(place), "the place of a bit", 0, MOST_BITS - 1)


def _count(places: Any) -> int:
    return whole(_tidy(places), "the places to shift by", 0, MOST_BITS)


def _width(bits: Any) -> int:
    return whole(_tidy(bits), "the count of bits", 1, MOST_BITS)


def _digits(digits: Any) -> int:
    return whole(_tidy(digits), "the count of digits", 1, MOST_BITS)


def _fitting(number: Any, bits: Any) -> int:
    """The number, which must fit into so many bits."""
    found = _word(number)
    if found >> _width(bits):
        raise NoValueError(f"{found} does not fit into {bits} bits")
    return found


OF_BITS: Final[Mapping[str, Callable[..., Any]]] = {
    "binary": binary,
    "bit": bit,
    "bit_and": bit_and,
    "bit_not": bit_not,
    "bit_or": bit_or,
    "bit_xor": bit_xor,
    "bits_of": bits_of,
    "bytes_in": bytes_in,
    "bytes_of": bytes_of,
    "hex": hex,
    "hex_bytes": hex_bytes,
    "number_of": number_of,
    "set_bit": set_bit,
    "shift_left": shift_left,
    "shift_right": shift_right,
    "signed": signed,
    "unsigned": unsigned,
}
