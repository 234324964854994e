"""Which address a room is opened at, among those that a machine may have."""

from __future__ import annotations

import socket
from collections.abc import Callable
from types import SimpleNamespace
from typing import Any

import psutil
import pytest

from labkit.page.serving import WayError, listening
from labkit.room import way
from labkit.room.way import chosen_way, ways

LOOPBACK = ("lo", "127.0.0.1", "255.0.0.0")
HOUSE = ("wlan0", "192.168.1.5", "255.255.255.0")
Has = Callable[..., None]


@pytest.fixture
def has(monkeypatch: pytest.MonkeyPatch) -> Has:
    """Let this machine have some addresses, the first one its way out."""

    def given(*addresses: tuple[str, str, str | None], down: str = "", point: str = "") -> None:
        found: dict[str, list[Any]] = {}
        for interface, address, mask in addresses:
            family = socket.AF_INET6 if ":" in address else socket.AF_INET
            one = SimpleNamespace(
                family=family,
                address=address,
                netmask=mask,
                ptp="10.0.0.1" if interface == point else None,
            )
            found.setdefault(interface, []).append(one)
        states = {name: SimpleNamespace(isup=name != down) for name in found}
        monkeypatch.setattr(psutil, "net_if_addrs", lambda: found)
        monkeypatch.setattr(psutil, "net_if_stats", lambda: states)
        first = addresses[0][1] if addresses else None
        monkeypatch.setattr(way, "_way_out", lambda _: first)

    return given


def test_a_private_address_comes_first_and_the_machine_alone_last(has: Has) -> None:
    has(
        ("tun0", "10.8.0.2", "255.255.255.255"),
        LOOPBACK,
        ("eth2", "169.254.7.7", "255.255.0.0"),
        ("eth1", "203.0.113.9", "255.255.255.0"),
        HOUSE,
    )
    assert [one.address for one in ways()] == [
        "192.168.1.5",
        "203.0.113.9",
        "169.254.7.7",
        "10.8.0.2",
        "127.0.0.1",
    ]
    assert [one.words for one in ways()] == [
        "Wi-Fi “wlan0”: 192.168.1.5 (network 192.168.1.0/24)",
        "Wi-Fi or cable “eth1”: 203.0.113.9 (network 203.0.113.0/24: a public address, maybe "
        "reached from outside too)",
        "Wi-Fi or cable “eth2”: 169.254.7.7 (no router gave it this address)",
        "A tunnel (VPN) “tun0”: 10.8.0.2",
        "This machine alone: 127.0.0.1 (no other device can reach it)",
    ]


def test_of_two_private_ones_it_is_that_by_which_the_system_goes_out(has: Has) -> None:
    has(("zz0", "192.168.9.9", "255.255.255.0"), ("aa0", "10.0.0.5", "255.0.0.0"))
    assert chosen_way().address == "192.168.9.9"
    has(("aa0", "10.0.0.5", "255.0.0.0"), ("zz0", "192.168.9.9", "255.255.255.0"))
    assert chosen_way().address == "10.0.0.5"


def test_of_one_interface_it_is_the_address_that_is_short_to_type(has: Has) -> None:
    has(("e", "fd00::5", "ffff:ffff:ffff:ffff::"), ("e", "10.0.0.5", "255.255.0.0"))
    assert [one.address for one in ways()] == ["10.0.0.5", "fd00::5"]
    assert chosen_way("fd00::5").opened(8642) == "http://[fd00::5]:8642"
    assert chosen_way("[fd00::5]").words == "Wi-Fi or cable “e”: fd00::5 (network fd00::/64)"


def test_what_no_browser_takes_and_what_is_down_is_left_out(has: Has) -> None:
    has(
        ("e", "fe80::5%e", "ffff:ffff:ffff:ffff::"), HOUSE, ("x", "10.0.0.9", "255.0.0.0"), down="x"
    )
    assert [one.address for one in ways()] == ["192.168.1.5"]


def test_where_the_system_tells_no_netmask_of_ipv6_it_is_no_tunnel(has: Has) -> None:
    has(("Ethernet", "fd00::5", None))
    assert (str(chosen_way().network), chosen_way().tunnel) == ("fd00::/64", False)


def test_a_connection_to_one_other_machine_is_a_tunnel_whatever_its_netmask(has: Has) -> None:
    has(("ppp0", "10.0.0.2", "255.255.255.0"), HOUSE, point="ppp0")
    assert [one.tunnel for one in ways()] == [False, True]


def test_an_address_or_an_interface_may_be_named(has: Has) -> None:
    has(LOOPBACK, HOUSE)
    assert chosen_way("wlan0") == chosen_way("192.168.1.5") == chosen_way()
    assert chosen_way("lo").address == "127.0.0.1"
    for named in ("0.0.0.0", "192.168.1.6", ""):
        with pytest.raises(WayError, match=r"It has: Wi-Fi “wlan0”: 192\.168\.1\.5"):
            chosen_way(named)


def test_a_machine_without_any_address_says_so(has: Has) -> None:
    has()
    with pytest.raises(WayError, match="join a network first"):
        chosen_way()


def test_this_machine_reaches_itself_and_where_it_may_not_listen_a_sentence_says_why() -> None:
    assert "127.0.0.1" in {one.address for one in ways() if one.loopback}
    with listening("127.0.0.1", 0) as first:
        port = first.getsockname()[1]
        with pytest.raises(WayError, match=f"Port {port} is taken at 127.0.0.1"):
            listening("127.0.0.1", port)
    with pytest.raises(WayError, match=r"no address 203\.0\.113\.77 now"):
        listening("203.0.113.77", port)
