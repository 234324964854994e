"""Check sums for every lab, by the catalogue's names."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any, Final

from labkit.fieldbus.check_sums import CHECK_SUMS, CheckSum
from labkit.fieldbus.checked import whole
from labkit.language.bits import MOST_BYTES, byte_list
from labkit.language.budget import slow
from labkit.language.no_value import NoValueError, kind_of
from labkit.language.problems import nearest

_STEPS: Final = 100
"""Of 5 µs: what the longest data takes."""
_MOST_BITS: Final = 8 * MOST_BYTES


@slow(_STEPS)
def check_sum(data: Sequence[int] | str, name: str) -> int:
    """The check sum over a list of bytes, or over the characters of a text (ASCII)."""
    if isinstance(data, str) and not data.isascii():
        raise NoValueError(f"'{data[:60]}' has characters that are no bytes (ASCII)")
    found = [*data.encode()] if isinstance(data, str) else data
    return _named(name).of_bytes(byte_list(found))


@slow(_STEPS)
def check_sum_of_bits(bits: Sequence[int], name: str) -> int:
    """The check sum over a list of bits, in the order in which they go over the wire."""
    if not isinstance(bits, list | tuple):
        raise NoValueError(f"bits are a list of 0 and 1, not {kind_of(bits)}")
    if len(bits) > _MOST_BITS:
        raise NoValueError(f"bits are limited to {_MOST_BITS}")
    found = [whole(one, f"bit [{at}] of the list", 0, 1) for at, one in enumerate(bits)]
    return _named(name).of_bits(found)


def _named(name: Any) -> CheckSum:
    if found := CHECK_SUMS.get(str(name)):
        return found
    # "CRC-16" is no one check sum: then all of that width are offered.
    offered = [known for known in CHECK_SUMS if known.startswith(f"{name}/")] or CHECK_SUMS
    raise NoValueError(f"'{name}' is no check sum known here", nearest(str(name), offered))


OF_CHECK_SUMS: Final[Mapping[str, Callable[..., Any]]] = {
    "check_sum": check_sum,
    "check_sum_of_bits": check_sum_of_bits,
}
