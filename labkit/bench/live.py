"""The bench with power on: potentials at every terminal, who is powered, what the supplies give.

A supply is a source behind its inner resistance that gives no more than its rating: beyond it
holds its current and its voltage falls (a model of a limited supply, no source; without a rating
8 A, the most a trunk carries). A diode in its power tap lets nothing flow back. A device draws
its current from 11 V up (nodes need 11 to 25 V, ODVA PUB00027R1), less below, nothing backwards.
An idle transceiver holds both wires at 2.5 V above its own V- through its inputs; a dominant one
drives them apart, with the levels of `labkit.fieldbus.line.Transceiver`.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Final

from labkit.bench.faults import DeviceDead, Draws, SupplyDead, SupplyReversed, SupplyWeak
from labkit.bench.wiring import Wiring, middle_node, part_node
from labkit.fieldbus.circuit import (
    Circuit,
    CurrentLoad,
    CurrentSource,
    Element,
    PowerLoad,
    Resistor,
    Short,
    Solution,
    VoltageSource,
    solve,
)
from labkit.fieldbus.devicenet.cable import cable_type
from labkit.fieldbus.devicenet.parts import Supply
from labkit.fieldbus.line import Transceiver

LEAST_VOLT: Final = 11.0
MOST_VOLT: Final = 25.0
"""Volts that a node needs between V+ and V-: 11 to 25 (ODVA PUB00027R1)."""
IDLE_VOLT: Final = 2.5
"""CAN_H and CAN_L of an idle bus above V- (ISO 11898-2)."""
INNER_OHM: Final = 1e-3
"""Inside a supply for which the plan says nothing."""
BLEEDER_OHM: Final = 10e3
"""Across the output of a supply, counted where it is at its current limit (a guess, no source)."""
TURNS: Final = 12

_DRIVER: Final = Transceiver("a driver", "its place")
_HALF_VOLT: Final = _DRIVER.dominant_volt / 2
_HALF_OHM: Final = _DRIVER.output_ohm / 2
_MOST_AMPERE: Final = cable_type("thick").current_limit()


@dataclass(frozen=True, slots=True)
class Potentials:
    """A solved bench: the voltage of each node within the part of the circuit it belongs to."""

    part: Mapping[str, int]
    volt: Mapping[str, float]

    def between(self, a: str, b: str) -> float:
        """Volts of `a` above `b`; 0 where nothing connects the two: a meter pulls them together."""
        if self.part.get(a) is None or self.part.get(a) != self.part.get(b):
            return 0.0
        return self.volt[a] - self.volt[b]

    @staticmethod
    def of(solution: Solution) -> Potentials:
        """The potentials of a solution."""
        index = solution.circuit.layout.index
        return Potentials(
            {node: solution.part[n] for node, n in index.items()},
            {node: solution.level[n] for node, n in index.items()},
        )


NOTHING: Final = Potentials({}, {})


class Live:
    """A wiring with its supplies switched on; solved when first asked."""

    def __init__(self, wiring: Wiring) -> None:
        self.wiring = wiring
        faults = wiring.faults
        self._dead = {f.supply for f in faults if isinstance(f, SupplyDead)}
        self._weak = {f.supply: f.ampere for f in faults if isinstance(f, SupplyWeak)}
        self._reversed = {f.supply for f in faults if isinstance(f, SupplyReversed)}
        self._draws = {f.device: f.ampere for f in faults if isinstance(f, Draws)}
        self._lifeless = {f.device for f in faults if isinstance(f, DeviceDead)}

    @cached_property
    def _fed(self) -> tuple[Potentials, dict[str, float], dict[str, Element]]:
        """Loads and supplies settled: potentials, A of each supply, and the sources as they act.

        Each turn a supply beyond its limit becomes a current source, one that would be fed
        backwards is shut off by its diode.
        """
        sources = {name: self._source(name) for name in self._on}
        for _ in range(TURNS):
            circuit = Circuit((*self.wiring.passive, *self._rests(), *self._loads, *_all(sources)))
            if not any(_live(source) for source in sources.values()):
                return NOTHING, dict.fromkeys(self.wiring.layout.supplies, 0.0), {}
            solution = solve(circuit)
            amperes = {name: solution.current(f"{name} source") for name in sources}
            if not self._adjust(sources, amperes, solution):
                break
        flows = dict.fromkeys(self.wiring.layout.supplies, 0.0) | amperes
        return Potentials.of(solution), flows, sources

    @property
    def _on(self) -> list[str]:
        return [name for name in self.wiring.layout.supplies if name not in self._dead]

    def _limit(self, name: str) -> float:
        plate = self.wiring.layout.supplies[name].rating or _MOST_AMPERE
        return min(plate, self._weak.get(name, plate))

    def _source(self, name: str) -> Element:
        return VoltageSource(
            f"{name} source", f"{name}#inner", f"{name}#minus", self._supply(name).voltage
        )

    def _supply(self, name: str) -> Supply:
        return self.wiring.layout.supplies[name]

    def _adjust(
        self, sources: dict[str, Element], amperes: dict[str, float], solution: Solution
    ) -> bool:
        changed = False
        for name in list(sources):
            source = sources[name]
            if isinstance(source, VoltageSource):
                if amperes[name] > self._limit(name) * (1 + 1e-9):
                    ends = (f"{name}#inner", f"{name}#minus")
                    sources[name] = CurrentSource(f"{name} source", *ends, self._limit(name))
                    changed = True
                elif amperes[name] < -1e-9 and self._supply(name).diode:
                    del sources[name]
                    changed = True
            elif solution.voltage(f"{name}#inner", f"{name}#minus") > self._supply(name).voltage:
                sources[name] = self._source(name)
                changed = True
        return changed

    def _rests(self) -> Iterable[Element]:
        """What stands whatever happens: middles of receivers on V-, the supplies' leads."""
        for device in self.wiring.layout.devices:
            yield Short(f"{device} middle", middle_node(device), part_node(device, 1))
        yield from self._leads

    @cached_property
    def _leads(self) -> tuple[Element, ...]:
        leads: list[Element] = []
        for name, supply in self.wiring.layout.supplies.items():
            swapped = (name in self._reversed) != supply.reversed_polarity
            plus, minus = (1, 5) if swapped else (5, 1)
            ohm = supply.resistance or INNER_OHM
            leads.append(Resistor(f"{name} inside", f"{name}#inner", part_node(name, plus), ohm))
            leads.append(Short(f"{name} common", f"{name}#minus", part_node(name, minus)))
        return tuple(leads)

    @cached_property
    def _loads(self) -> tuple[Element, ...]:
        loads: list[Element] = []
        for device in self.wiring.layout.devices.values():
            ends = (part_node(device.name, 5), part_node(device.name, 1))
            name = f"{device.name} load"
            ampere = self._draws.get(device.name, device.current)
            if device.constant_power and device.name not in self._draws:
                loads.append(PowerLoad(name, *ends, device.constant_power, LEAST_VOLT))
            elif ampere:
                loads.append(CurrentLoad(name, *ends, ampere, LEAST_VOLT))
        return tuple(loads)

    @cached_property
    def powered(self) -> frozenset[str]:
        """The devices with 11 to 25 V between V+ and V-, the right way round."""
        fed = self._fed[0]
        return frozenset(
            device
            for device in self.wiring.layout.devices
            if LEAST_VOLT <= fed.between(part_node(device, 5), part_node(device, 1)) <= MOST_VOLT
        )

    def works(self, device: str) -> bool:
        """Whether a device's transceiver works: powered and not dead."""
        return device in self.powered and device not in self._lifeless

    @property
    def supply_currents(self) -> dict[str, float]:
        """A that each supply gives."""
        return self._fed[1]

    @cached_property
    def idle(self) -> Potentials:
        """Power on, nobody sending."""
        return self._solved(None)

    def dominant(self, driver: str) -> Potentials:
        """Power on, `driver` holding the bus dominant."""
        found = self._dominant.get(driver)
        if found is None:
            found = self._dominant[driver] = self._solved(driver)
        return found

    @cached_property
    def _dominant(self) -> dict[str, Potentials]:
        return {}

    def _solved(self, driver: str | None) -> Potentials:
        sources = self._fed[2]
        if not sources:
            return NOTHING
        drivers = [e for d in self.wiring.layout.devices for e in self._transceiver(d, driver)]
        elements = (*self.wiring.passive, *self._leads, *self._loads, *_all(sources), *drivers)
        return Potentials.of(solve(Circuit(elements)))

    def _transceiver(self, device: str, driver: str | None) -> Iterable[Element]:
        middle, common = middle_node(device), part_node(device, 1)
        if not self.works(device):
            yield Short(f"{device} middle", middle, common)
            return
        yield VoltageSource(f"{device} middle", middle, common, IDLE_VOLT)
        if device == driver:
            for number, volt in ((4, _HALF_VOLT), (2, -_HALF_VOLT)):
                inner = f"{device}#driver {number}"
                yield VoltageSource(f"{device} drives {number}", inner, middle, volt)
                end = part_node(device, number)
                yield Resistor(f"{device} output {number}", inner, end, _HALF_OHM)


def _all(sources: Mapping[str, Element]) -> Iterable[Element]:
    """The sources; beside one at its current limit the bleeder of its output.

    Without it a current source before idle loads would stand at hundreds of megavolts, from where
    no search finds back to what the network settles at.
    """
    for name, source in sources.items():
        yield source
        if isinstance(source, CurrentSource):
            yield Resistor(f"{name} bleeder", f"{name}#inner", f"{name}#minus", BLEEDER_OHM)


def _live(source: Element) -> bool:
    return isinstance(source, VoltageSource | CurrentSource)
