"""Address plans: each conflict found alone, sound plans clean, paths by the sender's own mask."""

from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labkit.fieldbus.errors import PlanError
from labkit.fieldbus.ip.plan import AddressPlan, ConflictKind, Path, Port, Subnet
from labkit.fieldbus.ip.subnet import (
    address_of,
    interface_of,
    longest_prefix_for,
    mask_of,
    network_of,
    prefix_of,
)

CELL = Subnet.of("cell", "192.168.1.0/24", ("192.168.1.100", "192.168.1.150"))
OFFICE = Subnet.of("office", "10.0.0.0/16")
CONTROLLER = Port.of("controller", "cell", "192.168.1.10/24", "192.168.1.1")


def kinds(plan: AddressPlan) -> list[tuple[ConflictKind, str]]:
    return [(each.kind, each.where) for each in plan.conflicts()]


def with_port(interface: str, gateway: str | None = None, subnet: str = "cell") -> AddressPlan:
    return AddressPlan((CELL, OFFICE), (CONTROLLER, Port.of("laptop", subnet, interface, gateway)))


@pytest.mark.parametrize(
    ("interface", "gateway", "kind"),
    [
        ("192.168.1.10/24", None, ConflictKind.DUPLICATE),
        ("192.168.2.20/24", None, ConflictKind.OUTSIDE_SUBNET),
        ("192.168.1.0/24", None, ConflictKind.UNUSABLE),
        ("192.168.1.255/24", None, ConflictKind.UNUSABLE),
        ("192.168.1.20/16", None, ConflictKind.WRONG_MASK),
        ("192.168.1.20/24", "192.168.2.1", ConflictKind.GATEWAY_OUTSIDE),
        ("192.168.1.20/24", "192.168.1.20", ConflictKind.GATEWAY_IS_SELF),
        ("192.168.1.20/24", "192.168.1.255", ConflictKind.GATEWAY_UNUSABLE),
        ("192.168.1.120/24", None, ConflictKind.IN_POOL),
    ],
)
def test_one_mistake_gives_one_conflict(
    interface: str, gateway: str | None, kind: ConflictKind
) -> None:
    plan = with_port(interface, gateway)
    assert kinds(plan) == [(kind, "laptop")]
    assert "laptop" in plan.conflicts()[0].sentence


@pytest.mark.parametrize("last", [99, 151])
def test_addresses_beside_the_pool_are_free(last: int) -> None:
    assert kinds(with_port(f"192.168.1.{last}/24", "192.168.1.1")) == []


def test_an_address_may_be_a_broadcast_by_the_ports_own_mask_only() -> None:
    assert kinds(with_port("192.168.1.63/26")) == [
        (ConflictKind.UNUSABLE, "laptop"),
        (ConflictKind.WRONG_MASK, "laptop"),
    ]
    assert kinds(with_port("192.168.1.255/23")) == [
        (ConflictKind.UNUSABLE, "laptop"),
        (ConflictKind.WRONG_MASK, "laptop"),
    ]


def test_subnets_that_overlap_and_pools_outside() -> None:
    inner = Subnet.of("line", "10.0.3.0/24", ("10.0.3.5", "10.0.4.5"))
    assert kinds(AddressPlan((OFFICE, CELL, inner), ())) == [
        (ConflictKind.OVERLAPPING_SUBNETS, "office"),
        (ConflictKind.POOL_OUTSIDE, "line"),
    ]


def test_link_local_address_is_named_as_what_it_is() -> None:
    found = with_port("169.254.3.3/16").conflicts()
    assert "no server answers" in found[0].sentence
    assert {each.kind for each in found} == {
        ConflictKind.UNUSABLE,
        ConflictKind.OUTSIDE_SUBNET,
        ConflictKind.WRONG_MASK,
    }


def test_point_to_point_link_of_two() -> None:
    link = Subnet.of("link", "192.0.2.0/31")
    ports = (Port.of("one", "link", "192.0.2.0/31"), Port.of("other", "link", "192.0.2.1/31"))
    plan = AddressPlan((link,), ports)
    assert plan.conflicts() == ()
    assert plan.talk("one", "other")


def test_masks_that_differ_talk_one_way_only() -> None:
    # The laptop's mask covers the controller, the controller's does not cover the laptop.
    plan = AddressPlan(
        (CELL,),
        (
            Port.of("controller", "cell", "192.168.1.10/25"),
            Port.of("laptop", "cell", "192.168.1.200/24"),
        ),
    )
    assert plan.path("laptop", "controller") is Path.DIRECT
    assert plan.path("controller", "laptop") is Path.LOST
    assert not plan.talk("laptop", "controller")


def test_paths_between_subnets() -> None:
    far = Port.of("server", "office", "10.0.0.5/16", "192.168.1.1")
    strayed = Port.of("strayed", "office", "192.168.1.30/24")
    plan = AddressPlan((CELL, OFFICE), (CONTROLLER, far, strayed))
    assert plan.path("controller", "server") is Path.GATEWAY
    assert plan.path("server", "controller") is Path.LOST  # gateway not in its own subnet
    assert plan.path("controller", "strayed") is Path.UNHEARD


@given(st.integers(1, 200), st.data())
def test_a_plan_dealt_from_a_fitting_prefix_is_sound(hosts: int, data: st.DataObject) -> None:
    prefix = longest_prefix_for(hosts)
    start = data.draw(st.integers(0, 2**16)) * 2 ** (32 - prefix) % 2**24
    network = network_of(f"{address_of('10.0.0.0') + start}/{prefix}")
    ports = tuple(
        Port.of(f"port {at}", "net", f"{network.network_address + at}/{prefix}")
        for at in range(1, hosts + 1)
    )
    plan = AddressPlan((Subnet("net", network),), ports)
    assert plan.conflicts() == ()
    assert plan.talk("port 1", f"port {hosts}")


@pytest.mark.parametrize(
    "bad",
    [
        lambda: address_of("192.168.1"),
        lambda: address_of("192.168.1.256"),
        lambda: address_of("192.168.01.1"),
        lambda: address_of("192.168.1.١"),
        lambda: address_of(3232235777),  # type: ignore[arg-type]
        lambda: address_of(interface_of("192.168.1.1/24")),
        lambda: address_of(""),
        lambda: prefix_of("33"),
        lambda: prefix_of("-1"),
        lambda: prefix_of("99999999999999999999"),
        lambda: prefix_of("255.0.255.0"),
        lambda: prefix_of("0.0.0.255"),
        lambda: prefix_of(24),  # type: ignore[arg-type]
        lambda: mask_of(33),
        lambda: mask_of(True),
        lambda: interface_of("192.168.1.1"),
        lambda: interface_of("192.168.1.1/24/24"),
        lambda: interface_of(None),  # type: ignore[arg-type]
        lambda: network_of("192.168.1.1/24"),
        lambda: longest_prefix_for(0),
        lambda: longest_prefix_for(2**32 - 1),
        lambda: longest_prefix_for(2.0),  # type: ignore[arg-type]
        lambda: Subnet.of("", "10.0.0.0/8"),
        lambda: Subnet.of("cell", "10.0.0.0/8", ("10.0.0.9", "10.0.0.1")),
        lambda: Port.of(" ", "cell", "10.0.0.1/8"),
        lambda: AddressPlan((CELL, CELL), ()),
        lambda: AddressPlan((CELL,), (CONTROLLER, CONTROLLER)),
        lambda: AddressPlan((OFFICE,), (CONTROLLER,)),
        lambda: AddressPlan((CELL,), (CONTROLLER,)).path("controller", "nobody"),
    ],
)
def test_what_cannot_be_is_refused(bad: Callable[[], object]) -> None:
    with pytest.raises(PlanError, match=r"[.;]"):
        bad()
