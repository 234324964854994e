"""Node voltages and branch currents of a circuit in operation."""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

from labkit.fieldbus.circuit.elements import (
    CurrentSource,
    Open,
    Resistor,
    Short,
    VoltageSource,
)
from labkit.fieldbus.circuit.errors import FloatingNodesError, UndefinedCurrentError
from labkit.fieldbus.circuit.loads import CurrentLoad, PowerLoad
from labkit.fieldbus.circuit.network import Circuit


@dataclass(frozen=True)
class Solution:
    """The operating point of `circuit`: `solve` makes it.

    `level[n]` is the voltage of node number n above the zero of its part `part[n]`, in the
    order of `circuit.nodes`.
    """

    circuit: Circuit
    level: tuple[float, ...]
    part: tuple[int, ...]

    def voltage(self, node: str, reference: str) -> float:
        """The voltage of `node` above `reference`, V.

        Raises UnknownNodeError, and FloatingNodesError when nothing connects the two.
        """
        self.circuit.require_node(node)
        self.circuit.require_node(reference)
        index = self.circuit.layout.index
        n, r = index[node], index[reference]
        if self.part[n] != self.part[r]:
            raise FloatingNodesError(
                f"Nothing connects node {node!r} with {reference!r}, so the voltage between them "
                "is undefined; measure within one part or close the break."
            )
        return self.level[n] - self.level[r]

    def voltages(self, reference: str) -> Mapping[str, float]:
        """The voltage above `reference` of every node connected with it, V."""
        self.circuit.require_node(reference)
        index = self.circuit.layout.index
        zero, part = self.level[index[reference]], self.part[index[reference]]
        return {node: self.level[n] - zero for node, n in index.items() if self.part[n] == part}

    def current(self, name: str) -> float:
        """The current of the element of that name, A.

        Through resistors, shorts and loads it counts positive from the first end to the second
        (a to b, plus to minus); of sources, positive out of the plus end. Raises
        UnknownElementError, and UndefinedCurrentError where ideal conductors lie in parallel.
        """
        element = self.circuit.element(name)
        if isinstance(element, (Short, VoltageSource)):
            ampere = self._tie_currents[name]
            if ampere is None:
                raise UndefinedCurrentError(
                    f"{name!r} lies in parallel with other ideal conductors or sources, so its "
                    "share of the current is undefined; give one of them its resistance."
                )
            return -ampere if isinstance(element, VoltageSource) else ampere
        return self._branch_current(element)

    def power(self, name: str) -> float:
        """The power of the element, W: taken up, or for a source given off; P = U · I."""
        ends = self.circuit.element(name).ends
        return self._across(ends) * self.current(name)

    def _across(self, ends: tuple[str, str]) -> float:
        index = self.circuit.layout.index
        return self.level[index[ends[0]]] - self.level[index[ends[1]]]

    def _branch_current(self, element: object) -> float:
        if isinstance(element, Resistor):
            return self._across(element.ends) / element.ohm
        if isinstance(element, CurrentSource):
            return float(element.ampere)
        if isinstance(element, (CurrentLoad, PowerLoad)):
            return element.draw(self._across(element.ends))
        return 0.0

    @cached_property
    def _tie_currents(self) -> dict[str, float | None]:
        """Current of each short and voltage source from a to b, from Kirchhoff's current law.

        A group's ties carry what its nodes take from outside, along the tree that spans the
        group; the ties of a loop could carry any circulating current besides, hence None.
        """
        layout = self.circuit.layout
        taken = self._taken()
        depth: dict[int, int] = {}
        up: dict[int, tuple[int, str]] = {}
        for node, tie, onward in layout.branches:
            other = tie.b if onward else tie.a
            up[other] = (node, tie.name)
            depth[other] = depth.get(node, 0) + 1
        currents: dict[str, float | None] = {}
        for node, tie, onward in reversed(layout.branches):
            other = tie.b if onward else tie.a
            taken[node] += taken[other]
            currents[tie.name] = taken[other] if onward else -taken[other]
        for tie in layout.chords:
            currents[tie.name] = None
            a, b = tie.a, tie.b
            while a != b:
                if depth.get(a, 0) < depth.get(b, 0):
                    a, b = b, a
                a, name = up[a]
                currents[name] = None
        return currents

    def _taken(self) -> list[float]:
        """What resistors, loads and current sources take out of each node, A."""
        index, level = self.circuit.layout.index, self.level
        taken = [0.0] * len(index)
        for element in self.circuit.elements:
            if isinstance(element, Resistor):  # by far the most
                a, b = index[element.a], index[element.b]
                ampere = (level[a] - level[b]) / element.ohm
            elif isinstance(element, (Short, VoltageSource, Open)):
                continue
            else:
                a, b = (index[end] for end in element.ends)
                ampere = self._branch_current(element)
                if isinstance(element, CurrentSource):
                    ampere = -ampere
            taken[a] += ampere
            taken[b] -= ampere
        return taken
