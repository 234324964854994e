"""Bit stuffing as formulas ask for it: a row of bits as a text of 0 and 1."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Any, Final

from labkit.fieldbus.can.bits import bits_of, stuff_places


def stuff_count(row: str) -> int:
    """How many stuff bits a sender puts into a row of bits such as "0000011" (ISO 11898-1).

    One after each five equal bits; a stuff bit begins the next run. Raises `PlanError` for
    anything but 0 and 1.
    """
    return len(stuff_places(bits_of(row)))


def stuffed_row(row: str) -> str:
    """The row as it goes on the wire, each stuff bit in round brackets: "00000(1)11"."""
    bits = bits_of(row)
    places = set(stuff_places(bits))
    shown = [f"{bit}({1 - bit})" if place in places else str(bit) for place, bit in enumerate(bits)]
    return "".join(shown)


STUFFING_FUNCTIONS: Final[Mapping[str, Any]] = MappingProxyType(
    {"stuff_count": stuff_count, "stuffed_row": stuffed_row}
)
