"""An address plan: the subnets, the ports on them (controller, laptops), and what conflicts.

A port takes another address for local when both agree in the bits of its OWN mask, and asks its
gateway otherwise (RFC 1122 section 3.3.1.1). So two ports on one cable with different masks may
talk one way and not the other: `AddressPlan.path` says which.
Section and figure numbers of the RFCs are from memory.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from enum import Enum
from ipaddress import IPv4Address, IPv4Interface, IPv4Network
from itertools import combinations

from labkit.fieldbus.errors import PlanError
from labkit.fieldbus.ip.subnet import address_of, host_problem, interface_of, network_of


class ConflictKind(Enum):
    """What is wrong with a plan."""

    DUPLICATE = "duplicate address"
    OUTSIDE_SUBNET = "outside the subnet"
    UNUSABLE = "address that no port may have"
    WRONG_MASK = "mask differs from the subnet's"
    GATEWAY_OUTSIDE = "gateway not in the subnet"
    GATEWAY_UNUSABLE = "gateway address that no port may have"
    GATEWAY_IS_SELF = "port is its own gateway"
    IN_POOL = "fixed address in the pool of a server"
    POOL_OUTSIDE = "pool not in the subnet"
    OVERLAPPING_SUBNETS = "overlapping subnets"


@dataclass(frozen=True, slots=True)
class Conflict:
    """One thing wrong: its kind, the port or subnet, and a sentence with a mend."""

    kind: ConflictKind
    where: str
    sentence: str


@dataclass(frozen=True, slots=True)
class Subnet:
    """One cable with its switches: a name, its network, and a server's pool if there is one."""

    name: str
    network: IPv4Network
    pool: tuple[IPv4Address, IPv4Address] | None = None

    def __post_init__(self) -> None:
        _name(self.name, "subnet")
        object.__setattr__(self, "network", network_of(self.network))
        if self.pool is None:
            return
        first, last = (address_of(each) for each in self.pool)
        if first > last:
            raise PlanError(f"the pool of {self.name} ends before it begins; swap {first}, {last}.")
        object.__setattr__(self, "pool", (first, last))

    @classmethod
    def of(cls, name: str, network: str, pool: tuple[str, str] | None = None) -> "Subnet":
        """From text: `Subnet.of("cell", "192.168.1.0/24", ("192.168.1.100", "192.168.1.150"))`."""
        ends = None if pool is None else (address_of(pool[0]), address_of(pool[1]))
        return cls(name, network_of(network), ends)

    def in_pool(self, address: IPv4Address) -> bool:
        """Whether a server may hand this address out."""
        return self.pool is not None and self.pool[0] <= address <= self.pool[1]


@dataclass(frozen=True, slots=True)
class Port:
    """One network port with a fixed address, on one subnet's cable."""

    name: str
    subnet: str
    interface: IPv4Interface
    gateway: IPv4Address | None = None

    def __post_init__(self) -> None:
        _name(self.name, "port")
        _name(self.subnet, "subnet")
        object.__setattr__(self, "interface", interface_of(self.interface))
        if self.gateway is not None:
            object.__setattr__(self, "gateway", address_of(self.gateway))

    @classmethod
    def of(cls, name: str, subnet: str, interface: str, gateway: str | None = None) -> "Port":
        """From text: `Port.of("controller", "cell", "192.168.1.10/24", "192.168.1.1")`."""
        hop = None if gateway is None else address_of(gateway)
        return cls(name, subnet, interface_of(interface), hop)

    def takes_for_local(self, address: IPv4Address) -> bool:
        """Whether it sends to an address straight, without a gateway."""
        return address in self.interface.network


class Path(Enum):
    """How a port's frames to another port go."""

    DIRECT = "straight over the cable"
    GATEWAY = "to its gateway, which must route on"
    LOST = "nowhere: not local, and no gateway that it can reach"
    UNHEARD = "onto its own cable, where the other port is not"


@dataclass(frozen=True, slots=True)
class AddressPlan:
    """Subnets and ports. It may hold conflicts; `conflicts` finds them all."""

    subnets: tuple[Subnet, ...]
    ports: tuple[Port, ...]

    def __post_init__(self) -> None:
        object.__setattr__(self, "subnets", tuple(self.subnets))
        object.__setattr__(self, "ports", tuple(self.ports))
        _no_twins([each.name for each in self.subnets], "subnet")
        _no_twins([each.name for each in self.ports], "port")
        for port in self.ports:
            self.subnet(port.subnet)

    def subnet(self, name: str) -> Subnet:
        """The subnet of a name."""
        for each in self.subnets:
            if each.name == name:
                return each
        raise PlanError(f"the plan has no subnet named {name!r}; add it or correct the name.")

    def port(self, name: str) -> Port:
        """The port of a name."""
        for each in self.ports:
            if each.name == name:
                return each
        raise PlanError(f"the plan has no port named {name!r}; add it or correct the name.")

    def conflicts(self) -> tuple[Conflict, ...]:
        """Everything wrong with the plan, subnets first, then port by port; empty when sound."""
        return (
            *self._subnet_conflicts(),
            *self._duplicates(),
            *(each for port in self.ports for each in self._port_conflicts(port)),
        )

    def path(self, sender: str, receiver: str) -> Path:
        """How frames from one port to another go, by the sender's own address, mask and gateway."""
        source, target = self.port(sender), self.port(receiver)
        if source.takes_for_local(target.interface.ip):
            return Path.DIRECT if source.subnet == target.subnet else Path.UNHEARD
        if source.gateway is None or not source.takes_for_local(source.gateway):
            return Path.LOST
        return Path.GATEWAY

    def talk(self, one: str, other: str) -> bool:
        """Whether two ports of one cable can talk both ways without a gateway."""
        there, back = self.path(one, other), self.path(other, one)
        return there is Path.DIRECT and back is Path.DIRECT

    def _subnet_conflicts(self) -> Iterator[Conflict]:
        for one, other in combinations(self.subnets, 2):
            if one.network.overlaps(other.network):
                yield Conflict(
                    ConflictKind.OVERLAPPING_SUBNETS,
                    one.name,
                    f"{one.name} ({one.network}) and {other.name} ({other.network}) overlap: a "
                    "host cannot tell on which of them an address is; give one another range.",
                )
        for each in self.subnets:
            if each.pool and not all(end in each.network for end in each.pool):
                yield Conflict(
                    ConflictKind.POOL_OUTSIDE,
                    each.name,
                    f"the pool {each.pool[0]} to {each.pool[1]} of {each.name} leaves "
                    f"{each.network}; move it inside.",
                )

    def _duplicates(self) -> Iterator[Conflict]:
        for one, other in combinations(self.ports, 2):
            if one.interface.ip == other.interface.ip:
                yield Conflict(
                    ConflictKind.DUPLICATE,
                    other.name,
                    f"{one.name} and {other.name} both have {one.interface.ip}; "
                    f"give {other.name} a free one.",
                )

    def _port_conflicts(self, port: Port) -> Iterator[Conflict]:
        subnet = self.subnet(port.subnet)
        address = port.interface.ip
        problem = host_problem(IPv4Interface((int(address), subnet.network.prefixlen)))
        if problem is None:
            problem = host_problem(port.interface)
        if problem is not None:
            yield Conflict(
                ConflictKind.UNUSABLE,
                port.name,
                f"{address} of {port.name} is {problem}; choose a host address.",
            )
        if address not in subnet.network:
            yield Conflict(
                ConflictKind.OUTSIDE_SUBNET,
                port.name,
                f"{port.name} has {address}, outside {subnet.network} of {subnet.name}; "
                "choose an address inside.",
            )
        if port.interface.network.prefixlen != subnet.network.prefixlen:
            yield Conflict(
                ConflictKind.WRONG_MASK,
                port.name,
                f"{port.name} has the mask {port.interface.netmask}, {subnet.name} has "
                f"{subnet.network.netmask}: some hosts it will look for in the wrong place; "
                "set the subnet's mask.",
            )
        if subnet.in_pool(address):
            yield Conflict(
                ConflictKind.IN_POOL,
                port.name,
                f"{address} of {port.name} lies in the pool of {subnet.name}: the server may give "
                "it to someone else; choose one outside the pool.",
            )
        yield from _gateway_conflicts(port)


def _gateway_conflicts(port: Port) -> Iterator[Conflict]:
    gateway = port.gateway
    if gateway is None:
        return
    if gateway == port.interface.ip:
        yield Conflict(
            ConflictKind.GATEWAY_IS_SELF,
            port.name,
            f"{port.name} names itself, {gateway}, as gateway; name the router, or none.",
        )
    elif not port.takes_for_local(gateway):
        yield Conflict(
            ConflictKind.GATEWAY_OUTSIDE,
            port.name,
            f"the gateway {gateway} of {port.name} is not in {port.interface.network}, so it can "
            "never be reached; name a router in the same subnet.",
        )
    else:
        problem = host_problem(IPv4Interface((int(gateway), port.interface.network.prefixlen)))
        if problem is not None:
            yield Conflict(
                ConflictKind.GATEWAY_UNUSABLE,
                port.name,
                f"the gateway {gateway} of {port.name} is {problem}; name the router's address.",
            )


def _no_twins(names: list[str], what: str) -> None:
    for name in names:
        if names.count(name) > 1:
            raise PlanError(f"two {what}s are named {name!r}; rename one.")


def _name(name: object, what: str) -> None:
    if not isinstance(name, str) or not name.strip():
        raise PlanError(f"a {what} needs a name, not {name!r}.")
