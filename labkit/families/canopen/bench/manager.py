"""The manager at work: it asks each node of its list who it is, starts it, watches its heartbeat.

The order is that of CiA 302 (from memory): device type (0x1000), vendor and product code (0x1018),
then a first heartbeat within the consumer time, then the NMT command that starts the node. Only a
node that is what the list says, and is heard, is started. It is asked again a second after it has
not answered; one whose heartbeat is lost has its communication reset and is asked anew (a choice).
It sends SYNC, and at each the outputs, as long as it is operational: from the first node on that it
starts. It writes nothing into a device: what is stored there stays.

Of two nodes with one node-ID the reply that comes first counts; the other, to a question that is
answered, it passes over, as a client does that holds replies against what it asked.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from labkit.bench.can.controller import NEVER_US
from labkit.families.canopen.bench.equipment import Listed, Managing
from labkit.families.canopen.bench.node import NMT, NO_HEARTBEAT, SYNC, Station
from labkit.families.canopen.bench.trace import Said
from labkit.fieldbus.agreement import counted
from labkit.fieldbus.can.frame import Frame
from labkit.fieldbus.canopen.emergency import Emergency
from labkit.fieldbus.canopen.heartbeat import StateByte
from labkit.fieldbus.canopen.identifiers import CobId, CommunicationObject
from labkit.fieldbus.canopen.indicators import NodeFault
from labkit.fieldbus.canopen.nmt import NmtCommand, NmtMessage, NmtState
from labkit.fieldbus.canopen.sdo import Abort, Multiplexor, ReadStarted, StartRead, decode_reply
from labkit.fieldbus.canopen.sdo_transfer import request_frame
from labkit.fieldbus.errors import PlanError

SETTLE_US: Final = 600_000
"""From its own boot-up until it asks, so that the others are up (a choice)."""
ANSWER_US: Final = 200_000
"""How long it waits for an SDO reply (a choice)."""
AGAIN_US: Final = 1_000_000
_QUESTIONS: Final = (
    (Multiplexor(0x1000), "device type", "device_type"),
    (Multiplexor(0x1018, 1), "vendor", "vendor"),
    (Multiplexor(0x1018, 2), "product code", "product"),
)
_SYNC: Final = Frame(SYNC, b"")
_NODE_BITS: Final = 0x7F
_KIND_BITS: Final = 0x780


@dataclass(slots=True)
class _Entry:
    """A node of the list: `step` is "rest", "asked", "waiting" (for a heartbeat), "silent" (it gave
    up waiting) or "run"; `asked` counts what it has answered; `heard_us` its last heartbeat."""

    plan: Listed
    said: str = "not asked yet"
    step: str = "rest"
    asked: int = 0
    due_us: int = 0
    heard_us: int | None = None
    missed: int = 0

    @property
    def told(self) -> str:
        """What the manager has to say of it."""
        if not self.missed or self.step != "run":
            return self.said
        times = "once" if self.missed == 1 else f"{self.missed} times"
        return f"{self.said}, but {times} its heartbeat did not come in time"


class Manager:
    """The NMT master that sits in a station."""

    def __init__(self, station: Station, managing: Managing) -> None:
        self.station = station
        self._managing = managing
        self._consumer_us = 1000 * managing.consumer_ms
        self._sync_us = NEVER_US
        self._up = False
        self._entries = {each.node: _Entry(each) for each in managing.entries}
        self._strangers: list[int] = []
        self._emergencies: dict[int, int] = {}
        self._lost: set[int] = set()
        kinds = CommunicationObject
        self._own = station.node.node_id
        self._of_nodes = {kinds.TPDO1.base, kinds.EMCY.base, kinds.SDO_REPLY.base}
        self._outputs = [
            (each.plan.node, Frame(CobId(kinds.RPDO1, each.plan.node).value, bytes(count)))
            for each in self._entries.values()
            if (count := each.plan.output_bytes)
        ]

    @property
    def said(self) -> Said | None:
        """What it has to say; None where it is down."""
        if not self._up:
            return None
        told = {node: each.told for node, each in self._entries.items()}
        return Said(self._own, told, tuple(self._strangers), dict(self._emergencies))

    @property
    def due_us(self) -> int:
        """When it next does something of itself."""
        if not self._up:
            return NEVER_US
        return min([self._sync_us, *[each.due_us for each in self._entries.values()]])

    def came_up(self, now: int) -> None:
        """Its node has booted up."""
        self._up = True
        for each in self._entries.values():
            each.due_us = now + SETTLE_US

    def went_down(self) -> None:
        """Its node has no power, or is bus-off."""
        self._up = False
        self._sync_us = NEVER_US
        self._lost.clear()
        for node, each in self._entries.items():
            self._entries[node] = _Entry(each.plan)

    def wake(self, now: int) -> None:
        """Do what is due."""
        if not self._up:
            return
        for node, each in self._entries.items():
            if each.due_us <= now:
                self._overdue(node, each, now)
        if self._sync_us <= now:
            self._sync_us = now + 1000 * self._managing.sync_ms
            self._sync(now)

    def receive(self, now: int, frame: Frame) -> None:
        """Take in a frame of a node."""
        node, kind = frame.identifier & _NODE_BITS, frame.identifier & _KIND_BITS
        if not node:
            return
        if kind == CommunicationObject.ERROR_CONTROL.base:
            self._alive(node, frame, now)
        elif kind == CommunicationObject.EMCY.base:
            self._emergency(node, frame)
        elif kind in self._of_nodes and node in self._entries:
            entry = self._entries[node]
            if kind == CommunicationObject.SDO_REPLY.base:
                self._answer(entry, frame, now)
            else:
                self._data(entry, len(frame.data))

    # Asking and starting.

    def _overdue(self, node: int, entry: _Entry, now: int) -> None:
        if entry.step == "rest":
            entry.step, entry.asked = "asked", 0
            self._ask(entry, now)
        elif entry.step == "asked":
            entry.step, entry.due_us = "rest", now + AGAIN_US
            if node not in self._lost:
                entry.said = "no answer"
        elif entry.step == "waiting":
            entry.step, entry.due_us = "silent", NEVER_US
            within = f"{self._managing.consumer_ms} ms"
            entry.said = f"not started: no heartbeat of it within {within}"
            self._loses(node, now)
        elif entry.step == "run":
            entry.step, entry.due_us, entry.heard_us = "rest", now + AGAIN_US, None
            entry.said = f"lost: no heartbeat for {self._managing.consumer_ms} ms"
            self._loses(node, now)
            self._order(NmtCommand.RESET_COMMUNICATION, node, now)

    def _ask(self, entry: _Entry, now: int) -> None:
        at, _, _ = _QUESTIONS[entry.asked]
        entry.due_us = now + ANSWER_US
        self.station.send(now, request_frame(entry.plan.node, StartRead(at)))

    def _answer(self, entry: _Entry, frame: Frame, now: int) -> None:
        if entry.step != "asked":
            return
        try:
            reply = decode_reply(frame.data)
        except PlanError:
            return
        at, what, name = _QUESTIONS[entry.asked]
        if not isinstance(reply, ReadStarted | Abort) or reply.at != at:
            return
        if isinstance(reply, Abort):
            self._refuses(entry, now, f"it refuses: {reply.words}")
            return
        value, planned = int.from_bytes(reply.data or b"", "little"), getattr(entry.plan, name)
        if value != planned:
            said = f"another device: its {what} is 0x{value:X}, the list says 0x{planned:X}"
            self._refuses(entry, now, said)
            return
        entry.asked += 1
        if entry.asked < len(_QUESTIONS):
            self._ask(entry, now)
        else:
            self._fits(entry, now)

    def _refuses(self, entry: _Entry, now: int, said: str) -> None:
        entry.step, entry.due_us, entry.said = "rest", now + AGAIN_US, said

    def _fits(self, entry: _Entry, now: int) -> None:
        entry.step, entry.due_us = "waiting", now + self._consumer_us
        if entry.heard_us is not None and now - entry.heard_us < self._consumer_us:
            self._start(entry, now)

    def _start(self, entry: _Entry, now: int) -> None:
        entry.step = "run"
        entry.due_us = (entry.heard_us or now) + self._consumer_us
        entry.said = "operational"
        self._order(NmtCommand.START, entry.plan.node, now)
        self._finds(entry.plan.node, now)
        if self.station.state is not NmtState.OPERATIONAL:
            self.station.enter(NmtState.OPERATIONAL, now)
            self._sync_us = now + 1000 * self._managing.sync_ms

    def _order(self, command: NmtCommand, node: int, now: int) -> None:
        frame = NmtMessage(command, node).to_frame()
        self.station.enqueue(now, NMT, frame.data)

    # Watching.

    def _alive(self, node: int, frame: Frame, now: int) -> None:
        entry = self._entries.get(node)
        if (entry is None or node == self._own) and node not in self._strangers:
            self._strangers.append(node)
        if entry is None:
            return
        try:
            state = StateByte.from_bytes(frame.data).state
        except PlanError:
            return
        if state is NmtState.INITIALISING:
            self._booted(entry, now)
            return
        entry.heard_us = now
        if entry.step == "waiting":
            self._start(entry, now)
        elif entry.step == "silent":
            entry.step, entry.due_us = "rest", now
        elif entry.step == "run":
            entry.due_us = now + self._consumer_us
            if state is NmtState.PRE_OPERATIONAL and not self.station.waits(NMT):
                # It fell back by itself, or never had the command.
                self._order(NmtCommand.START, node, now)

    def _booted(self, entry: _Entry, now: int) -> None:
        if entry.step in ("run", "silent"):
            entry.step, entry.due_us, entry.heard_us = "rest", now + ANSWER_US, None
            entry.said = "booted up again"

    def _loses(self, node: int, now: int) -> None:
        self._entries[node].missed += 1
        if not self._lost:
            self.station.show(NodeFault.ERROR_CONTROL, now, there=True)
        self._lost.add(node)
        self.station.emergency(now, NO_HEARTBEAT)

    def _finds(self, node: int, now: int) -> None:
        if node not in self._lost:
            return
        self._lost.discard(node)
        if not self._lost:
            self.station.show(NodeFault.ERROR_CONTROL, now, there=False)
            self.station.emergency(now, 0)

    def _emergency(self, node: int, frame: Frame) -> None:
        try:
            code = Emergency.from_bytes(frame.data).code
        except PlanError:
            return
        if code:
            self._emergencies[node] = code
        else:
            self._emergencies.pop(node, None)

    # Process data.

    def _sync(self, now: int) -> None:
        self.station.send(now, _SYNC)
        for node, frame in self._outputs:
            if self._entries[node].step == "run":
                self.station.send(now, frame)

    def _data(self, entry: _Entry, length: int) -> None:
        if entry.step != "run":
            return
        planned = entry.plan.input_bytes
        entry.said = (
            "operational"
            if length == planned
            else f"operational, but its PDO has {counted(length, 'byte')}, the list says {planned}"
        )
