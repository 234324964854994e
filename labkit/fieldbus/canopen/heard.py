"""What a log of a real CANopen bus tells, held against the plan line by line.

Which identifier is whose is that of the predefined set (`identifiers`, CiA 301). A PDO that was
given another identifier cannot be told from a stranger: such frames are only counted. A second
boot-up of a node without a reset ordered between is a restart, or two nodes with one node-ID.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any, Final, Self

from labkit.fieldbus.agreement import Agreement, Line, counted, stranger_lines
from labkit.fieldbus.can.frame import Frame
from labkit.fieldbus.can.hearing import (
    HeardTotals,
    count_of,
    error_lines,
    rate_line,
)
from labkit.fieldbus.can.log_reading import Logged
from labkit.fieldbus.canopen.heartbeat import StateByte
from labkit.fieldbus.canopen.identifiers import CobId, CommunicationObject
from labkit.fieldbus.canopen.nmt import ALL_NODES, NmtMessage, NmtState
from labkit.fieldbus.canopen.node_ids import node_id
from labkit.fieldbus.checked import every, name, number
from labkit.fieldbus.errors import PlanError

_AGREES, _DIFFERS, _UNTOLD = Agreement.AGREES, Agreement.DIFFERS, Agreement.UNTOLD


@dataclass(frozen=True, slots=True)
class PlannedNode:
    """A node of the plan."""

    name: str
    node_id: int

    def __post_init__(self) -> None:
        name(self.name, "a node")
        node_id(self.node_id)


@dataclass(frozen=True, slots=True)
class PlannedBus:
    """What a log is held against: the bit rate in kbit/s, all nodes."""

    rate_kbit_s: float
    nodes: tuple[PlannedNode, ...]

    def __post_init__(self) -> None:
        number(self.rate_kbit_s, "the bit rate", "kbit/s", above=True)
        object.__setattr__(self, "nodes", every(self.nodes, PlannedNode, "The nodes"))

    def to_json(self) -> dict[str, Any]:
        """The plan as plain JSON."""
        return {"rate": self.rate_kbit_s, "nodes": [[e.name, e.node_id] for e in self.nodes]}

    @classmethod
    def from_json(cls, data: Mapping[str, Any]) -> Self:
        """The plan read back. Raises `PlanError`."""
        try:
            return cls(data["rate"], tuple(PlannedNode(*each) for each in data["nodes"]))
        except (KeyError, TypeError, ValueError) as error:
            raise PlanError(f"This is no plan of a CANopen bus: {error}.") from error


@dataclass(slots=True)
class HeardNode:
    """What was heard at one node-ID.

    `sent` are all frames of the node, `asked` SDO requests to it, `boots` its boot-ups, `again`
    those of them that nobody ordered, `emergencies` those that say more than "no error"; `state` is
    the last that it told, 0 for none.
    """

    sent: int = 0
    asked: int = 0
    boots: int = 0
    again: int = 0
    emergencies: int = 0
    state: int = 0


_COUNTS: Final = ("sent", "asked", "boots", "again", "emergencies", "state")


@dataclass(slots=True)
class Heard(HeardTotals):
    """All that was heard; `foreign` are frames outside the predefined set."""

    nodes: dict[int, HeardNode] = field(default_factory=dict)

    def node(self, node: int) -> HeardNode:
        """What was heard at a node-ID, nothing yet if nothing was."""
        return self.nodes.get(node) or HeardNode()

    def to_json(self) -> dict[str, Any]:
        """As plain JSON; together with a plan it is all that the comparison needs."""
        nodes = {
            str(at): [getattr(node, key) for key in _COUNTS]
            for at, node in sorted(self.nodes.items())
        }
        return {**self.totals(), "nodes": nodes}

    @classmethod
    def from_json(cls, data: Mapping[str, Any]) -> Self:
        """Read back what `to_json` wrote. Raises `PlanError` for anything else."""
        try:
            heard = cls()
            heard.read_totals(data)
            for at, counts in data["nodes"].items():
                node = HeardNode()
                for key, count in zip(_COUNTS, counts, strict=True):
                    setattr(node, key, count_of(count))
                NmtState(node.state)
                heard.nodes[node_id(int(at))] = node
        except (KeyError, TypeError, ValueError, AttributeError) as error:
            raise PlanError("This is not what was heard on a CANopen bus.") from error
        return heard


class Ear:
    """Listens to a log, a frame after the other.

    >>> ear = Ear()
    >>> ear.hear(Logged(0.0, Frame.from_hex("705", "00")))
    >>> ear.heard.node(5).boots
    1
    """

    def __init__(self) -> None:
        self.heard = Heard()
        self._up: set[int] = set()

    def hear(self, logged: Logged) -> None:
        """Take the next frame or error in."""
        frame = self.heard.take(logged)
        if frame is None:
            return
        try:
            self._take(frame)
        except PlanError:
            self.heard.foreign += 1

    def _take(self, frame: Frame) -> None:
        if frame.extended:
            raise PlanError("The predefined set has 11-bit identifiers.")
        cob_id = CobId.from_value(frame.identifier)
        if cob_id.kind is CommunicationObject.NMT:
            self._ordered(NmtMessage.from_frame(frame))
        if cob_id.node is None:
            return
        node = self.heard.nodes.setdefault(cob_id.node, HeardNode())
        if frame.remote or not cob_id.kind.sent_by_node:
            node.asked += cob_id.kind is CommunicationObject.SDO_REQUEST
            return
        node.sent += 1
        if cob_id.kind is CommunicationObject.ERROR_CONTROL:
            self._state(cob_id.node, node, StateByte.from_bytes(frame.data))
        if cob_id.kind is CommunicationObject.EMCY:
            # The error code stands low byte first; class 00 is "no error" again.
            node.emergencies += len(frame.data) > 1 and frame.data[1] != 0

    def _ordered(self, message: NmtMessage) -> None:
        if not message.command.resets:
            return
        self._up -= self._up.copy() if message.node == ALL_NODES else {message.node}

    def _state(self, at: int, node: HeardNode, said: StateByte) -> None:
        if said.state is not NmtState.INITIALISING:
            self._up.add(at)
            node.state = int(said.state)
            return
        node.boots += 1
        node.again += at in self._up
        self._up.add(at)


def hold_against_plan(plan: PlannedBus, heard: Heard) -> tuple[Line, ...]:
    """Every line: the rate, each node, strangers, doubled node-IDs, emergencies, errors."""
    return (
        rate_line(plan.rate_kbit_s, heard.frames),
        *(_node(node, heard.node(node.node_id)) for node in plan.nodes),
        *_unplanned(plan, heard),
        *_doubled(heard),
        _counted("emergencies", sum(node.emergencies for node in heard.nodes.values())),
        _foreign(heard),
        *error_lines(heard.errors, heard.unacknowledged),
    )


def _node(node: PlannedNode, found: HeardNode) -> Line:
    what, planned = f"{node.name}, node-ID", f"node {node.node_id}"
    if found.sent:
        last = f", at last {NmtState(found.state).words}" if found.state else ""
        said = f"node {node.node_id} sends: {counted(found.sent, 'frame')}{last}"
        return Line(what, planned, said, _AGREES)
    said = "not heard: off, not connected, or set to another node-ID or bit rate"
    if found.asked:
        asked = counted(found.asked, "time")
        return Line(what, planned, f"asked by SDO {asked}, never an answer", _DIFFERS)
    return Line(what, planned, said, _UNTOLD)


def _unplanned(plan: PlannedBus, heard: Heard) -> Iterator[Line]:
    planned = {node.node_id for node in plan.nodes}
    strangers = {
        at: node.sent for at, node in heard.nodes.items() if at not in planned and node.sent
    }
    yield from stranger_lines(strangers, "node-IDs")
    if not strangers and heard.frames:
        yield Line("other node-IDs", "nobody", "nobody", _AGREES)


def _doubled(heard: Heard) -> Iterator[Line]:
    found = [(at, node.again) for at, node in sorted(heard.nodes.items()) if node.again]
    for at, again in found:
        said = f"boots up again {counted(again, 'time')}, unordered: restarted, or two nodes"
        yield Line(f"node {at}, doubled", "none", said, _DIFFERS)
    if found:
        return
    if any(node.boots for node in heard.nodes.values()):
        yield Line("doubled node-IDs", "none", "each node boots up once", _AGREES)
        return
    said = "no boot-up in this log: it began after power-up"
    yield Line("doubled node-IDs", "none", said, _UNTOLD)


def _counted(what: str, many: int) -> Line:
    said = counted(many, "message") if many else "none"
    return Line(what, "none", said, _DIFFERS if many else _AGREES)


def _foreign(heard: Heard) -> Line:
    what = "frames outside the predefined set"
    if not heard.foreign:
        return Line(what, "none", "none", _AGREES)
    said = f"{counted(heard.foreign, 'frame')}: PDOs with identifiers of their own, or strangers"
    return Line(what, "none", said, _UNTOLD)
