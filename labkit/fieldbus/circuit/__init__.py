"""DC circuits: node voltages, branch currents, and resistances between two points."""

from labkit.fieldbus.circuit.elements import (
    CurrentSource,
    Element,
    Open,
    Resistor,
    Short,
    VoltageSource,
)
from labkit.fieldbus.circuit.errors import (
    CircuitError,
    ContradictorySourcesError,
    FloatingNodesError,
    LiveCircuitError,
    UndefinedCurrentError,
    UnfedLoadError,
    UnknownElementError,
    UnknownNodeError,
    UnpoweredError,
)
from labkit.fieldbus.circuit.load_study import LoadStudy
from labkit.fieldbus.circuit.loads import CurrentLoad, PowerLoad
from labkit.fieldbus.circuit.network import Circuit
from labkit.fieldbus.circuit.resistance import all_resistances, paired_resistances, resistance
from labkit.fieldbus.circuit.solution import Solution
from labkit.fieldbus.circuit.solve import solve

__all__ = [
    "Circuit",
    "CircuitError",
    "ContradictorySourcesError",
    "CurrentLoad",
    "CurrentSource",
    "Element",
    "FloatingNodesError",
    "LiveCircuitError",
    "LoadStudy",
    "Open",
    "PowerLoad",
    "Resistor",
    "Short",
    "Solution",
    "UndefinedCurrentError",
    "UnfedLoadError",
    "UnknownElementError",
    "UnknownNodeError",
    "UnpoweredError",
    "VoltageSource",
    "all_resistances",
    "paired_resistances",
    "resistance",
    "solve",
]
