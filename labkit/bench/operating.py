"""The operating point of a live bench, by the way that its loads allow."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Final, Literal

from labkit.fieldbus.circuit import (
    Circuit,
    CircuitError,
    CurrentLoad,
    CurrentSource,
    Element,
    PowerLoad,
    Resistor,
    Solution,
    solve,
)

STRETCHES: Final = 8
"""Turns after which loads that change their stretch to and fro are searched for."""

Solving = Callable[[tuple[Element, ...]], Solution]
_Stretch = Literal["full", "low", "off"]


def operating_point(elements: tuple[Element, ...]) -> Solution:
    """The operating point.

    Nearly always every load has its least voltage and draws its current whatever the voltage:
    that circuit is linear and quickly solved. Current loads draw no less at more voltage, so
    there is one operating point only; where every load has its voltage, this is it.
    """
    loads = [element for element in elements if isinstance(element, CurrentLoad)]
    if loads and not any(isinstance(element, PowerLoad) for element in elements):
        others = [element for element in elements if not isinstance(element, CurrentLoad)]
        drawn = [_at_full(load) for load in loads]
        try:
            solution = solve(Circuit((*others, *drawn)))
        except CircuitError:
            return searched(elements)
        if all(_across(solution, load) >= load.dropout_volt for load in loads):
            return solution
    return searched(elements)


def searched(elements: tuple[Element, ...]) -> Solution:
    """The operating point where loads may be short of voltage."""
    return solve(Circuit(elements))


def on_stretches(elements: tuple[Element, ...]) -> Solution:
    """The operating point in other last bits, sooner where loads are short of voltage or cut off.

    Each load is on a straight stretch of its curve: its current, a resistor below its least
    voltage, nothing backwards. Where no voltage contradicts its load's stretch, that is the one
    operating point there is.
    """
    loads = [element for element in elements if isinstance(element, CurrentLoad)]
    straight = all(load.dropout_volt and load.ampere for load in loads)
    if not straight or any(isinstance(element, PowerLoad) for element in elements):
        return searched(elements)
    others = [element for element in elements if not isinstance(element, CurrentLoad)]
    stretches: dict[str, _Stretch] = dict.fromkeys([load.name for load in loads], "full")
    for _ in range(STRETCHES):
        drawn = [e for load in loads for e in _on_stretch(load, stretches[load.name])]
        circuit = Circuit((*others, *drawn))
        try:
            solution = solve(circuit)
        except CircuitError:
            after = dict(stretches)
            for name in _cut_off(circuit, loads):
                after[name] = "low"
        else:
            after = {
                load.name: _stretch(load, stretches[load.name], _across(solution, load))
                for load in loads
            }
            if after == stretches:
                return solution
        if after == stretches:
            break
        stretches = after
    return searched(elements)


def _across(solution: Solution, load: CurrentLoad) -> float:
    """Volts across a load; 0 where nothing joins its ends."""
    index, part, level = solution.circuit.layout.index, solution.part, solution.level
    plus, minus = index[load.plus], index[load.minus]
    return level[plus] - level[minus] if part[plus] == part[minus] else 0.0


def _cut_off(circuit: Circuit, loads: Iterable[CurrentLoad]) -> list[str]:
    """The loads whose current would find no way back."""
    part, group, index = circuit.layout.part, circuit.layout.group, circuit.layout.index
    return [
        load.name
        for load in loads
        if part[group[index[load.plus]]] != part[group[index[load.minus]]]
    ]


def _on_stretch(load: CurrentLoad, stretch: _Stretch) -> Iterable[Element]:
    if stretch == "full":
        yield _at_full(load)
    elif stretch == "low":
        yield Resistor(load.name, load.plus, load.minus, 1 / load.rest_siemens)


def _at_full(load: CurrentLoad) -> CurrentSource:
    return CurrentSource(load.name, load.minus, load.plus, load.ampere)


def _stretch(load: CurrentLoad, before: _Stretch, volt: float) -> _Stretch:
    """The stretch for a voltage, V; one further at most: with its full current a load that is
    short of voltage would seem to be fed backwards."""
    if volt >= load.dropout_volt:
        return "full"
    if before == "full":
        return "low"
    if volt == 0:
        return before
    return "low" if volt > 0 else "off"
