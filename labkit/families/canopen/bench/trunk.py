"""A planned CANopen bus as the bench takes it: taps with stubs, a terminator at each end."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from itertools import groupby
from typing import Final

from labkit.bench.plan_parts import Branch, End, Joint, Pair
from labkit.fieldbus.canopen.cable import cable_class
from labkit.fieldbus.canopen.lengths import RATE_LIMITS
from labkit.fieldbus.canopen.network import SAME_PLACE_M, Bus, BusNode, check_terminators
from labkit.fieldbus.errors import PlanError

CABLE: Final = "bus"
SLOWEST_KBPS: Final = 50
"""Slower buses have too little traffic in the seconds that a bench plays (a choice)."""
RATES: Final = tuple(
    row.bit_rate_kbps
    for row in RATE_LIMITS
    if row.bit_rate_kbps >= SLOWEST_KBPS and not 1000 % row.bit_rate_kbps
)
"""Bit rates of a bench, kbit/s, the fastest first: those whose bit lasts whole microseconds, which
leaves out 800 kbit/s."""


@dataclass(frozen=True, slots=True)
class Node:
    """A node as planned, fed on its own."""

    name: str
    address: int | None
    current: float = 0.0
    constant_power: float | None = None


@dataclass(frozen=True)
class Trunk:
    """The plan of the bench. Raises `PlanError` for a plan that no bench is made of."""

    bus: Bus
    supplies: tuple[()] = ()
    section_breaks: tuple[()] = ()

    def __post_init__(self) -> None:
        if self.bus.bit_rate_kbps not in RATES:
            known = ", ".join(str(rate) for rate in sorted(RATES))
            raise PlanError(
                f"The bench does not play {self.bus.bit_rate_kbps:g} kbit/s: plan one of {known}."
            )
        if not all(rule.ok for rule in check_terminators(self.bus)):
            raise PlanError(
                "A bench is planned with one terminator at each end of the bus; what is wrong "
                "with them as built is a fault, not a part of the plan."
            )

    @property
    def data_rate(self) -> float:
        """In kbit/s."""
        return self.bus.bit_rate_kbps

    @property
    def trunk_length(self) -> float:
        """In m."""
        return self.bus.length

    @cached_property
    def taps(self) -> tuple[Joint, ...]:
        """In bus order; nodes at one place share a tap."""
        places = [
            (at, tuple(nodes)) for at, nodes in groupby(self.bus.nodes, lambda node: node.position)
        ]
        return tuple(
            Joint(min(at, self.bus.length), f"tap {number}", tuple(_stub(node) for node in nodes))
            for number, (at, nodes) in enumerate(places, start=1)
        )

    @cached_property
    def devices(self) -> tuple[Node, ...]:
        """All nodes in bus order, the manager among them."""
        return tuple(_node(node) for node in self.bus.nodes)

    @property
    def terminators(self) -> tuple[End, ...]:
        """One at each end."""
        return (End(0.0), End(self.bus.length))

    def pieces(self, start: float, end: float) -> list[tuple[Branch, float]]:
        """One cable all along."""
        return [(Branch(0.0, (), CABLE), end - start)] if end - start >= SAME_PLACE_M else []

    def cable(self, name: str) -> Pair:
        """There is but one: as the plan has it, or else as is recommended for its length."""
        if name != CABLE:
            raise PlanError(f"There is no cable {name!r} on this bench.")
        planned = self.bus.milliohm_per_m
        milliohm = cable_class(self.bus.length).milliohm_per_m if planned is None else planned
        return Pair(milliohm / 1000, CABLE)

    def with_supply_at(self, position: float) -> Trunk:  # noqa: ARG002
        """It has none."""
        raise PlanError("A CANopen bus has no supply: its cable carries no power.")


def _stub(node: BusNode) -> Branch:
    length = node.stub if node.stub >= SAME_PLACE_M else 0.0
    return Branch(length, (_node(node),), CABLE)


def _node(node: BusNode) -> Node:
    return Node(node.name, node.node_id)
