"""A node at work on the bench's bus: boot-up, heartbeat, PDOs, emergencies, its two lamps.

State machine and SDO are `labkit.fieldbus.canopen.serving.Device`. Times are whole microseconds.

Chosen where CiA 301 leaves it open or a device may be set so: a node that goes bus-off stays so
until its power goes, and is pre-operational; one that misses the manager's heartbeat goes
pre-operational (the default of 0x1029, from memory), which the manager's next heartbeat does not
undo; a receive PDO of another length shows as invalid configuration; devices answer an SDO after
0.3 to 1.2 ms, each after its own time, so that of two with one node-ID one answers first.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Final, Protocol

from labkit.bench.can.controller import NEVER_US, Controller
from labkit.families.canopen.bench.equipment import EVENT_MS, Managing, NodeSet, dictionary_of
from labkit.families.canopen.bench.trace import Look
from labkit.fieldbus.can.confinement import BusEvent, ErrorCounters
from labkit.fieldbus.can.frame import Frame
from labkit.fieldbus.canopen.emergency import Emergency
from labkit.fieldbus.canopen.heartbeat import heartbeat_frame
from labkit.fieldbus.canopen.identifiers import CobId, CommunicationObject
from labkit.fieldbus.canopen.indicators import NodeFault, Pattern, error_pattern, run_pattern
from labkit.fieldbus.canopen.nmt import NmtState
from labkit.fieldbus.canopen.pdo import Direction
from labkit.fieldbus.canopen.pdo_rules import pdo_of
from labkit.fieldbus.canopen.serving import Device

TEST_US: Final = 400_000
"""From power-up to boot-up, µs (a choice); each node takes a little longer than the one before."""
MANAGER_TEST_US: Final = 200_000
"""The same of the manager, which so hears everybody boot up (a choice)."""
SPREAD_US: Final = 7_000
RESPONSE_US: Final = (500, 300, 700, 400, 900, 600, 1200)
"""How soon devices answer an SDO, in turn along the bus (a choice)."""
TOO_SHORT: Final = 0x8210
TOO_LONG: Final = 0x8220
NO_HEARTBEAT: Final = 0x8130
COMMUNICATION: Final = 0x11
"""Error register: generic and communication (CiA 301)."""
SYNC: Final = CommunicationObject.SYNC.base
NMT: Final = CommunicationObject.NMT.base


class Running(Protocol):
    """What a node must know of the manager that sits in it."""

    def receive(self, now: int, frame: Frame) -> None:
        """Take in a frame."""
        ...

    def wake(self, now: int) -> None:
        """Do what is due."""
        ...

    @property
    def due_us(self) -> int:
        """When it next does something of itself."""
        ...

    def came_up(self, now: int) -> None:
        """Its node has booted up."""
        ...

    def went_down(self) -> None:
        """Its node has no power, or is bus-off."""
        ...


class Station(Controller):
    """A device, or the manager where `manager` is set."""

    def __init__(
        self,
        index: int,
        node: NodeSet,
        managing: Managing,
        on_wants_bus: Callable[[Station, int], None],
        on_wake: Callable[[Station, int], None],
        on_change: Callable[[Station], None],
    ) -> None:
        super().__init__(index, node.name, node.rate, on_wants_bus, on_wake, on_change)
        self.node = node
        self.manager: Running | None = None
        self.run: list[Look] = []
        self.error: list[Look] = []
        self._managing = managing
        self._powered = False
        self._up = False
        self._off = False
        self._faults: set[NodeFault] = set()
        self._test_over_us = self._heartbeat_us = self._event_us = self._watch_us = NEVER_US
        self._replies: list[tuple[int, Frame]] = []
        self._set_up()

    def _set_up(self) -> None:
        """Read the switches and what is stored, as a device does when power comes."""
        node, made, managing = self.node, self.node.equipment, self._managing
        self.set_rate(node.rate)
        dictionary = dictionary_of(made, node.node_id, managing.node_id, managing.consumer_ms)
        self.device = Device(node.node_id, dictionary)
        self._mapped = pdo_of(self.device, Direction.RECEIVE, 1)[1].data_bytes
        kinds = CommunicationObject
        self._data = Frame(CobId(kinds.TPDO1, node.node_id).value, node.inputs)
        self._takes = CobId(kinds.RPDO1, node.node_id).value
        self._answers = CobId(kinds.SDO_REQUEST, node.node_id).value
        self._alive = CobId(kinds.ERROR_CONTROL, node.node_id).value
        self._watched = CobId(kinds.ERROR_CONTROL, managing.node_id).value

    # What the bus asks.

    @property
    def on(self) -> bool:
        """Whether its electronics have power and work."""
        return self._powered

    @property
    def awake(self) -> bool:
        """Whether it has booted up."""
        return self._up

    @property
    def listening(self) -> bool:
        """Whether it takes part in the traffic."""
        return self._powered and not self.stuck and not self._off

    @property
    def concerns(self) -> frozenset[int]:
        """The identifiers that it does something with, were it no manager."""
        return frozenset({NMT, SYNC, self._takes, self._answers, self._watched} - {self._alive})

    @property
    def state(self) -> NmtState:
        """Its state of network management."""
        return self.device.state

    # What happens to it.

    def power(self, now: int, on: bool) -> None:
        """Power comes or goes."""
        if on == self._powered:
            return
        self._powered, self._up, self._off = on, False, False
        self.waiting.clear()
        self._replies.clear()
        self._faults.clear()
        self.counters = ErrorCounters()
        self.suspended = False
        self._test_over_us = self._heartbeat_us = self._event_us = self._watch_us = NEVER_US
        if self.manager is not None:
            self.manager.went_down()
        self._set_up()
        if on:
            test = TEST_US if self.manager is None else MANAGER_TEST_US
            self._test_over_us = now + test + self.node.place * SPREAD_US
        self.plan_wake()
        self.look(now)

    def wake(self, now: int) -> None:
        """Do what is due now."""
        self.wake_us = NEVER_US
        if self._test_over_us <= now:
            self._test_over_us = NEVER_US
            self._boots(now)
        while self._replies and self._replies[0][0] <= now:
            self.send(now, self._replies.pop(0)[1])
        if self._heartbeat_us <= now:
            self._heartbeat_us = now + 1000 * self.node.equipment.heartbeat_ms
            self.send(now, heartbeat_frame(self.node.node_id, self.state))
        if self._event_us <= now:
            self._event_us = now + 1000 * EVENT_MS
            self._transmit(now)
        if self._watch_us <= now:
            self._watch_us = NEVER_US
            self._loses_manager(now)
        if self.manager is not None:
            self.manager.wake(now)
        self.plan_wake()

    def receive(self, now: int, frame: Frame) -> None:
        """Take in a frame that its controller read without an error."""
        if not self._up:
            return
        if self.manager is not None:
            self.manager.receive(now, frame)
        elif frame.identifier == SYNC:
            if self.node.equipment.sync:
                self._transmit(now)
        elif frame.identifier == self._takes:
            self._take(now, len(frame.data))
        elif frame.identifier == self._watched:
            self._watch_us = now + 1000 * self._managing.consumer_ms
            self._clears(now, NodeFault.ERROR_CONTROL)
        else:
            self._serve(now, frame)
        self.plan_wake()

    def send(self, now: int, frame: Frame) -> None:
        """Queue a frame, unless the last one with this identifier has not gone out yet."""
        if not self.waits(frame.identifier):
            self.enqueue(now, frame.identifier, frame.data)

    def went_off(self, now: int) -> None:
        """Bus-off: it takes no part in the traffic any more."""
        self._off = True
        self._replies.clear()
        self._heartbeat_us = self._event_us = self._watch_us = NEVER_US
        if self.manager is not None:
            self.manager.went_down()
        self._faults.add(NodeFault.BUS_OFF)
        self._leaves_operational()
        self.look(now)

    def count(self, now: int, event: BusEvent) -> None:
        """Count, and note whether a counter has reached its warning limit."""
        before = self.counters.warning
        super().count(now, event)
        if self.counters.warning is before:
            return
        if before:
            self._faults.discard(NodeFault.WARNING_LIMIT)
        else:
            self._faults.add(NodeFault.WARNING_LIMIT)
        self.look(now)

    def enter(self, state: NmtState, now: int) -> None:
        """Be in a state without having been ordered to: the manager, of itself."""
        self.device = replace(self.device, state=state)
        self.look(now)

    def show(self, fault: NodeFault, now: int, *, there: bool) -> None:
        """A fault that the error lamp shows comes or goes."""
        if there:
            self._faults.add(fault)
        else:
            self._faults.discard(fault)
        self.look(now)

    def emergency(self, now: int, code: int) -> None:
        """Send an emergency message; code 0 takes it back."""
        register = COMMUNICATION if code else 0
        frame = Emergency(code, register).to_frame(self.node.node_id)
        self.enqueue(now, frame.identifier, frame.data)

    def look(self, now: int) -> None:
        """Note how the two lamps look, where that has changed."""
        lit = self._powered and self._up
        run = run_pattern(self.state) if lit else Pattern.OFF
        error = error_pattern(self._faults) if self._powered else Pattern.OFF
        for looks, found in ((self.run, run), (self.error, error)):
            if not looks or looks[-1][1] is not found:
                looks.append((now / 1e6, found))

    def plan_wake(self) -> None:
        """Have it woken when something is due."""
        due = min(self._test_over_us, self._heartbeat_us, self._event_us, self._watch_us)
        if self._replies:
            due = min(due, self._replies[0][0])
        if self.manager is not None:
            due = min(due, self.manager.due_us)
        if due < self.wake_us:
            self.wake_us = due
            self._on_wake(self, due)

    # Inside.

    def _boots(self, now: int) -> None:
        if not self._up:
            self.device, frames = self.device.power_on()
            for frame in frames:
                self.send(now, frame)
        self._up = True
        every_ms = self.node.equipment.heartbeat_ms
        self._heartbeat_us = now + 1000 * every_ms if every_ms else NEVER_US
        if self.manager is not None:
            self.manager.came_up(now)
        self.look(now)

    def _serve(self, now: int, frame: Frame) -> None:
        before = self.state
        frames, self.device = self.device.receive(frame)
        if frame.identifier == self._answers:
            at = now + RESPONSE_US[self.node.place % len(RESPONSE_US)]
            self._replies += [(at, each) for each in frames]
            return
        for each in frames:
            self.send(now, each)
            self._boots(now)
        if self.state is before:
            return
        event = self.state is NmtState.OPERATIONAL and not self.node.equipment.sync
        self._event_us = now if event else NEVER_US
        self.look(now)

    def _transmit(self, now: int) -> None:
        if self._data.data and self.state is NmtState.OPERATIONAL:
            self.send(now, self._data)

    def _take(self, now: int, length: int) -> None:
        """A receive PDO: too short it is not taken, too long its rest is passed over (CiA 301)."""
        if self.state is not NmtState.OPERATIONAL or not self._mapped:
            return
        if length == self._mapped:
            self._clears(now, NodeFault.INVALID_CONFIGURATION)
        elif NodeFault.INVALID_CONFIGURATION not in self._faults:
            self.show(NodeFault.INVALID_CONFIGURATION, now, there=True)
            self.emergency(now, TOO_SHORT if length < self._mapped else TOO_LONG)

    def _clears(self, now: int, fault: NodeFault) -> None:
        if fault in self._faults:
            self.show(fault, now, there=False)
            self.emergency(now, 0)

    def _loses_manager(self, now: int) -> None:
        self.show(NodeFault.ERROR_CONTROL, now, there=True)
        self.emergency(now, NO_HEARTBEAT)
        self._leaves_operational()
        self.look(now)

    def _leaves_operational(self) -> None:
        if self.state is NmtState.OPERATIONAL:
            self.device = replace(self.device, state=NmtState.PRE_OPERATIONAL)
            self._event_us = NEVER_US
