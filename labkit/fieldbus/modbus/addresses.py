"""Addresses on the line: 0 to all, 1 to 247 devices, 248 to 255 reserved (V1.02, 2.2).

The master has no address; no two devices may have the same one.
"""

from collections.abc import Collection, Iterable, Sequence
from enum import Enum
from typing import Final

from labkit.fieldbus import node_addresses
from labkit.fieldbus.checked import whole
from labkit.fieldbus.node_addresses import AddressPlan, AddressProblem, Reserved

BROADCAST: Final = 0
"""What is sent to this address all devices carry out and none answers (V1.02, 2.2)."""
DEVICE_ADDRESSES: Final = range(1, 248)
"""Addresses that a device may have (V1.02, 2.2)."""


class AddressUse(Enum):
    """What an address byte stands for (V1.02, 2.2)."""

    BROADCAST = "broadcast"
    DEVICE = "device"
    RESERVED = "reserved"


def address_use(address: int) -> AddressUse:
    """What an address byte, 0 to 255, stands for."""
    whole(address, "The address", 0, 255, "one byte carries it")
    if address == BROADCAST:
        return AddressUse.BROADCAST
    return AddressUse.DEVICE if address in DEVICE_ADDRESSES else AddressUse.RESERVED


def device_address(address: int, what: str = "The address") -> int:
    """`address` itself, 1 to 247."""
    mend = "0 speaks to all devices at once, 248 to 255 are reserved"
    return whole(address, what, DEVICE_ADDRESSES[0], DEVICE_ADDRESSES[-1], mend)


def check_addresses(
    pairs: Iterable[tuple[str, object]],
    *,
    reserved: Reserved = (),
    keep_free: Sequence[int] = (),
) -> tuple[AddressProblem, ...]:
    """`labkit.fieldbus.node_addresses.check_addresses` from 1 to 247."""
    return node_addresses.check_addresses(
        pairs, DEVICE_ADDRESSES, reserved=reserved, keep_free=keep_free
    )


def complete_addresses(
    pairs: Iterable[tuple[str, object]],
    *,
    reserved: Reserved = (),
    keep_free: Sequence[int] = (),
    locked: Collection[str] = (),
) -> AddressPlan:
    """`labkit.fieldbus.node_addresses.complete_addresses` from 1 to 247."""
    return node_addresses.complete_addresses(
        pairs, DEVICE_ADDRESSES, reserved=reserved, keep_free=keep_free, locked=locked
    )
