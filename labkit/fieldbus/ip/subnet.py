"""IPv4 prefixes: range, usable hosts, private blocks, and which addresses a port may have.

Prefix notation and counting after RFC 4632; private blocks RFC 1918; the two-address /31 of a
point-to-point link RFC 3021; a /32 is one single address. Special addresses after RFC 1122
section 3.2.1.3 (this network 0/8, loopback 127/8, limited broadcast), RFC 3927 (link-local
169.254/16) and RFC 1112 (multicast 224/4, reserved 240/4).
Section and figure numbers of the RFCs are from memory.
"""

from ipaddress import AddressValueError, IPv4Address, IPv4Interface, IPv4Network

from labkit.fieldbus.checked import whole
from labkit.fieldbus.errors import PlanError

PRIVATE_BLOCKS = (
    IPv4Network("10.0.0.0/8"),
    IPv4Network("172.16.0.0/12"),
    IPv4Network("192.168.0.0/16"),
)
"""Address blocks for networks that never meet the internet (RFC 1918 section 3)."""

_SPECIAL_BLOCKS = {
    IPv4Network("0.0.0.0/8"): "of the block 0/8, which means this network and names no host",
    IPv4Network("127.0.0.0/8"): "a loopback address, which never leaves the machine",
    IPv4Network("169.254.0.0/16"): "a link-local address, which a port gives itself when no "
    "server answers",
    IPv4Network("224.0.0.0/4"): "a multicast address, which names a group and no port",
    IPv4Network("240.0.0.0/4"): "of the reserved block 240/4",
}


def address_of(text: str | IPv4Address) -> IPv4Address:
    """Read an address in dotted decimal, such as 192.168.1.10; no leading zeros."""
    if isinstance(text, IPv4Address) and not isinstance(text, IPv4Interface):
        return text
    if not isinstance(text, str):
        raise PlanError(f"an IPv4 address is text such as 192.168.1.10, not {text!r}.")
    try:
        return IPv4Address(text.strip())
    except AddressValueError:
        raise PlanError(
            f"{text!r} is no IPv4 address; write four numbers from 0 to 255 with dots between, "
            "without leading zeros."
        ) from None


def prefix_of(text: str) -> int:
    """Prefix length, 0 to 32, of `24` or of a mask `255.255.255.0`.

    A mask whose ones have a gap, or that is written inside out, raises `PlanError`.
    """
    if not isinstance(text, str):
        raise PlanError(f"a prefix is text such as 24 or 255.255.255.0, not {text!r}.")
    text = text.strip()
    if text.isascii() and text.isdigit():
        return whole(int(text[:4]), "the prefix length", 0, 32)
    mask = int(address_of(text))
    prefix = mask.bit_count()
    if mask != _mask(prefix):
        raise PlanError(
            f"{text} is no subnet mask: its ones must stand together at the left; "
            "write for example 255.255.255.0."
        )
    return prefix


def interface_of(text: str | IPv4Interface) -> IPv4Interface:
    """Read address and prefix, `192.168.1.10/24` or `192.168.1.10/255.255.255.0`."""
    if isinstance(text, IPv4Interface):
        return text
    address, prefix = _split(text, "192.168.1.10/24")
    return IPv4Interface((int(address_of(address)), prefix_of(prefix)))


def network_of(text: str | IPv4Network) -> IPv4Network:
    """Read a network, `192.168.1.0/24`; host bits that are set raise `PlanError`."""
    if isinstance(text, IPv4Network):
        return text
    address, prefix = _split(text, "192.168.1.0/24")
    interface = interface_of(text)
    if interface.ip != interface.network.network_address:
        raise PlanError(
            f"{address}/{prefix} is an address within the network {interface.network}; "
            "write the network's own first address."
        )
    return interface.network


def mask_of(prefix: int) -> IPv4Address:
    """The subnet mask of a prefix length 0 to 32: that many ones, then zeros (RFC 4632)."""
    return IPv4Address(_mask(whole(prefix, "the prefix length", 0, 32)))


def usable_hosts(network: IPv4Network) -> int:
    """How many hosts fit: 2^(32 − prefix) − 2; two in a /31 (RFC 3021), one in a /32."""
    if network.prefixlen >= 31:
        return network.num_addresses
    return network.num_addresses - 2


def host_range(network: IPv4Network) -> tuple[IPv4Address, IPv4Address]:
    """First and last address that a host may have."""
    edge = 0 if network.prefixlen >= 31 else 1
    return network.network_address + edge, network.broadcast_address - edge


def broadcast_of(network: IPv4Network) -> IPv4Address | None:
    """The directed broadcast address; None in a /31 (RFC 3021 section 2.1) and a /32."""
    return None if network.prefixlen >= 31 else network.broadcast_address


def is_private(address: IPv4Address) -> bool:
    """Whether an address lies in one of the three blocks of RFC 1918, and in no other block."""
    return any(address in block for block in PRIVATE_BLOCKS)


def longest_prefix_for(hosts: int) -> int:
    """The longest prefix, up to /30, whose network holds so many hosts, 1 to 2^32 − 2.

    A /31 holds two as well, but only on a point-to-point link: choose it by hand.
    """
    whole(hosts, "the number of hosts", 1, 2**32 - 2)
    return 32 - max(2, (hosts + 1).bit_length())


def host_problem(interface: IPv4Interface) -> str | None:
    """Why no port may have this address, as the end of a sentence; None where one may."""
    address, network = interface.ip, interface.network
    for block, what in _SPECIAL_BLOCKS.items():
        if address in block:
            return what
    if network.prefixlen >= 31:
        return None
    if address == network.network_address:
        return f"the network address of {network}, which names the whole subnet"
    if address == network.broadcast_address:
        return f"the broadcast address of {network}, which every host listens to"
    return None


def _mask(prefix: int) -> int:
    return (0xFFFF_FFFF << (32 - prefix)) & 0xFFFF_FFFF


def _split(text: object, example: str) -> tuple[str, str]:
    if not isinstance(text, str) or text.count("/") != 1:
        raise PlanError(f"{text!r} lacks its prefix; write address and prefix, such as {example}.")
    address, prefix = text.split("/")
    return address, prefix
