"""The pair as a DC circuit: terminators, polarization, receivers and the cable's resistance.

What a line does at rest, when no driver is switched on. A terminator with a capacitor carries no
direct current and is open here. The common is taken without resistance: through it flows what one
pull-up resistor brings back to its own supply, hence nothing between places of a line with one
polarization.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

from labkit.fieldbus.circuit import (
    Circuit,
    Element,
    Open,
    Resistor,
    Short,
    Solution,
    VoltageSource,
    resistance,
    solve,
)
from labkit.fieldbus.circuit.ends import LEAST_OHM
from labkit.fieldbus.errors import PlanError
from labkit.fieldbus.modbus.network import SAME_PLACE_M, Network, Spot
from labkit.fieldbus.modbus.parts import UNIT_LOAD_OHM, Derivation, Place

COMMON = "C"
"""The node of the common conductor."""


@dataclass(frozen=True)
class LineCircuit:
    """The circuit of a planned line; each reading is between D1 and D0 at a place.

    >>> plan = Network(100, polarizations=(Polarization(0),), cable=Cable(ohm_per_km=0))
    >>> plan = plan.with_terminators_at_ends(Terminator(0, 120))
    >>> round(LineCircuit(plan).idle_volt(0), 3)
    0.221
    """

    network: Network

    @cached_property
    def circuit(self) -> Circuit:
        """All elements; D1 and D0 of each place are nodes of their own."""
        return Circuit(self._elements())

    @cached_property
    def _solution(self) -> Solution:
        return solve(self.circuit)

    @cached_property
    def _points(self) -> tuple[float, ...]:
        """Positions in the trunk at which something is connected, and its ends, in order."""
        network = self.network
        wanted = [0.0, network.length, *(tap.position for tap in network.taps)]
        places = [each.at for each in network.terminators]
        places += [each.at for each in network.polarizations]
        wanted += [network.spot(place).position for place in places]
        points: list[float] = []
        for position in sorted(wanted):
            if not points or position - points[-1] >= SAME_PLACE_M:
                points.append(position)
        return tuple(points)

    def idle_volt(self, at: Place) -> float:
        """V of D1 above D0 at rest; 0 on a line without polarization, where nothing holds it."""
        plus, minus = self._pair(at)
        return self._solution.voltage(plus, minus) if self.network.polarizations else 0.0

    def idle_volts(self) -> Mapping[str, float]:
        """The idle voltage at every device, V, by its name."""
        return {device.name: self.idle_volt(device.name) for device in self.network.devices}

    def meter_ohm(self, at: Place) -> float:
        """Ω that a meter reads from D1 to D0 with all power off.

        The supply of the polarization is taken for open. Where what else hangs on its rail lets
        current through, the meter reads less, down to `driver_ohm`.
        """
        return resistance(self.circuit.dead(), *self._pair(at))

    def driver_ohm(self, at: Place) -> float:
        """Ω that a driver has to feed at a place: as `meter_ohm`, the supply letting through."""
        shorted = Circuit(
            Short(each.name, *each.ends) if isinstance(each, VoltageSource) else each
            for each in self.circuit.elements
        )
        return resistance(shorted, *self._pair(at))

    def _pair(self, at: Place) -> tuple[str, str]:
        node = self._node(self.network.spot(at))
        return f"D1 {node}", f"D0 {node}"

    def _node(self, spot: Spot) -> str:
        nearest = min(self._points, key=lambda point: abs(point - spot.position))
        if abs(nearest - spot.position) >= SAME_PLACE_M:
            raise PlanError(
                f"Nothing is connected at {spot.position:g} m of the trunk; choose a device, or "
                "the position of a tap, of a terminator or of an end."
            )
        if spot.in_trunk or spot.derivation is None:
            return f"at {nearest!r} m"
        return self._end_of(nearest, spot.derivation)

    def _end_of(self, position: float, derivation: Derivation) -> str:
        """The node at a derivation's far end, which its first device names."""
        return f"at {position!r} m, {derivation.devices[0].name}"

    def _elements(self) -> Iterator[Element]:
        network = self.network
        for left, right in pairwise(self._points):
            yield from self._cable(f"at {left!r} m", f"at {right!r} m", right - left)
        for tap in network.taps:
            for derivation in tap.derivations:
                if derivation.devices and derivation.length >= SAME_PLACE_M:
                    here = self._node(Spot(tap.position))
                    there = self._node(Spot(tap.position, derivation))
                    yield from self._cable(here, there, derivation.length)
        for device in network.devices:
            ohm = UNIT_LOAD_OHM / device.unit_loads
            yield Resistor(f"receiver of {device.name}", *self._pair(device.name), ohm)
        for at, terminator in enumerate(network.terminators, start=1):
            ends = self._pair(terminator.at)
            if terminator.nanofarad:
                yield Open(f"terminator {at}", *ends)
            else:
                yield Resistor(f"terminator {at}", *ends, terminator.ohm)
        for at, pair in enumerate(network.polarizations, start=1):
            plus, minus = self._pair(pair.at)
            rail = f"rail {at}"
            yield VoltageSource(f"supply {at}", rail, COMMON, pair.volt)
            yield Resistor(f"pull-up {at}", rail, plus, pair.pull_up_ohm)
            yield Resistor(f"pull-down {at}", minus, COMMON, pair.pull_down_ohm)

    def _cable(self, here: str, there: str, metres: float) -> Iterator[Element]:
        ohm = metres * self.network.cable.ohm_per_m
        for conductor in ("D1", "D0"):
            ends = (f"{conductor} {here}", f"{conductor} {there}")
            name = f"{conductor} from {here} to {there}"
            yield Resistor(name, *ends, ohm) if ohm >= LEAST_OHM else Short(name, *ends)
