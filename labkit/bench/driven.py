"""What one driver moves on a bench whose idle state is known: superposition, not a new solution.

While every load stays on its stretch (full current, or a resistor below its least voltage) and no
supply leaves its own, the bench is linear. Its idle voltages stand; a driver adds what its two
output currents move in the circuit without sources. With m the driver's middle, H half of its
dominant voltage, R half of its output resistance and e the wires' idle voltages above their common,
for the pair's high and low conductor

    iₕ R = m + H − (eₕ + Zₕₕ iₕ + Zₕₗ iₗ),    iₗ R = m − H − (eₗ + Zₗₕ iₕ + Zₗₗ iₗ)

(Thévenin, for two pairs of terminals). `Increments.moved` says None where a stretch is left: the
bench must then be solved as a whole.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property

from labkit.bench.conductors import Conductors
from labkit.bench.levels import Driver
from labkit.bench.wiring import part_node
from labkit.fieldbus.circuit import (
    Circuit,
    CurrentLoad,
    Element,
    Open,
    PowerLoad,
    Resistor,
    Short,
    VoltageSource,
)


@dataclass(frozen=True)
class Increments:
    """The idle bench's `elements` with the `volt` of every node, ready to be moved."""

    elements: tuple[Element, ...]
    volt: dict[str, float]
    conductors: Conductors

    @cached_property
    def _circuit(self) -> Circuit | None:
        """The bench without its sources; None where a load has no straight stretch."""
        straight: list[Element] = []
        for element in self.elements:
            if isinstance(element, PowerLoad):
                return None
            if isinstance(element, VoltageSource):
                straight.append(Short(element.name, *element.ends))
            elif isinstance(element, CurrentLoad):
                straight.append(self._as_resistor(element))
            else:
                straight.append(element)
        return Circuit(straight)

    def _as_resistor(self, load: CurrentLoad) -> Element:
        siemens = load.slope(self._across(load))
        return (
            Resistor(load.name, *load.ends, 1 / siemens) if siemens else Open(load.name, *load.ends)
        )

    def _across(self, load: CurrentLoad) -> float:
        return self.volt[load.plus] - self.volt[load.minus]

    def moved(
        self, device: str, driver: Driver, holds: Callable[[dict[str, float]], bool]
    ) -> dict[str, float] | None:
        """Every voltage while `device` holds the bus dominant.

        `holds` is asked whether the supplies stay on their stretches at these voltages.
        """
        circuit = self._circuit
        if circuit is None:
            return None
        layout = circuit.layout
        high, low, common = (
            layout.group[layout.index[part_node(device, number)]] for number in self._numbers
        )
        answers = []
        for end in (high, low):
            if layout.part[end] != layout.part[common]:
                return None
            into = [0.0] * layout.groups
            into[end] += 1.0
            into[common] -= 1.0
            answers.append(circuit.wiring.voltages(into))
        into_high, into_low = self._currents(device, driver, (high, low, common), answers)
        moved = [into_high * a + into_low * b for a, b in zip(*answers, strict=True)]
        found = {
            node: level + moved[layout.group[layout.index[node]]]
            for node, level in self.volt.items()
        }
        return found if self._loads_hold(found) and holds(found) else None

    def _currents(
        self,
        device: str,
        driver: Driver,
        groups: tuple[int, int, int],
        answers: list[list[float]],
    ) -> tuple[float, float]:
        """What the driver puts into the pair, A: the two equations above."""
        e_high, e_low, common = (self.volt[part_node(device, n)] for n in self._numbers)
        high, low, ground = groups

        def z(at: int, answer: list[float]) -> float:
            return answer[at] - answer[ground]

        by_high, by_low = answers
        a, b = z(high, by_high) + driver.half_ohm, z(high, by_low)
        c, d = z(low, by_high), z(low, by_low) + driver.half_ohm
        right_high = driver.middle_volt + driver.half_volt - (e_high - common)
        right_low = driver.middle_volt - driver.half_volt - (e_low - common)
        whole = a * d - b * c
        return (right_high * d - b * right_low) / whole, (a * right_low - c * right_high) / whole

    @cached_property
    def _numbers(self) -> tuple[int, int, int]:
        """The terminals of the pair and of the common."""
        high, low = self.conductors.pair
        return high.terminal, low.terminal, self.conductors.common.terminal

    def _loads_hold(self, found: dict[str, float]) -> bool:
        return all(
            _stretch(load, self._across(load))
            == _stretch(load, found[load.plus] - found[load.minus])
            for load in self._loads
        )

    @cached_property
    def _loads(self) -> tuple[CurrentLoad, ...]:
        return tuple(e for e in self.elements if isinstance(e, CurrentLoad))


def _stretch(load: CurrentLoad, volt: float) -> int:
    """0 backwards, 1 as a resistor, 2 with its full current."""
    return 0 if volt < 0 else 1 if volt < load.dropout_volt else 2
