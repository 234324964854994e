"""The power circuit of one section: its feed tree built from the plan, solved and read back."""

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Final

from labkit.fieldbus.devicenet.conductors import Conductors
from labkit.fieldbus.devicenet.feedtree import Fed, FeedTree, LoadsCannotBeFedError
from labkit.fieldbus.devicenet.fullmethod import calculate_section
from labkit.fieldbus.devicenet.network import TOLERANCE, Network
from labkit.fieldbus.devicenet.parts import Device, Drop, Segment, Supply, Tap
from labkit.fieldbus.devicenet.sections import Section
from labkit.fieldbus.devicenet.solution import DropCurrent, PieceCurrent, SupplyCurrent
from labkit.fieldbus.errors import PlanError

LEAK: Final = 1e-9
"""Amperes backwards through a diode that are taken as rounding."""


@dataclass(slots=True)
class SolvedSection:
    """One section solved. `rise` is V- against the section's first power tap.

    `points`: (m, V between the conductors, rise, tap); `devices`: (device, tap, A, V);
    `supply_rises`: (supply, rise).
    """

    source: float = 0.0
    top: float = 0.0
    points: list[tuple[float, float, float, str]] = field(default_factory=list)
    devices: list[tuple[Device, str, float, float]] = field(default_factory=list)
    pieces: list[PieceCurrent] = field(default_factory=list)
    drops: list[DropCurrent] = field(default_factory=list)
    supplies: list[SupplyCurrent] = field(default_factory=list)
    supply_rises: list[tuple[Supply, float]] = field(default_factory=list)


@dataclass(slots=True)
class _Station:
    """A place on the trunk where something stands, its node, and its supply's terminal's node."""

    position: float
    part: Tap | Supply | None
    node: int = 0
    terminal: int = 0


class SectionCircuit:
    """One section as a feed tree: stations along the trunk, drops below the taps."""

    def __init__(self, network: Network, section: Section, copper: Conductors) -> None:
        self.network = network
        self.section = section
        self.copper = copper
        self.parents = [0]
        self.resistances = [0.0]
        self.loads = [0.0]
        self.powers: dict[int, float] = {}
        self.device_nodes: list[tuple[Device, str, int]] = []
        self.root = 0
        self.stations = list(_stations(network, section))
        self.spans = [
            network.pieces(here.position, there.position) for here, there in pairwise(self.stations)
        ]
        """The pieces of trunk between each station and the next."""
        self.ohm_per_m: dict[str, float] = {}

    def solved(self) -> SolvedSection:
        """The section's voltages and currents."""
        if not self.section.supplies:
            return self._dead(0.0)
        if any(supply.reversed_polarity for supply in self.section.supplies):
            return self._reversed()
        self._build()
        return self._read(self._settled(), max(supply.voltage for supply in self.section.supplies))

    def _reversed(self) -> SolvedSection:
        supplies = self.section.supplies
        if not all(supply.reversed_polarity for supply in supplies):
            raise PlanError(
                f"In the {self.section.words} one supply has V+ and V− swapped and another has "
                "not: that is a short circuit; mend the polarity."
            )
        return self._dead(-max(supply.voltage for supply in supplies))

    def _dead(self, volts: float) -> SolvedSection:
        """A section that draws no current: the same voltage everywhere."""
        for station in self.stations:
            if isinstance(station.part, Tap):
                self._hang(station.part.drop, station.part.name, 0)
        still = Fed([volts] * len(self.parents), [0.0] * len(self.parents), {})
        return self._read(still, volts, drawing=False)

    def _build(self) -> None:
        """The tree from the first supply's terminals outwards, right and left."""
        self.root = next(i for i, s in enumerate(self.stations) if isinstance(s.part, Supply))
        first = self.stations[self.root]
        assert isinstance(first.part, Supply)
        first.node = self._node(0, first.part.resistance)
        for at in range(self.root + 1, len(self.stations)):
            self._join(self.stations[at - 1], self.stations[at], self.spans[at - 1])
        for at in range(self.root - 1, -1, -1):
            self._join(self.stations[at + 1], self.stations[at], self.spans[at])

    def _resistance(self, cable: str) -> float:
        """Ohm/m of one power conductor, looked up once for each cable."""
        if cable not in self.ohm_per_m:
            self.ohm_per_m[cable] = self.copper.resistance(self.network.cable(cable))
        return self.ohm_per_m[cable]

    def _join(
        self, here: _Station, station: _Station, span: Sequence[tuple[Segment, float]]
    ) -> None:
        """Lead the trunk on from `here` to `station`, and hang on it what stands there."""
        ohms = math.fsum([length * self._resistance(piece.cable) for piece, length in span])
        if isinstance(station.part, Tap):
            station.node = self._node(here.node, 2 * (ohms + self.copper.contact))
            self._hang(station.part.drop, station.part.name, station.node)
            return
        station.node = self._node(here.node, 2 * ohms)
        if isinstance(station.part, Supply):
            station.terminal = self._node(station.node, station.part.resistance)
            self._require_apart(station)

    def _require_apart(self, station: _Station) -> None:
        for other in self._supply_stations():
            if other is not station and other.terminal == station.terminal:
                raise PlanError(
                    f"The supplies at {other.position:g} m and {station.position:g} m are joined "
                    "without any resistance between them, so how they share the current cannot be "
                    "told; give them an inner resistance or move one."
                )

    def _hang(self, drop: Drop, tap: str, node: int) -> None:
        """Hang a drop's cable, devices and branches below a node."""
        if drop.length > 0:
            node = self._node(node, 2 * drop.length * self._resistance(drop.cable))
        for device in drop.devices:
            self.device_nodes.append((device, tap, node))
            self.loads[node] += device.current
            if device.constant_power:
                self.powers[node] = self.powers.get(node, 0.0) + device.constant_power
        for branch in drop.branches:
            self._hang(branch, tap, node)

    def _node(self, parent: int, resistance: float) -> int:
        """A node behind `resistance`; the parent itself when there is none between them."""
        if resistance <= 0:
            return parent
        self.parents.append(parent)
        self.resistances.append(resistance)
        self.loads.append(0.0)
        return len(self.parents) - 1

    def _supply_stations(self) -> Iterator[_Station]:
        return (station for station in self.stations if isinstance(station.part, Supply))

    def _settled(self) -> Fed:
        """The solution with each diode open that would have to carry current backwards.

        Opening one lets the voltage there rise, so that others carry more backwards, never less:
        an open diode need not be closed again.
        """
        tree = FeedTree(tuple(self.parents), tuple(self.resistances))
        supplies = {s.terminal: s.part for s in self._supply_stations()}
        on = {node: part.voltage for node, part in supplies.items() if isinstance(part, Supply)}
        with_diode = {node for node, p in supplies.items() if isinstance(p, Supply) and p.diode}
        while True:
            fed = tree.solve(on, self.loads, self.powers)
            backwards = {node for node in with_diode & on.keys() if fed.given[node] < -LEAK}
            if not backwards:
                break
            on = {node: volts for node, volts in on.items() if node not in backwards}
        if self.device_nodes and min(fed.volts[node] for _, _, node in self.device_nodes) <= 0:
            raise LoadsCannotBeFedError(
                f"The devices of the {self.section.words} draw so much that the voltage would fall "
                "to nothing; move the supply nearer, use heavier cable or add a supply."
            )
        return fed

    def _read(self, fed: Fed, source: float, *, drawing: bool = True) -> SolvedSection:
        """Turn node numbers back into the parts of the plan."""
        top = fed.volts[self.stations[self.root].node]
        solved = SolvedSection(source=source, top=top)
        drawn: dict[str, float] = {}
        for device, tap, node in self.device_nodes:
            volts = fed.volts[node]
            amperes = _drawn(device, volts) if drawing else 0.0
            solved.devices.append((device, tap, amperes, volts))
            drawn[device.name] = amperes
        flowing, here = 0.0, self.section.start
        for station, span in zip(self.stations, [[], *self.spans], strict=True):
            for segment, _ in span:
                piece = PieceCurrent(here, station.position, segment.cable, flowing)
                solved.pieces.append(piece)
            flowing = self._read_station(solved, fed, station, flowing, drawn)
            here = station.position
        return solved

    def _read_station(
        self,
        solved: SolvedSection,
        fed: Fed,
        station: _Station,
        before: float,
        drawn: dict[str, float],
    ) -> float:
        """Note what stands here; the current that goes on to the right (Kirchhoff)."""
        part, volts = station.part, fed.volts[station.node]
        rise = (solved.top - volts) / 2
        name = part.name if isinstance(part, Tap) else ""
        after = before
        if isinstance(part, Tap):
            for drop in part.cable_drops:
                solved.drops.append(DropCurrent(part.name, drop.reach, _together(drop, drawn)))
            after -= _together(part.drop, drawn)
        elif isinstance(part, Supply):
            given = fed.given.get(station.terminal, 0.0)
            after += given
            solved.supplies.append(SupplyCurrent(part, given, -before, after))
            solved.supply_rises.append((part, rise))
        solved.points.append((station.position, volts, rise, name))
        return after


def _together(drop: Drop, drawn: Mapping[str, float]) -> float:
    """A of all the nodes of a drop."""
    return math.fsum([drawn[device.name] for device in drop.all_devices])


def _drawn(device: Device, volts: float) -> float:
    """A of a device at a voltage: constant current, or I = P / U."""
    return device.current if not device.constant_power else device.constant_power / volts


def _stations(network: Network, section: Section) -> Iterator[_Station]:
    """Ends, joints, taps and supplies in order; a tap at its only supply on its better side."""
    entries: list[tuple[float, int, _Station]] = [
        (section.start, -9, _Station(section.start, None)),
        (section.end, 9, _Station(section.end, None)),
    ]
    for bound in network.bounds[1:-1]:
        if section.start < bound < section.end:
            entries.append((bound, -5, _Station(bound, None)))
    for supply in section.supplies:
        entries.append((supply.position, 0, _Station(supply.position, supply)))
    left = _left_of_supply(network, section)
    for tap in section.taps:
        at = next(
            (s.position for s in section.supplies if abs(s.position - tap.position) <= TOLERANCE),
            tap.position,
        )
        entries.append((at, -1 if tap.name in left else 1, _Station(tap.position, tap)))
    entries.sort(key=lambda entry: entry[:2])
    return (station for _, _, station in entries)


def _left_of_supply(network: Network, section: Section) -> set[str]:
    """Taps that the full calculation method counts on the left of a section's only supply."""
    if len(section.supplies) != 1:
        return set()
    position = section.supplies[0].position
    if all(abs(tap.position - position) > TOLERANCE for tap in section.taps):
        return set()
    full = calculate_section(network, section, position)
    return {row.tap for row in full.left.rows}
