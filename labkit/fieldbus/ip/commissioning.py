"""From a temporary BOOTP or DHCP address to a fixed one: what each step does, what a missing one
breaks.

A new controller port has no address and asks for one (RFC 951; RFC 2131 keeps the exchange). A
laptop on the same cable answers from a table of hardware addresses (RFC 951 section 7.3 has the
server look the hardware address up). The address is temporary: to keep it, it is written into the
port and the asking is switched off; a power cycle proves it. The steps and their order are common
practice, no source. `carry_out` works on the state of bench and port, so whatever order is given,
the symptoms follow from it. Devices differ in what they keep: here a port whose asking is off
comes up with the written address or with none.
Section and figure numbers of the RFCs are from memory.
"""

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from ipaddress import IPv4Address, IPv4Interface

from labkit.fieldbus.errors import PlanError
from labkit.fieldbus.ip.subnet import address_of, host_problem, interface_of

_HARDWARE = re.compile(r"[0-9A-F]{2}(-[0-9A-F]{2}){5}")


def hardware_address(text: str) -> str:
    """A 48-bit hardware address in one form, 00-1B-2C-3D-4E-5F; colons and small letters too."""
    if not isinstance(text, str):
        raise PlanError(f"a hardware address is text such as 00-1B-2C-3D-4E-5F, not {text!r}.")
    plain = text.strip().upper().replace(":", "-")
    if not _HARDWARE.fullmatch(plain):
        raise PlanError(
            f"{text!r} is no hardware address; copy the six pairs of hexadecimal digits from the "
            "label, such as 00-1B-2C-3D-4E-5F."
        )
    if int(plain[:2], 16) & 1:
        raise PlanError(f"{text!r} is a group address, which no port has; copy the label again.")
    return plain


@dataclass(frozen=True, slots=True)
class FixedPort:
    """A controller port: what it uses now, what is written into it, whether it asks at power-up."""

    hardware: str
    present: IPv4Interface | None = None
    written: IPv4Interface | None = None
    asks: bool = True
    powered: bool = False

    def __post_init__(self) -> None:
        object.__setattr__(self, "hardware", hardware_address(self.hardware))


@dataclass(frozen=True, slots=True)
class Bench:
    """Port, laptop, the laptop's server, and addresses that other hosts on the cable use.

    `cycled`: the port's power was cycled since its settings last changed. `proven`: it answered
    after that, its asking off.
    """

    port: FixedPort
    laptop: IPv4Interface | None = None
    table: Mapping[str, IPv4Interface] = field(default_factory=dict)
    serving: bool = False
    others: frozenset[IPv4Address] = frozenset()
    known_free: frozenset[IPv4Address] = frozenset()
    cycled: bool = False
    proven: bool = False

    @property
    def reaches_port(self) -> bool:
        """Whether laptop and port talk: two addresses, each local to the other, taken once."""
        port = self.port.present if self.port.powered else None
        if port is None or self.laptop is None or port.ip == self.laptop.ip:
            return False
        if port.ip in self.others or self.laptop.ip in self.others:
            return False
        return port.ip in self.laptop.network and self.laptop.ip in port.network


@dataclass(frozen=True, slots=True)
class SetLaptop:
    """Give the laptop's own port a fixed address."""

    interface: IPv4Interface

    def __post_init__(self) -> None:
        object.__setattr__(self, "interface", _host(self.interface))


@dataclass(frozen=True, slots=True)
class LookForOthers:
    """Ask from the laptop whether anyone on the cable already has an address."""

    address: IPv4Address

    def __post_init__(self) -> None:
        object.__setattr__(self, "address", address_of(self.address))


@dataclass(frozen=True, slots=True)
class EnterPair:
    """Enter a hardware address and the address to hand out in the server's table."""

    hardware: str
    interface: IPv4Interface

    def __post_init__(self) -> None:
        object.__setattr__(self, "hardware", hardware_address(self.hardware))
        object.__setattr__(self, "interface", _host(self.interface))


@dataclass(frozen=True, slots=True)
class StartServer:
    """Start the laptop's BOOTP/DHCP server."""


@dataclass(frozen=True, slots=True)
class StopServer:
    """Stop it, so that it hands nothing to anybody else."""


@dataclass(frozen=True, slots=True)
class PowerCycle:
    """Switch the port's power on, or off and on again."""


@dataclass(frozen=True, slots=True)
class WriteAddress:
    """Write an address into the port over the network; it is used from then on."""

    interface: IPv4Interface

    def __post_init__(self) -> None:
        object.__setattr__(self, "interface", _host(self.interface))


@dataclass(frozen=True, slots=True)
class StopAsking:
    """Switch BOOTP/DHCP off in the port, over the network."""


@dataclass(frozen=True, slots=True)
class Verify:
    """See from the laptop whether the port answers."""


Action = (
    SetLaptop
    | LookForOthers
    | EnterPair
    | StartServer
    | StopServer
    | PowerCycle
    | WriteAddress
    | StopAsking
    | Verify
)
"""One step that a technician may take."""


@dataclass(frozen=True, slots=True)
class Happening:
    """What one action did, and whether it did what it was for."""

    action: Action
    sentence: str
    worked: bool


@dataclass(frozen=True, slots=True)
class Outcome:
    """The bench afterwards and what happened on the way."""

    bench: Bench
    happenings: tuple[Happening, ...]

    def left_to_do(self, wanted: IPv4Interface) -> tuple[str, ...]:
        """What still separates the port from a proven fixed address `wanted`; empty when done."""
        bench, port = self.bench, self.bench.port
        said: list[str] = []
        if port.present != wanted:
            said.append(f"the port has {port.present or 'no address'}, not {wanted}")
        if port.written != wanted:
            held = port.written or "no address"
            said.append(f"{held} is written in the port: the next power cycle takes {wanted} away")
        if port.asks:
            said.append("the port still asks at each power-up: any server may give it another one")
        if wanted.ip not in bench.known_free:
            said.append(f"nobody looked whether {wanted.ip} was free: it may be a duplicate")
        if not bench.proven:
            said.append("no answer after a power cycle has proven that the address stays")
        if bench.serving:
            said.append("the laptop's server still runs: it may answer other devices that ask")
        return tuple(said)


def usual_order(hardware: str, laptop: str, wanted: str) -> tuple[Action, ...]:
    """The steps in the order that leads from a new port to a proven fixed address."""
    pair = interface_of(wanted)
    return (
        SetLaptop(interface_of(laptop)),
        LookForOthers(pair.ip),
        EnterPair(hardware, pair),
        StartServer(),
        PowerCycle(),
        WriteAddress(pair),
        StopAsking(),
        StopServer(),
        PowerCycle(),
        Verify(),
    )


def carry_out(bench: Bench, actions: Iterable[Action]) -> Outcome:
    """Do the actions one after another; none stops the rest, each says what came of it."""
    happenings: list[Happening] = []
    for action in actions:
        bench, sentence, worked = _do(bench, action)
        happenings.append(Happening(action, sentence, worked))
    return Outcome(bench, tuple(happenings))


_Done = tuple[Bench, str, bool]


def _do(bench: Bench, action: Action) -> _Done:
    match action:
        case SetLaptop(interface):
            return replace(bench, laptop=interface), f"the laptop has {interface}", True
        case LookForOthers(address):
            return _look(bench, address)
        case EnterPair(hardware, interface):
            table = {**bench.table, hardware: interface}
            return _answered(
                replace(bench, table=table), f"the table gives {interface} to {hardware}"
            )
        case StartServer():
            return _answered(replace(bench, serving=True), "the server listens")
        case StopServer():
            return replace(bench, serving=False), "the server is stopped", True
        case PowerCycle():
            return _power_cycle(bench)
        case WriteAddress(interface):
            return _write(bench, interface)
        case StopAsking():
            return _stop_asking(bench)
        case Verify():
            return _verify(bench)
    raise PlanError(f"{action!r} is no action; use one of this module's.")


def _look(bench: Bench, address: IPv4Address) -> _Done:
    if bench.laptop is None or address not in bench.laptop.network:
        return bench, f"the laptop is not in the subnet of {address}: silence proves nothing", False
    if address in bench.others or address == bench.laptop.ip:
        return bench, f"{address} answers: it is taken, choose another one", False
    known = bench.known_free | {address}
    return replace(bench, known_free=known), f"nobody answers at {address}: it is free", True


def _power_cycle(bench: Bench) -> _Done:
    kept = None if bench.port.asks else bench.port.written
    port = replace(bench.port, powered=True, present=kept)
    bench = replace(bench, port=port, cycled=True)
    if port.asks:
        return _answered(bench, "the port comes up")
    if port.present is None:
        return bench, "the port comes up with no address and does not ask for one", False
    return bench, f"the port comes up with its written address {port.present}", True


def _answered(bench: Bench, said: str) -> _Done:
    """The bench after the port's request, which it repeats until a server answers (RFC 951)."""
    port = bench.port
    if not port.powered or not port.asks or port.present is not None:
        return bench, said, True
    asking = f"{said}; the port, {port.hardware}, asks for an address"
    if not bench.serving:
        return bench, f"{asking}, nobody answers, it asks again and again", False
    if bench.laptop is None:
        return bench, f"{asking}, but the laptop has no address to answer from", False
    given = bench.table.get(port.hardware)
    if given is None:
        return bench, f"{asking}, but the server's table does not hold it: no answer", False
    after = replace(bench, port=replace(port, present=given))
    return after, f"{asking} and gets {given}, until its power goes", True


def _unreached(bench: Bench) -> str:
    port, laptop = bench.port, bench.laptop
    if not port.powered:
        return "the port has no power"
    if port.present is None:
        return "the port has no address"
    if laptop is None:
        return "the laptop has no address"
    if port.present.ip == laptop.ip or {port.present.ip, laptop.ip} & bench.others:
        return "an address is used twice on this cable: answers come and go"
    return f"the laptop ({laptop}) and the port ({port.present}) are in different subnets"


def _write(bench: Bench, interface: IPv4Interface) -> _Done:
    if not bench.reaches_port:
        return bench, f"the laptop cannot write: {_unreached(bench)}", False
    port = replace(bench.port, written=interface, present=interface)
    return _changed(bench, port), f"{interface} is written into the port", True


def _stop_asking(bench: Bench) -> _Done:
    if not bench.reaches_port:
        return bench, f"the laptop cannot switch the asking off: {_unreached(bench)}", False
    return _changed(bench, replace(bench.port, asks=False)), "the port no longer asks", True


def _changed(bench: Bench, port: FixedPort) -> Bench:
    return replace(bench, port=port, cycled=False, proven=False)


def _verify(bench: Bench) -> _Done:
    if not bench.reaches_port:
        return bench, f"no answer: {_unreached(bench)}", False
    proven = bench.proven or (bench.cycled and not bench.port.asks)
    return replace(bench, proven=proven), f"the port answers at {bench.port.present}", True


def _host(interface: str | IPv4Interface) -> IPv4Interface:
    interface = interface_of(interface)
    problem = host_problem(interface)
    if problem is not None:
        raise PlanError(f"{interface.ip} is {problem}; choose a host address.")
    return interface
