"""The bench as a circuit: every conductor through every connector, with the faults in it.

Resistance of the cable is per conductor at 20 °C as the plan's data sheet or else the published
figures have it (`Cable.power_loop_data` and `signal_loop_data`); where only the planning
figure is known that one is taken. All but the power pair count as signal conductors, the shield's
as well (no source). Half of
a tap's contact lies at each of its two trunk connectors; every other connector has the same half.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace
from functools import cached_property, lru_cache
from typing import Final, TypeVar

from labkit.bench.conductors import NOT_LANDED, Landing, Wire
from labkit.bench.faults import (
    BiasExtra,
    BiasMissing,
    Broken,
    Corroded,
    Earthed,
    Fault,
    FuseBlown,
    Landed,
    Loose,
    NotEarthed,
    PlusJoined,
    TerminatorExtra,
    TerminatorMissing,
    TerminatorValue,
    TooLong,
    Touching,
    WrongCable,
)
from labkit.bench.layout import EARTH, LEFT_END, RIGHT_END, Connector, Layout, Piece
from labkit.bench.levels import Bias
from labkit.bench.plan import Cable, Cabling, Device, Supply
from labkit.bench.situation import Situation, Terminal
from labkit.fieldbus.circuit import Circuit, Element, Open, Resistor, Short
from labkit.fieldbus.errors import PlanError

TOUCH_OHM: Final = 0.2
"""Two conductors that touch, or a conductor that touches earth (a choice, no source)."""
EARTH_OHM: Final = 0.1
"""The earth conductor at the supply (a choice, no source)."""
FUSE_OHM: Final = 0.03
"""A fuse of a few amperes (a choice, no source)."""

F = TypeVar("F", bound=Fault)


class Wiring:
    """The conductors of a bench in a situation: circuit elements and the node of each terminal."""

    def __init__(self, layout: Layout, faults: frozenset[Fault], situation: Situation) -> None:
        self.layout = layout
        self._cable = layout.conductors
        self.faults = faults
        self.situation = situation
        self._landed = {f.connector: f.terminals for f in self._all(Landed)}
        self._open = {(f.connector, f.wire) for f in self._all(Broken)}
        self._open |= {
            (f.connector, f.wire) for f in self._all(Loose) if is_open(f, situation.clock_s)
        }
        self._corroded = {(f.connector, f.wire): f.ohm for f in self._all(Corroded)}
        touched = (f.connector for kind in (Touching, Earthed) for f in self._all(kind))
        parted = (connector for connector, _ in (*self._open, *self._corroded))
        self._odd = {*self._landed, *parted, *touched, *situation.unplugged}
        self._plus_joined = {f.piece for f in self._all(PlusJoined)}
        self._odd_pieces = {f.piece for kind in (WrongCable, TooLong) for f in self._all(kind)}
        self._odd_pieces |= self._plus_joined

    def _all(self, kind: type[F]) -> list[F]:
        return sorted(
            (f for f in self.faults if isinstance(f, kind)),
            key=lambda f: (f.place, f.words_on(self.layout)),
        )

    @cached_property
    def passive(self) -> tuple[Element, ...]:
        """Cable, contacts, terminators, earth and the receivers' inputs, without any source."""
        planned = _as_planned(self.layout, self.layout.cabling)
        elements: list[Element] = []
        for name, connector in self.layout.connectors.items():
            odd = name in self._odd
            elements += self.contacts(connector) if odd else planned.contacts[name]
        for piece in self.layout.pieces.values():
            odd = self._is_odd(piece)
            elements += self.conductors(piece) if odd else planned.conductors[piece.id]
        return (*elements, *self._fitted(), *planned.inputs)

    @cached_property
    def dead(self) -> Circuit:
        """The whole bench without power: receivers' middles lie on the common, where they are held
        at all."""
        return Circuit((*self.passive, *_as_planned(self.layout, self.layout.cabling).middles))

    @cached_property
    def quick(self) -> tuple[Element, ...]:
        """As `passive`, but without the nodes that no probe can touch: half of all.

        A conductor is one resistor with the contacts at its ends, where nothing is odd about them.
        What is worked out has other last bits: who asks must know whether they matter.
        """
        planned = _as_planned(self.layout, self.layout.cabling)
        elements: list[Element] = []
        for piece in self.layout.pieces.values():
            if not self._is_odd(piece):
                elements += planned.joined[piece.id]
                continue
            for end in (piece.a, piece.b):
                elements += self.contacts(self.layout.connectors[end])
            elements += self.conductors(piece)
        return (*elements, *self._fitted(), *planned.inputs)

    @cached_property
    def probed(self) -> Circuit:
        """As `dead`, from `quick`: see `labkit.bench.meter.on_edge`."""
        return Circuit((*self.quick, *_as_planned(self.layout, self.layout.cabling).middles))

    def _is_odd(self, piece: Piece) -> bool:
        return piece.id in self._odd_pieces or piece.a in self._odd or piece.b in self._odd

    def _fitted(self) -> Iterator[Element]:
        yield from self._terminators()
        yield from self._biases()
        yield from self._touches()
        yield from self._earth()
        yield from self._fuses()

    def node(self, terminal: Terminal) -> str:
        """The circuit's node at a terminal.

        With the plug in its socket a probe touches both: 2.5 mΩ lie between them.
        """
        terminal.require_on(self.layout)
        if terminal.connector == EARTH:
            return EARTH
        connector = self.layout.connectors[terminal.connector]
        if terminal.socket or connector.id not in self.situation.unplugged:
            return self.socket(connector, terminal.number)
        return _plug(connector.id, terminal.number)

    @property
    def sockets(self) -> Mapping[str, tuple[str, ...]]:
        """The circuit's nodes at the socket of each connector, in the order of its terminals."""
        return _as_planned(self.layout, self.layout.cabling).sockets

    def landed(self, connector: str) -> Landing:
        """What is seen when a connector is opened: the terminal of each conductor, 0 for none."""
        return self._landed.get(connector, self._cable.in_order)

    def runs(self, piece: Piece) -> tuple[tuple[str, float], ...]:
        """The cable that really lies in a piece: (type, metres) in order."""
        runs = piece.runs
        for wrong in self._all(WrongCable):
            if wrong.piece == piece.id:
                runs = ((wrong.cable, piece.metres),)
        for longer in self._all(TooLong):
            if longer.piece == piece.id:
                share = longer.metres / piece.metres
                runs = tuple((cable, metres * share) for cable, metres in runs)
        return runs

    def socket(self, connector: Connector, number: int) -> str:
        """A socket's node; plus is split by the fuse of a drop, and where a power tap's is taken
        out."""
        plus = self._cable.power and self._cable.power[0].terminal
        if number != plus:
            return part_node(connector.socket, number)
        if connector.id in self.layout.fused:
            return behind_fuse(connector.id)
        side = connector.id.rpartition(", ")[2]
        supply = self._supply_of_tap.get(connector.socket)
        if supply and side in ("left", "right"):
            fuse = supply.fuse_left if side == "left" else supply.fuse_right
            if fuse == 0:
                return f"{connector.socket} {side}#{number}"
        return part_node(connector.socket, number)

    @cached_property
    def _supply_of_tap(self) -> dict[str, Supply]:
        return {f"power tap of {name}": supply for name, supply in self.layout.supplies.items()}

    def contacts(self, connector: Connector) -> tuple[Element, ...]:
        """From plug to socket, and from a corroded conductor to its plug."""
        return tuple(self._contacts(connector))

    def conductors(self, piece: Piece) -> tuple[Element, ...]:
        """From plug to plug."""
        return tuple(self._conductors(piece))

    def joined(self, piece: Piece) -> tuple[Element, ...]:
        """From socket to socket, each conductor with its contacts in one."""
        return tuple(self._joined(piece))

    def _contacts(self, connector: Connector) -> Iterable[Element]:
        for number in self._cable.in_order:
            name, plug = f"{connector.id} contact {number}", _plug(connector.id, number)
            socket = self.socket(connector, number)
            if connector.id in self.situation.unplugged:
                yield Open(name, plug, socket)
            else:
                yield Resistor(name, plug, socket, self.layout.cabling.contact_ohm / 2)
        for wire, terminal in zip(self._cable.wires, self.landed(connector.id), strict=True):
            ohm = self._corroded.get((connector.id, wire))
            whole = terminal != NOT_LANDED and (connector.id, wire) not in self._open
            if ohm and whole:
                name = f"{connector.id} corroded {wire.label}"
                yield Resistor(name, _end(connector.id, wire), _plug(connector.id, terminal), ohm)

    def conductor(self, connector: str, wire: Wire) -> str:
        """The node of a conductor's end: its terminal's, or one of its own where it is parted."""
        terminal = self.landed(connector)[wire.terminal - 1]
        parted = (connector, wire) in self._open or (connector, wire) in self._corroded
        if terminal == NOT_LANDED or parted:
            return _end(connector, wire)
        return _plug(connector, terminal)

    def pair_through(self, connector: str) -> bool:
        """Whether the signal conductors, either way round, pass a connector as a pair."""
        landed = self.landed(connector)
        high, low = self._cable.pair
        own = {high.terminal, low.terminal}
        return (
            {landed[high.terminal - 1], landed[low.terminal - 1]} == own
            and not {(connector, high), (connector, low)} & self._open
            and connector not in self.situation.unplugged
        )

    def _conductors(self, piece: Piece) -> Iterable[Element]:
        runs = self.runs(piece)
        power = self._cable.power or ()
        for wire in self._cable.wires:
            a, b = self.conductor(piece.a, wire), self.conductor(piece.b, wire)
            name = f"{piece.id} {wire.label}"
            cut = not piece.plus and piece.id not in self._plus_joined
            if cut and power and wire == power[0]:
                yield Open(name, a, b)
            elif runs:
                ohm = math.fsum(
                    metres
                    * conductor_resistance(self.layout.plan.cable(cable), power=wire in power)
                    for cable, metres in runs
                )
                yield Resistor(name, a, b, ohm)
            else:
                yield Short(name, a, b)

    def _joined(self, piece: Piece) -> Iterable[Element]:
        a, b = (self.layout.connectors[end] for end in (piece.a, piece.b))
        contacts = self.layout.cabling.contact_ohm
        for wire, conductor in zip(self._cable.wires, self.conductors(piece), strict=True):
            ends = self.socket(a, wire.terminal), self.socket(b, wire.terminal)
            if isinstance(conductor, Open):
                yield Open(conductor.name, *ends)
            else:
                ohm = conductor.ohm if isinstance(conductor, Resistor) else 0.0
                yield Resistor(conductor.name, *ends, ohm + contacts)

    def terminators(self) -> dict[str, tuple[str, float]]:
        """Every terminator that is fitted: name → (the joint or part that it sits on, ohm)."""
        ohm = self.layout.cabling.terminator_ohm
        fitted = {end: (end, ohm) for end in (LEFT_END, RIGHT_END)}
        for other in self._all(TerminatorValue):
            fitted[other.end] = (other.end, other.ohm)
        for missing in self._all(TerminatorMissing):
            fitted.pop(missing.end, None)
        for extra in self._all(TerminatorExtra):
            socket = self.layout.connectors[extra.connector].socket
            fitted[f"extra at {extra.connector}"] = (socket, ohm)
        return fitted

    def _terminators(self) -> Iterable[Element]:
        high, low = (wire.terminal for wire in self._cable.pair)
        for name, (socket, ohm) in self.terminators().items():
            ends = part_node(socket, high), part_node(socket, low)
            yield Resistor(f"terminator {name}", *ends, ohm)

    def biases(self) -> dict[str, Bias]:
        """Every bias that is fitted, by the part that it sits on and its connector."""
        planned = self.layout.bias
        if planned is None:
            return {}
        fitted = [replace(planned, connector=f.connector) for f in self._all(BiasExtra)]
        if BiasMissing(planned.connector) not in self.faults:
            fitted.insert(0, planned)
        return {f"bias at {each.connector}": each for each in fitted}

    def _biases(self) -> Iterable[Element]:
        """Pull-up and pull-down; with power off nothing lies between rail and common."""
        high, low = (wire.terminal for wire in self._cable.pair)
        for name, bias in self.biases().items():
            part = self.layout.connectors[bias.connector].socket
            yield Resistor(f"{name} up", rail_node(name), part_node(part, high), bias.up_ohm)
            common = self.common_at(bias)
            yield Resistor(f"{name} down", part_node(part, low), common, bias.down_ohm)

    def common_at(self, bias: Bias) -> str:
        """The node of the common where a bias sits."""
        part = self.layout.connectors[bias.connector].socket
        return part_node(part, self._cable.common.terminal)

    def _touches(self) -> Iterable[Element]:
        for touch in self._all(Touching):
            a, b = (self.conductor(touch.connector, wire) for wire in (touch.a, touch.b))
            if a != b:
                yield Resistor(touch.words_on(self.layout), a, b, TOUCH_OHM)
        for leak in self._all(Earthed):
            at = self.conductor(leak.connector, leak.wire)
            yield Resistor(leak.words_on(self.layout), at, EARTH, TOUCH_OHM)

    def _fuses(self) -> Iterable[Element]:
        """The fuse of each drop, where there are any, from the tap's plus to the drop's."""
        blown = {fault.connector for fault in self._all(FuseBlown)}
        for name in self.layout.fused:
            plus, _ = self._cable.plus_and_minus
            tap = part_node(self.layout.connectors[name].socket, plus.terminal)
            ends = tap, behind_fuse(name)
            if name in blown:
                yield Open(f"fuse of {name}", *ends)
            else:
                yield Resistor(f"fuse of {name}", *ends, FUSE_OHM)

    def _earth(self) -> Iterable[Element]:
        part, conductors = self.layout.earthed_part, self.layout.conductors
        common = part_node(part, conductors.common.terminal)
        shield = part_node(part, conductors.shield.terminal)
        if any(isinstance(fault, NotEarthed) for fault in self.faults):
            yield Open("earth conductor", common, EARTH)
            return
        yield Short("shield to common", shield, common)
        if self.situation.earth_lifted:
            yield Open("earth conductor", common, EARTH)
        else:
            yield Resistor("earth conductor", common, EARTH, EARTH_OHM)


class _AsPlanned:
    """What a layout's circuit is made of while nothing is odd; each place made once."""

    def __init__(self, layout: Layout) -> None:
        self._layout = layout
        self._wiring = Wiring(layout, frozenset(), Situation())
        devices, common = layout.devices, layout.conductors.common.terminal
        self.inputs = tuple(
            element for device in devices.values() for element in _inputs(device, layout.cabling)
        )
        held = devices if layout.cabling.levels.holds else ()
        self.middles = tuple(
            Short(f"{name} middle", middle_node(name), part_node(name, common)) for name in held
        )

    @cached_property
    def sockets(self) -> dict[str, tuple[str, ...]]:
        """The nodes at each connector's socket, by its id."""
        numbers = self._layout.conductors.in_order
        return {
            c.id: tuple(self._wiring.socket(c, number) for number in numbers)
            for c in self._layout.connectors.values()
        }

    @cached_property
    def contacts(self) -> dict[str, tuple[Element, ...]]:
        """Of each connector, by its id."""
        return {c.id: self._wiring.contacts(c) for c in self._layout.connectors.values()}

    @cached_property
    def conductors(self) -> dict[str, tuple[Element, ...]]:
        """Of each piece of cable, by its id."""
        return {p.id: self._wiring.conductors(p) for p in self._layout.pieces.values()}

    @cached_property
    def joined(self) -> dict[str, tuple[Element, ...]]:
        """Of each piece of cable with its contacts, by its id."""
        return {p.id: self._wiring.joined(p) for p in self._layout.pieces.values()}


# All benches of a layout are alike but for a few places. Equal layouts may be cabled differently.
@lru_cache(maxsize=16)
def _as_planned(layout: Layout, cabling: Cabling) -> _AsPlanned:  # noqa: ARG001
    return _AsPlanned(layout)


def is_open(fault: Loose, clock_s: float) -> bool:
    """Whether a loose contact is open at a time on the bench's clock, s."""
    return clock_s % fault.every_s >= fault.every_s - fault.open_s


def part_node(part: str, number: int) -> str:
    """The node of a joint's or part's terminal."""
    return f"{part}#{number}"


def conductor_resistance(cable: Cable, *, power: bool) -> float:
    """Ohm per metre of one conductor at 20 °C, of the power pair or another; `PlanError` where
    none is known."""
    real = cable.power_loop_data if power else cable.signal_loop_data
    known = real if real is not None else cable.power_resistance
    if known is None:
        kind = "power" if power else "signal"
        raise PlanError(
            f"No resistance of {cable.name} cable's {kind} conductors is known here: lay another "
            "on the bench, or let the plan state the figure of its data sheet."
        )
    return known


def _inputs(device: Device, cabling: Cabling) -> Iterable[Element]:
    ohm, middle = cabling.levels.input_ohm(device), middle_node(device.name)
    for wire in cabling.conductors.pair:
        name = f"{device.name} input {wire.label}"
        yield Resistor(name, part_node(device.name, wire.terminal), middle, ohm)


def behind_fuse(connector: str) -> str:
    """The node of a drop's plus behind its fuse."""
    return f"{connector}#fused"


def rail_node(bias: str) -> str:
    """Where the pull-up of a bias hangs."""
    return f"{bias}#rail"


def middle_node(device: str) -> str:
    return f"{device}#middle"


def _plug(connector: str, number: int) -> str:
    return f"{connector}:{number}"


def _end(connector: str, wire: Wire) -> str:
    return f"{connector}!{wire.label}"
