"""CANopen's bus on the bench: from power-up, frame by frame, by the rules.

Nothing is scripted: stations follow CiA 301, the wire `labkit.bench.can`, and what a fault looks
like comes out of that. No chance is in it: the same bench gives the same trace.
"""

from __future__ import annotations

from collections.abc import Sequence

from labkit.bench.can.playing import Playing, require_own_names
from labkit.bench.ears import Ears
from labkit.families.canopen.bench.equipment import Managing, NodeSet
from labkit.families.canopen.bench.manager import Manager
from labkit.families.canopen.bench.node import Station
from labkit.families.canopen.bench.trace import Trace


class Bus(Playing[Station]):
    """The bench's bus, played in steps."""

    def __init__(self, nodes: Sequence[NodeSet], ears: Ears, managing: Managing) -> None:
        super().__init__()
        self._managing = managing
        self._manager: Manager | None = None
        self._settle(tuple(nodes), ears)

    def change(self, nodes: Sequence[NodeSet], ears: Ears) -> None:
        """Let the bench stand differently from now on; what is set counts from power-up on."""
        before = self._layouts[-1]
        if (tuple(nodes), ears) != (before.devices, before.ears):
            self._settle(tuple(nodes), ears)

    def trace(self) -> Trace:
        """All that has happened so far."""
        stations = self._stations
        return Trace(
            self.time_s,
            self.frames,
            {name: each.counters for name, each in stations.items()},
            tuple(self._layouts),
            {name: tuple(each.run) for name, each in stations.items()},
            {name: tuple(each.error) for name, each in stations.items()},
            self._manager.said if self._manager is not None else None,
        )

    def _settle(self, nodes: tuple[NodeSet, ...], ears: Ears) -> None:
        require_own_names(nodes)
        caught = self._cut()
        self._stands(nodes, ears)
        for node in nodes:
            if node.name not in self._stations:
                self._add(node)
        present = {node.name: node for node in nodes}
        for name, station in self._stations.items():
            station.node = present.get(name, station.node)
            station.power(self._now, name in present and present[name].works)
            station.look(self._now)
        self._listen(ears, caught)
        self._schedule()

    def _add(self, node: NodeSet) -> None:
        callbacks = (self._wants_bus, self._plan_wake, self._changed)
        station = Station(len(self._by_index), node, self._managing, *callbacks)
        if node.name == self._managing.name:
            self._manager = station.manager = Manager(station, self._managing)
        self._join(node.name, station)

    def _whom_it_concerns(self, identifier: int) -> frozenset[int]:
        return frozenset(
            each.index
            for each in self._by_index
            if each.manager is not None or identifier in each.concerns
        )
