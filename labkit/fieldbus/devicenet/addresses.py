"""Node addresses of a DeviceNet network: whole numbers from 0 to 63, no two alike (IEC 62026-3)."""

from collections.abc import Collection, Iterable, Sequence
from typing import Final

from labkit.fieldbus import node_addresses
from labkit.fieldbus.checked import whole
from labkit.fieldbus.devicenet.parts import HIGHEST_ADDRESS
from labkit.fieldbus.node_addresses import AddressPlan, AddressProblem, Reserved

AS_DELIVERED: Final = 63
"""The address new devices usually come with (common practice, no source)."""


def check_addresses(
    pairs: Iterable[tuple[str, object]],
    *,
    limit: int = HIGHEST_ADDRESS,
    reserved: Reserved = (),
    keep_free: Sequence[int] = (),
) -> tuple[AddressProblem, ...]:
    """`labkit.fieldbus.node_addresses.check_addresses` from 0 to `limit`."""
    return node_addresses.check_addresses(
        pairs, _up_to(limit), reserved=reserved, keep_free=keep_free
    )


def complete_addresses(
    pairs: Iterable[tuple[str, object]],
    *,
    limit: int = HIGHEST_ADDRESS,
    reserved: Reserved = (),
    keep_free: Sequence[int] = (),
    locked: Collection[str] = (),
) -> AddressPlan:
    """`labkit.fieldbus.node_addresses.complete_addresses` from 0 to `limit`."""
    return node_addresses.complete_addresses(
        pairs, _up_to(limit), reserved=reserved, keep_free=keep_free, locked=locked
    )


def _up_to(limit: int) -> range:
    return range(whole(limit, "The highest address", 0, HIGHEST_ADDRESS) + 1)
