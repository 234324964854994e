"""IPv4 rules against the RFCs, quoted from memory; counting against the ipaddress module."""

from ipaddress import IPv4Address, IPv4Network

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labkit.fieldbus.ip.lease import (
    FOREVER_S,
    ClientEvent,
    ClientMessage,
    ClientState,
    Lease,
    react,
)
from labkit.fieldbus.ip.subnet import (
    broadcast_of,
    host_problem,
    host_range,
    interface_of,
    is_private,
    longest_prefix_for,
    mask_of,
    network_of,
    prefix_of,
    usable_hosts,
)

# RFC 4632 section 3.1: prefix and number of addresses.
CIDR_COUNTS = [
    (32, 1),
    (31, 2),
    (30, 4),
    (29, 8),
    (28, 16),
    (27, 32),
    (26, 64),
    (25, 128),
    (24, 256),
    (23, 512),
    (22, 1024),
    (20, 4096),
    (16, 65536),
    (8, 16777216),
    (0, 4294967296),
]

# RFC 4632 section 5.2: what a provider hands to its six customers: route, mask, /24 networks.
CIDR_EXAMPLE = [
    ("10.24.0.0/21", "255.255.248.0", 8),
    ("10.24.16.0/20", "255.255.240.0", 16),
    ("10.24.8.0/22", "255.255.252.0", 4),
    ("10.24.12.0/22", "255.255.252.0", 4),
    ("10.24.32.0/23", "255.255.254.0", 2),
    ("10.24.34.0/23", "255.255.254.0", 2),
]


@pytest.mark.parametrize(("prefix", "count"), CIDR_COUNTS)
def test_addresses_of_a_prefix(prefix: int, count: int) -> None:
    hosts = usable_hosts(network_of(f"0.0.0.0/{prefix}"))
    # RFC 3021: a /31 has two hosts and no broadcast address; a /32 is one address.
    assert hosts == {32: 1, 31: 2}.get(prefix, count - 2)


@pytest.mark.parametrize(("network", "mask", "blocks"), CIDR_EXAMPLE)
def test_example_of_rfc_4632(network: str, mask: str, blocks: int) -> None:
    found = network_of(network)
    assert str(mask_of(found.prefixlen)) == mask
    assert network_of(f"{found.network_address}/{mask}") == found
    assert usable_hosts(found) == 256 * blocks - 2


def test_rfc_4632_customers_do_not_overlap_and_lie_in_the_provider() -> None:
    networks = [network_of(each) for each, _, _ in CIDR_EXAMPLE]
    provider = network_of("10.24.0.0/13")
    assert all(each.subnet_of(provider) for each in networks)
    assert not any(a.overlaps(b) for a in networks for b in networks if a is not b)


@pytest.mark.parametrize("prefix", range(20, 33))
def test_host_range_is_that_of_the_ipaddress_module(prefix: int) -> None:
    network = IPv4Network(("10.1.16.0", prefix))
    hosts = list(network.hosts())
    assert host_range(network) == (hosts[0], hosts[-1])
    assert usable_hosts(network) == len(hosts)


def test_rfc_3021_point_to_point_link() -> None:
    network = network_of("192.0.2.0/31")
    assert broadcast_of(network) is None
    assert host_problem(interface_of("192.0.2.0/31")) is None
    assert host_problem(interface_of("192.0.2.1/31")) is None
    assert host_problem(interface_of("192.0.2.0/30")) is not None
    assert host_problem(interface_of("192.0.2.3/30")) is not None
    assert host_problem(interface_of("192.0.2.7/32")) is None
    assert broadcast_of(network_of("192.0.2.0/30")) == IPv4Address("192.0.2.3")


@pytest.mark.parametrize(
    ("address", "private"),
    [
        # RFC 1918 section 3: the first and last address of each block, and their neighbours.
        ("10.0.0.0", True),
        ("10.255.255.255", True),
        ("9.255.255.255", False),
        ("11.0.0.0", False),
        ("172.16.0.0", True),
        ("172.31.255.255", True),
        ("172.15.255.255", False),
        ("172.32.0.0", False),
        ("192.168.0.0", True),
        ("192.168.255.255", True),
        ("192.167.255.255", False),
        ("192.169.0.0", False),
        # Other special addresses are not "private" in the words of RFC 1918.
        ("127.0.0.1", False),
        ("169.254.1.1", False),
        ("192.0.2.1", False),
    ],
)
def test_private_blocks(address: str, private: bool) -> None:
    assert is_private(IPv4Address(address)) is private


@pytest.mark.parametrize(
    ("address", "word"),
    [
        ("0.0.0.5/24", "this network"),  # RFC 1122
        ("127.0.0.1/8", "loopback"),  # RFC 1122
        ("169.254.7.7/16", "link-local"),  # RFC 3927
        ("224.0.0.5/24", "multicast"),  # RFC 1112
        ("255.255.255.255/24", "reserved"),  # RFC 1122
        ("192.168.1.0/24", "network address"),
        ("192.168.1.255/24", "broadcast"),
    ],
)
def test_addresses_no_port_may_have(address: str, word: str) -> None:
    assert word in (host_problem(interface_of(address)) or "")


@given(st.integers(1, 2**31))
def test_longest_prefix_holds_the_hosts_and_the_next_does_not(hosts: int) -> None:
    prefix = longest_prefix_for(hosts)
    assert usable_hosts(network_of(f"0.0.0.0/{prefix}")) >= hosts
    assert prefix == 30 or usable_hosts(network_of(f"0.0.0.0/{prefix + 1}")) < hosts


@pytest.mark.parametrize("prefix", range(33))
def test_masks_go_round(prefix: int) -> None:
    assert prefix_of(str(mask_of(prefix))) == prefix == prefix_of(str(prefix))
    assert mask_of(prefix) == IPv4Network(("0.0.0.0", prefix)).netmask


def test_timers_of_rfc_2131() -> None:
    # RFC 2131 section 4.4.5: T1 = 0.5, T2 = 0.875 of the lease.
    lease = Lease(86400)
    assert (lease.t1_s, lease.t2_s) == (43200.0, 75600.0)
    states = [lease.state_after(at) for at in (0, 43199, 43200, 75599, 75600, 86399, 86400)]
    assert [state.value for state in states] == [
        "BOUND",
        "BOUND",
        "RENEWING",
        "RENEWING",
        "REBINDING",
        "REBINDING",
        "INIT",
    ]
    assert Lease(FOREVER_S).state_after(1e12) is ClientState.BOUND


E, S, M = ClientEvent, ClientState, ClientMessage


@pytest.mark.parametrize(
    ("start", "events", "states", "sent"),
    [
        # RFC 2131 figure 5: a new client gets an address and keeps it.
        (
            S.INIT,
            [E.START, E.OFFER_CHOSEN, E.ACK, E.T1, E.ACK],
            [S.SELECTING, S.REQUESTING, S.BOUND, S.RENEWING, S.BOUND],
            [M.DISCOVER, M.REQUEST, M.REQUEST],
        ),
        # The server falls silent: rebinding with anyone, then the address is lost.
        (
            S.BOUND,
            [E.T1, E.T2, E.LEASE_ENDS],
            [S.RENEWING, S.REBINDING, S.INIT],
            [M.REQUEST, M.REQUEST],
        ),
        # The offered address is in use already: the client declines it (section 3.1, step 5).
        (
            S.REQUESTING,
            [E.ACK_TAKEN, E.START],
            [S.INIT, S.SELECTING],
            [M.DECLINE, M.DISCOVER],
        ),
        # A restarted client asks for its old address and is refused, in another subnet now.
        (S.INIT_REBOOT, [E.START, E.NAK], [S.REBOOTING, S.INIT], [M.REQUEST]),
        # Arrows that the figure does not have: offers are discarded once bound.
        (S.BOUND, [E.OFFER_CHOSEN, E.ACK, E.NAK], [S.BOUND] * 3, []),
    ],
)
def test_ways_through_figure_5(
    start: ClientState,
    events: list[ClientEvent],
    states: list[ClientState],
    sent: list[ClientMessage],
) -> None:
    state, found, messages = start, [], []
    for event in events:
        state, message = react(state, event)
        found.append(state)
        messages += [] if message is None else [message]
    assert found == states
    assert messages == sent
