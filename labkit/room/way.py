"""The ways to this machine: its interfaces and addresses, and which of them a room is opened at.

Which address other devices reach cannot be known from here, only guessed well: `way_check` tries.
"""

from __future__ import annotations

import socket
from collections.abc import Sequence
from dataclasses import dataclass
from ipaddress import IPv4Network, IPv6Network, ip_address, ip_interface, ip_network
from typing import Any, Final

import psutil

from labkit.page.serving import WayError

_PRIVATE: Final = tuple(
    map(ip_network, ("10.0.0.0/8", "172.16.0.0/12", "192.168.0.0/16", "fc00::/7"))
)
"""RFC 1918 and RFC 4193."""
_SOMEWHERE: Final = {socket.AF_INET: "198.51.100.1", socket.AF_INET6: "2001:db8::1"}
"""Addresses of nobody (RFC 5737, RFC 3849), to ask the system for its way out: nothing is sent."""
_WIRELESS: Final = ("wi-fi", "wifi", "wlan", "wireless")


@dataclass(frozen=True, slots=True)
class Way:
    """An address of this machine, on the interface that has it."""

    interface: str
    address: str
    network: IPv4Network | IPv6Network
    tunnel: bool = False
    """Whether it leads to one other machine only, as a VPN does."""
    way_out: bool = False
    """Whether the system goes to other networks by this interface."""

    @property
    def loopback(self) -> bool:
        """Whether no other device can use it."""
        return ip_address(self.address).is_loopback

    @property
    def self_given(self) -> bool:
        """Whether the machine gave itself the address, as there was no router (RFC 3927)."""
        return ip_address(self.address).is_link_local

    @property
    def private(self) -> bool:
        """Whether the address is one that networks of a house use, unknown outside."""
        return any(ip_address(self.address) in net for net in _PRIVATE)

    def opened(self, port: int) -> str:
        """What to type into a browser."""
        return opened_address(self.address, port)

    @property
    def words(self) -> str:
        """Where this leads, for people."""
        if self.loopback:
            return f"This machine alone: {self.address} (no other device can reach it)"
        if self.tunnel:
            return f"A tunnel (VPN) “{self.interface}”: {self.address}"
        wireless = self.interface.lower().startswith("wl") or any(
            word in self.interface.lower() for word in _WIRELESS
        )
        kind = "Wi-Fi" if wireless else "Wi-Fi or cable"
        if self.self_given:
            told = "no router gave it this address"
        elif self.private:
            told = f"network {self.network}"
        else:
            told = f"network {self.network}: a public address, maybe reached from outside too"
        return f"{kind} “{self.interface}”: {self.address} ({told})"

    def _rank(self) -> tuple[int, bool, bool, str]:
        if self.loopback:
            kind = 4
        elif self.tunnel:
            kind = 3
        elif self.self_given:
            kind = 2
        else:
            kind = 0 if self.private else 1
        # Of two as good: that by which the system goes out, then the one that is short to type.
        return kind, not self.way_out, self.network.version == 6, self.address


def opened_address(address: str, port: int, scheme: str = "http") -> str:
    """What to type into a browser for a port at an address."""
    return f"{scheme}://[{address}]:{port}" if ":" in address else f"{scheme}://{address}:{port}"


def ways() -> list[Way]:
    """All addresses of this machine that a browser takes, the best to open a room at first."""
    outs = {_way_out(family) for family in _SOMEWHERE}
    states, found = psutil.net_if_stats(), []
    for interface, addresses in psutil.net_if_addrs().items():
        state = states.get(interface)
        if state is not None and not state.isup:
            continue
        way_out = any(one.address in outs for one in addresses)
        for one in addresses:
            # IPv6's own link addresses need a name of an interface, which no browser takes.
            if one.family not in _SOMEWHERE or one.address.startswith("fe80:"):
                continue
            network = ip_interface(f"{one.address}/{_length(one)}").network
            tunnel = network.num_addresses == 1 or one.ptp is not None
            found.append(Way(interface, one.address, network, tunnel, way_out))
    return sorted(found, key=Way._rank)


def chosen_way(named: str | None = None) -> Way:
    """The way that a room is opened at: the best, or that of an address or interface named.

    Raises `WayError` when this machine has no such one.
    """
    return _chosen(ways(), named)


def _chosen(known: Sequence[Way], named: str | None) -> Way:
    if named is None and known:
        return known[0]
    wanted = (named or "").strip("[] ")
    for way in known:
        if wanted in (way.address, way.interface):
            return way
    has = "; ".join(way.words for way in known) or "none at all: join a network first"
    raise WayError(f"This machine has no address or interface “{wanted}” now. It has: {has}.")


def _way_out(family: socket.AddressFamily) -> str | None:
    """The address from which the system would go to other networks; None where it cannot."""
    with socket.socket(family, socket.SOCK_DGRAM) as out:
        try:
            out.connect((_SOMEWHERE[family], 9))
        except OSError:
            return None
        return str(out.getsockname()[0])


def _length(one: Any) -> int:
    """How many bits of an address name its network."""
    if one.netmask is None:
        # Some systems do not tell it. In IPv6 it is half of the address (RFC 4291, 2.5.1).
        return 64 if one.family == socket.AF_INET6 else 32
    mask = int.from_bytes(socket.inet_pton(one.family, one.netmask), "big")
    return mask.bit_count()
