"""The bench with power on: potentials at every terminal, who is powered, what the supplies give.

A supply is a source behind its inner resistance that gives no more than its rating: beyond, it
holds its current and its voltage falls (a model of a limited supply, no source; without a rating
the most a trunk carries). A diode in its power tap lets nothing flow back. A device draws its
current from the least voltage that it needs (`Cabling`), less below, nothing backwards. Where the
cable carries no power, each device has its own.
What transceivers do to the pair, idle and driving, its `Levels` say. Where they hold no idle pair,
a bias may, fed on its own.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Final

from labkit.bench.driven import Increments
from labkit.bench.faults import DeviceDead, Draws, SupplyDead, SupplyReversed, SupplyWeak
from labkit.bench.levels import Driver
from labkit.bench.meter import volts_on_edge
from labkit.bench.operating import Solving, on_stretches, operating_point, searched
from labkit.bench.plan import Supply
from labkit.bench.wiring import Wiring, middle_node, part_node, rail_node
from labkit.fieldbus.circuit import (
    CurrentLoad,
    Element,
    PowerLoad,
    Resistor,
    Short,
    Solution,
    VoltageSource,
)

INNER_OHM: Final = 1e-3
"""Inside a supply for which the plan says nothing."""
TURNS: Final = 60
SETTLED: Final = 1e-8
SURE_VOLT: Final = 1e-6
"""Far more than rounding, far less than anything that is measured."""
CLEARLY_VOLT: Final = 1.0
"""More than transceivers that wake up move at a device's supply."""
LEAST_OHM: Final = 1e-9
"""A limited supply with less than this inside is not limited any more."""

METERED_VOLT: Final = 2e-6
"""More than two potentials in whole microvolts can be off together."""
MICROVOLTS: Final = 1_000_000
"""In a volt."""

INSIDE: Final = " inside"
"""Ends the name of a supply's inner resistor."""


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

    def microvolts(self, node: str) -> int:
        """The potential in whole microvolts: what a voltmeter's reading is worked out from."""
        return round(self.volt.get(node, 0.0) * MICROVOLTS)

    def metered(self, a: str, b: str) -> float:
        """As `between`, V, worked out in whole microvolts.

        So a recording keeps them: a bench and its recording show the same last digit.
        """
        joined = self.part.get(a, -1) == self.part.get(b, -2)
        return (self.microvolts(a) - self.microvolts(b)) / MICROVOLTS if joined else 0.0

    @staticmethod
    def of(solution: Solution) -> Potentials:
        """The potentials of a solution."""
        index = solution.circuit.layout.index
        return Potentials(
            {node: solution.part[n] for node, n in index.items()},
            {node: solution.level[n] for node, n in index.items()},
        )


NOTHING: Final = Potentials({}, {})


@dataclass(frozen=True, slots=True)
class _State:
    """Where a supply is on its curve: "voltage", "limit" (`ohm` more inside), or "off".

    `last` is the (ohm, A) of the turn before, for the secant through both.
    """

    kind: str = "voltage"
    ohm: float = 0.0
    last: tuple[float, float] | None = None


@dataclass(frozen=True, slots=True)
class _Fed:
    potentials: Potentials
    amperes: dict[str, float]
    states: dict[str, _State]
    elements: tuple[Element, ...] = ()


def _limits(fed: _Fed) -> bool:
    """Whether a supply is at its limit, where it settles less sharply."""
    return any(state.kind == "limit" for state in fed.states.values())


class Live:
    """A wiring with its supplies switched on; solved when first asked."""

    def __init__(self, wiring: Wiring) -> None:
        self.wiring = wiring
        self._cabling = wiring.layout.cabling
        self._conductors = wiring.layout.conductors
        faults = wiring.faults
        self._dead = {f.supply for f in faults if isinstance(f, SupplyDead)}
        self._weak = {f.supply: f.ampere for f in faults if isinstance(f, SupplyWeak)}
        self._reversed = {f.supply for f in faults if isinstance(f, SupplyReversed)}
        self._draws = {f.device: f.ampere for f in faults if isinstance(f, Draws)}
        self._lifeless = {f.device for f in faults if isinstance(f, DeviceDead)}

    @cached_property
    def _fed(self) -> _Fed:
        """Loads and supplies settled, nobody's transceiver awake yet.

        Only who is powered is asked of it, and where the supplies are on their curves.
        """
        if self._conductors.power is None:
            return _Fed(NOTHING, {}, {})
        states = {name: _State() for name in self.wiring.layout.supplies if name not in self._dead}
        rests = tuple(self._rests())
        quick = self._settled(self.wiring.quick, rests, states, on_stretches)
        if self._is_sure(quick):
            return quick
        return self._settled(self.wiring.passive, rests, states, operating_point)

    def _is_sure(self, fed: _Fed) -> bool:
        """Whether nothing that is asked of it hangs on the last bits of a voltage."""
        limits = (self._cabling.least_volt, self._cabling.most_volt)
        return not _limits(fed) and not any(
            abs(volt - limit) < SURE_VOLT for volt in self._fed_volts(fed) for limit in limits
        )

    def _fed_volts(self, fed: _Fed) -> list[float]:
        """From minus to plus at each device, V."""
        plus, minus = (wire.terminal for wire in self._conductors.plus_and_minus)
        return [
            fed.potentials.between(part_node(device, plus), part_node(device, minus))
            for device in self.wiring.layout.devices
        ]

    @cached_property
    def _starved(self) -> bool:
        """Whether a load clearly has too few volts, so that the linear circuit need not be tried.

        Said in vain it costs last bits: the search finds the same operating point.
        """
        least = self._cabling.least_volt - CLEARLY_VOLT
        return self._conductors.power is not None and any(
            volt < least for volt in self._fed_volts(self._fed)
        )

    @cached_property
    def _awake(self) -> _Fed:
        """Loads and supplies settled, every transceiver idle."""
        return self._idling(self.wiring.passive, self._exactly)

    @cached_property
    def _quick(self) -> _Fed:
        """As `_awake`, without the nodes that no probe can touch."""
        return self._idling(self.wiring.quick, on_stretches)

    def _idling(self, passive: Iterable[Element], solved: Solving) -> _Fed:
        drivers = [e for d in self.wiring.layout.devices for e in self._transceiver(d)]
        others = (*self._leads, *self._rails, *drivers)
        return self._settled(passive, others, self._fed.states, solved)

    def _exactly(self, elements: tuple[Element, ...]) -> Solution:
        return searched(elements) if self._starved else operating_point(elements)

    @cached_property
    def _rails(self) -> tuple[Element, ...]:
        """What feeds each bias."""
        return tuple(
            VoltageSource(f"{name} feed", rail_node(name), self.wiring.common_at(bias), bias.volt)
            for name, bias in self.wiring.biases().items()
        )

    def _settled(
        self,
        passive: Iterable[Element],
        others: tuple[Element, ...],
        states: dict[str, _State],
        solved: Solving,
    ) -> _Fed:
        """Every supply on the stretch of its curve where nothing contradicts.

        A turn solves the circuit and moves the one supply that contradicts most: beyond its limit
        to that current, fed backwards to shut off by its diode, and back. Curves of supplies
        only fall, so what is found is the only answer.
        """
        alone = self._conductors.power is None
        if not states and not alone:
            return _Fed(NOTHING, {}, {})
        rest = (*passive, *others, *self._loads)
        for _ in range(TURNS):
            sources = tuple(e for name, state in states.items() for e in self._act(name, state))
            feeding = others if alone else sources
            if not any(isinstance(source, VoltageSource) for source in feeding):
                return _Fed(NOTHING, {}, states)
            elements = (*rest, *sources)
            potentials, amperes = _read(solved(elements), states)
            after = self._moved(states, amperes, potentials)
            if after is None:
                break
            states = after
        return _Fed(potentials, amperes, states, elements)

    def _limit(self, name: str) -> float:
        plate = self.wiring.layout.supplies[name].rating or self._cabling.most_ampere
        return min(plate, self._weak.get(name, plate))

    def _supply(self, name: str) -> Supply:
        return self.wiring.layout.supplies[name]

    def _act(self, name: str, state: _State) -> Iterable[Element]:
        """The supply as it acts: its voltage, behind more resistance where it is limited, or none.

        A held current would be simpler, but loads of constant power can take it at a voltage
        higher than the supply has; behind a resistance the voltage never rises above its own.
        """
        ends = (f"{name}#open", f"{name}#minus")
        if state.kind == "off":
            return
        yield VoltageSource(f"{name} source", *ends, self._supply(name).voltage)
        inner = (f"{name}#open", f"{name}#inner")
        if state.ohm:
            yield Resistor(f"{name} limiter", *inner, state.ohm)
        else:
            yield Short(f"{name} limiter", *inner)

    def _moved(
        self, states: Mapping[str, _State], amperes: Mapping[str, float], potentials: Potentials
    ) -> dict[str, _State] | None:
        """The states of the next turn; None when this one's hold."""
        worst, after = 0.0, dict(states)
        held = dict(states)
        for name, state in states.items():
            full, limit = self._supply(name).voltage, self._limit(name)
            over = amperes[name] / limit - 1
            if state.kind == "limit":
                if abs(over) > SETTLED:
                    held[name] = self._held(state, amperes[name], limit)
                continue
            rise = potentials.between(f"{name}#inner", f"{name}#minus") / full - 1
            if state.kind == "voltage" and over > max(worst, SETTLED):
                ohm = full / limit - full / amperes[name]
                worst, after = over, {**states, name: _State("limit", ohm)}
            elif state.kind == "voltage" and self._supply(name).diode:
                backwards = -amperes[name] / limit
                if backwards > max(worst, SETTLED):
                    worst, after = backwards, {**states, name: _State("off")}
            elif state.kind == "off" and -rise > max(worst, SETTLED):
                worst, after = -rise, {**states, name: _State()}
        if worst:
            return after
        return held if held != states else None

    def _held(self, state: _State, ampere: float, limit: float) -> _State:
        """The next resistance inside a limited supply, within a factor of four.

        A supply alone on resistors gives I = U / (R + ohm), so that the secant is laid through
        1 / I. Loads of constant power draw more as their voltage falls: then on with long strides.
        """
        ohm = state.ohm
        wanted = 2 * ohm if ampere > limit else ohm / 4
        if state.last and state.last[0] != ohm and ampere > 0 and state.last[1] > 0:
            slope = (1 / ampere - 1 / state.last[1]) / (ohm - state.last[0])
            if slope > 0:
                wanted = ohm + (1 / limit - 1 / ampere) / slope
        wanted = min(max(wanted, ohm / 4), 4 * ohm)
        return _State("limit", wanted, (ohm, ampere)) if wanted >= LEAST_OHM else _State()

    def _rests(self) -> Iterable[Element]:
        """What stands whatever happens: middles of receivers on the common, the supplies' leads."""
        common = self._conductors.common.terminal
        held = self.wiring.layout.devices if self._cabling.levels.holds else ()
        for device in held:
            yield Short(f"{device} middle", middle_node(device), part_node(device, common))
        yield from self._leads

    @cached_property
    def _leads(self) -> tuple[Element, ...]:
        leads: list[Element] = []
        for name, supply in self.wiring.layout.supplies.items():
            swapped = (name in self._reversed) != supply.reversed_polarity
            plus, minus = (wire.terminal for wire in self._conductors.plus_and_minus)
            if swapped:
                plus, minus = minus, plus
            ohm = supply.resistance or INNER_OHM
            leads.append(Resistor(f"{name}{INSIDE}", f"{name}#inner", part_node(name, plus), ohm))
            leads.append(Short(f"{name} common", f"{name}#minus", part_node(name, minus)))
        return tuple(leads)

    @cached_property
    def _loads(self) -> tuple[Element, ...]:
        if self._conductors.power is None:
            return ()
        loads: list[Element] = []
        least = self._cabling.least_volt
        plus, minus = (wire.terminal for wire in self._conductors.power)
        for device in self.wiring.layout.devices.values():
            ends = (part_node(device.name, plus), part_node(device.name, minus))
            name = f"{device.name} load"
            ampere = self._draws.get(device.name, device.current)
            if device.constant_power and device.name not in self._draws:
                loads.append(PowerLoad(name, *ends, device.constant_power, least))
            elif ampere:
                loads.append(CurrentLoad(name, *ends, ampere, least))
        return tuple(loads)

    @cached_property
    def powered(self) -> frozenset[str]:
        """The devices with enough and not too many volts from minus to plus."""
        if self._conductors.power is None:
            return frozenset(self.wiring.layout.devices)
        least, most = self._cabling.least_volt, self._cabling.most_volt
        volts = zip(self.wiring.layout.devices, self._fed_volts(self._fed), strict=True)
        return frozenset(device for device, volt in volts if least <= volt <= most)

    def works(self, device: str) -> bool:
        """Whether a device's transceiver works: powered and not dead."""
        return device in self.powered and device not in self._lifeless

    @property
    def supply_currents(self) -> dict[str, float]:
        """A that each supply gives."""
        return dict.fromkeys(self.wiring.layout.supplies, 0.0) | self._awake.amperes

    @property
    def idle(self) -> Potentials:
        """Power on, nobody sending."""
        return self._awake.potentials

    def metered(self, a: str, b: str) -> float:
        """What a voltmeter shows is worked out from it: volts of `a` above `b`, nobody sending.

        From the quick circuit, where its last bits and the whole microvolts of the other one can
        show no other figure; else from the whole circuit.
        """
        if "_awake" not in self.__dict__ and not _limits(self._quick):
            volt = self._quick.potentials.between(a, b)
            if not volts_on_edge(volt, METERED_VOLT):
                return volt
        return self.idle.metered(a, b)

    def dominant(self, driver: str) -> Potentials:
        """Power on, `driver` holding the bus dominant: its first conductor above its second."""
        return self.driven(driver, up=True)

    def driven(self, driver: str, *, up: bool) -> Potentials:
        """Power on, `driver` driving the pair apart, or with `up` false the other way round."""
        found = self._known.get((driver, up))
        if found is None:
            found = self._known[driver, up] = self._driven(driver, up=up)
        return found

    @cached_property
    def _known(self) -> dict[tuple[str, bool], Potentials]:
        return {}

    @cached_property
    def _increments(self) -> Increments | None:
        """The idle bench to be moved by drivers; None where a supply at its limit moves too."""
        awake = self._awake
        if not awake.elements or _limits(awake):
            return None
        return Increments(awake.elements, dict(awake.potentials.volt), self._conductors)

    def _supplies_hold(self, volt: Mapping[str, float]) -> bool:
        """Whether every supply is still on its stretch at these voltages."""
        amperes = {
            lead.name.removesuffix(INSIDE): (volt[lead.a] - volt[lead.b]) / lead.ohm
            for lead in self._leads
            if isinstance(lead, Resistor)
        }
        states = self._awake.states
        moved = Potentials(self._awake.potentials.part, volt)
        return self._moved(states, {name: amperes[name] for name in states}, moved) is None

    def _driven(self, driver: str, *, up: bool) -> Potentials:
        drives = self._cabling.levels.driver
        if not up:
            drives = replace(drives, half_volt=-drives.half_volt)
        if self._increments is not None and self.works(driver):
            volt = self._increments.moved(driver, drives, self._supplies_hold)
            if volt is not None:
                return Potentials(self._awake.potentials.part, volt)
        drivers: list[Element] = []
        for device in self.wiring.layout.devices:
            drivers += self._transceiver(device, drives if device == driver else None)
        others = (*self._leads, *self._rails, *drivers)
        states = self._awake.states
        return self._settled(self.wiring.passive, others, states, self._exactly).potentials

    def _transceiver(self, device: str, drives: Driver | None = None) -> Iterable[Element]:
        middle = middle_node(device)
        common = part_node(device, self._conductors.common.terminal)
        rest_volt = self._cabling.levels.rest_volt
        if not self.works(device):
            if rest_volt is not None:
                yield Short(f"{device} middle", middle, common)
            return
        if rest_volt is not None:
            yield VoltageSource(f"{device} middle", middle, common, rest_volt)
        if drives is None:
            return
        if rest_volt is None:
            middle = f"{device}#driver"
            yield VoltageSource(f"{device} driver", middle, common, drives.middle_volt)
        halves = (drives.half_volt, -drives.half_volt)
        for wire, volt in zip(self._conductors.pair, halves, strict=True):
            number = wire.terminal
            inner = f"{device}#driver {number}"
            yield VoltageSource(f"{device} drives {number}", inner, middle, volt)
            end = part_node(device, number)
            yield Resistor(f"{device} output {number}", inner, end, drives.half_ohm)


def _read(solution: Solution, states: Mapping[str, _State]) -> tuple[Potentials, dict[str, float]]:
    """The potentials, and what each supply gives, A."""
    amperes = {
        name: 0.0 if state.kind == "off" else solution.current(f"{name} source")
        for name, state in states.items()
    }
    return Potentials.of(solution), amperes
