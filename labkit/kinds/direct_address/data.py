"""What an exercise of the kind `direct_address` is made of."""

from __future__ import annotations

from typing import TypedDict

Answer = str
"""An address as typed: "%IX4.2"."""


class MapBlock(TypedDict):
    """A device's data on the map: its first byte and how many."""

    device: str
    at: int
    length: int


class DirectAddressAsk(TypedDict):
    """The map of one area ("input", "output"), as drawn, and the size that is asked for."""

    area: str
    bytes: int
    blocks: list[MapBlock]
    size: str


class AddressSlip(TypedDict):
    """A known mistake, and the address that it leads to."""

    id: str
    address: str
    tell: str


class DirectAddressKey(TypedDict):
    """The right address, and the known mistakes."""

    address: str
    slips: list[AddressSlip]
