"""A CANopen bus as planned: nodes with their stubs, terminators, cable; and its rules.

What cannot be built (a node beyond the bus's end, two nodes of one name) raises `PlanError`; rules
that are broken can be planned, `check_bus` finds them. Lengths in m, bit rate in kbit/s.
"""

from dataclasses import dataclass
from typing import Any, Final

from labkit.fieldbus.canopen.cable import check_cable, check_reach
from labkit.fieldbus.canopen.lengths import check_lengths, rate_limits
from labkit.fieldbus.canopen.node_ids import node_id
from labkit.fieldbus.checked import every, name, number
from labkit.fieldbus.errors import PlanError
from labkit.fieldbus.plan_json import PlanForm
from labkit.fieldbus.result import RuleResult

SAME_PLACE_M: Final = 1e-3
"""Metres within which two places are the same."""
LONGEST_M: Final = 1e5
"""A choice of this library, far above any bus."""
TERMINATOR_SOURCE: Final = "ISO 11898-2 (from memory): one terminator at each end, no more"


@dataclass(frozen=True, slots=True)
class BusNode:
    """A node at `position` m of the bus, on a stub of `stub` m (0: in the bus itself).

    `node_id` is None where the plan does not say.
    """

    name: str
    position: float
    stub: float = 0.0
    node_id: int | None = None

    def __post_init__(self) -> None:
        label = name(self.name, "a node")
        number(self.position, "the position", "m", 0.0, LONGEST_M, of=label)
        number(self.stub, "the stub", "m", 0.0, LONGEST_M, of=label)
        if self.node_id is not None:
            node_id(self.node_id, f"the node-ID of {label}")


@dataclass(frozen=True, slots=True)
class Bus:
    """A bus of `length` m at `bit_rate_kbps`; `terminators` are their places in m.

    `milliohm_per_m` and `section_mm2` of a conductor, None where the plan does not say. Nodes are
    kept in the order of the bus.
    """

    length: float
    bit_rate_kbps: float
    nodes: tuple[BusNode, ...] = ()
    terminators: tuple[float, ...] = ()
    milliohm_per_m: float | None = None
    section_mm2: float | None = None

    def __post_init__(self) -> None:
        number(self.length, "the length of the bus", "m", SAME_PLACE_M, LONGEST_M)
        rate_limits(self.bit_rate_kbps)
        nodes = sorted(every(self.nodes, BusNode, "The nodes"), key=lambda each: each.position)
        object.__setattr__(self, "nodes", tuple(nodes))
        object.__setattr__(self, "terminators", tuple(self.terminators))
        for node in nodes:
            self._require_on_bus(node.position, node.name)
        for place in self.terminators:
            self._require_on_bus(number(place, "the place of a terminator", "m"), "a terminator")
        names = [node.name for node in nodes]
        for each in names:
            if names.count(each) > 1:
                raise PlanError(f"Two nodes are called {each!r}; rename one of them.")
        if (self.milliohm_per_m is None) is not (self.section_mm2 is None):
            raise PlanError("Resistance and cross-section of the cable go together; give both.")

    @property
    def stubs(self) -> tuple[tuple[str, float], ...]:
        """(name, length in m) of every node that is not in the bus itself."""
        return tuple((each.name, each.stub) for each in self.nodes if each.stub >= SAME_PLACE_M)

    @property
    def node_ids(self) -> tuple[tuple[str, int | None], ...]:
        """(name, node-ID) of every node, as the checks of node-IDs take them."""
        return tuple((each.name, each.node_id) for each in self.nodes)

    def to_json(self) -> dict[str, Any]:
        """The plan as plain lists and dicts; fields at their default are left out."""
        return _FORM.written(self)

    @staticmethod
    def from_json(data: object) -> "Bus":
        """The plan read from plain data; `PlanError` says where it is wrong."""
        made: Bus = _FORM.read(Bus, data)
        return made

    def _require_on_bus(self, position: float, what: str) -> None:
        if position > self.length + SAME_PLACE_M:
            raise PlanError(
                f"{what} at {position:g} m lies beyond the bus, which is {self.length:g} m long; "
                "move it or lengthen the bus."
            )


_FORM: Final = PlanForm({Bus: {"nodes": BusNode}})


def check_bus(bus: Bus) -> tuple[RuleResult, ...]:
    """Every rule of a plan: lengths, terminators, and the cable where the plan gives one."""
    results = [*check_lengths(bus.bit_rate_kbps, bus.length, bus.stubs), *check_terminators(bus)]
    if bus.milliohm_per_m is not None and bus.section_mm2 is not None:
        results += check_cable(bus.length, bus.milliohm_per_m, bus.section_mm2)
        if len(bus.nodes) > 1:
            results.append(check_reach(bus.length, bus.milliohm_per_m, len(bus.nodes)))
    return tuple(results)


def check_terminators(bus: Bus) -> tuple[RuleResult, ...]:
    """One terminator at each end of the bus, and none between."""
    results = []
    astray = list(bus.terminators)
    for side, end in (("left", 0.0), ("right", bus.length)):
        there = [place for place in bus.terminators if abs(place - end) < SAME_PLACE_M]
        astray = [place for place in astray if place not in there]
        where = f"{side} end, {end:g} m"
        for at_least in (True, False):
            rule = "terminator missing at the end" if at_least else "terminators doubled at the end"
            found = float(len(there))
            results.append(RuleResult(rule, found, 1, "pcs", where, TERMINATOR_SOURCE, at_least))
    where = ", ".join(f"{place:g} m" for place in astray) or "between the ends"
    rule = "terminators between the ends"
    results.append(RuleResult(rule, len(astray), 0, "pcs", where, TERMINATOR_SOURCE))
    return tuple(results)
