"""One station on the bench's bus: its node's life, its CAN controller's queue and error counters.

The node itself is `labkit.fieldbus.devicenet.startup.react`. Here is what that leaves to its
caller: clocks, the queue of frames to send (the most urgent first), and the data that came in.
Times are whole microseconds.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Hashable, Iterator
from dataclasses import fields, replace
from functools import lru_cache
from operator import attrgetter
from typing import Protocol

from labkit.bench.can.controller import NEVER_US, Controller
from labkit.families.devicenet.bench.equipment import BusDevice
from labkit.families.devicenet.bench.trace import Look
from labkit.fieldbus.can.confinement import ErrorCounters
from labkit.fieldbus.can.frame import Frame
from labkit.fieldbus.devicenet.connections import (
    Allocation,
    BusFrame,
    device_report,
)
from labkit.fieldbus.devicenet.fragments import FRAME_BYTES, Fragment, Reassembly
from labkit.fieldbus.devicenet.identifiers import Identifier, Purpose
from labkit.fieldbus.devicenet.indicators import Indicator
from labkit.fieldbus.devicenet.messages import (
    strobe_outputs,
)
from labkit.fieldbus.devicenet.node import Fault, Node, NodeState, Reaction
from labkit.fieldbus.devicenet.startup import (
    BusOff,
    CheckSent,
    Event,
    InputsChange,
    PowerOff,
    PowerOn,
    Received,
    SelfTestDone,
    TimePasses,
    react,
)
from labkit.fieldbus.errors import PlanError

SELF_TEST_US = 500_000
"""Length of the self-test, µs (our choice; real devices differ)."""

_REPORTING = (Allocation.CHANGE_OF_STATE, Allocation.CYCLIC)
_LONG_FREE_US = 1000
"""Longer than any interframe space, µs: how long ago the bus became free then decides nothing."""

_NODE = attrgetter(*(each.name for each in fields(Node) if each.name != "links"))


@lru_cache(maxsize=4096)
def meaning_of(identifier: int) -> Identifier | None:
    """What an identifier says, None where it belongs to no message group."""
    try:
        return Identifier.from_value(identifier)
    except PlanError:
        return None


class Mastering(Protocol):
    """What a station must know of the scanner that sits in it."""

    @property
    def network_status(self) -> Indicator:
        """How its network status indicator looks while it is on line."""
        ...

    def receive(self, now: int, frame: Frame) -> None:
        """Take in a frame of a device."""
        ...

    def node_changed(self, now: int) -> None:
        """Its own node went on line or off it."""
        ...


class Station(Controller):
    """A device at work."""

    def __init__(
        self,
        index: int,
        device: BusDevice,
        spread_us: int,
        inputs: bytes,
        on_wants_bus: Callable[[Station, int], None],
        on_wake: Callable[[Station, int], None],
        on_change: Callable[[Station], None],
    ) -> None:
        super().__init__(index, device.name, device.rate, on_wants_bus, on_wake, on_change)
        self.device = device
        self.scanner: Mastering | None = None
        self.outputs = bytes(device.equipment.output_bytes)
        self.network: list[Look] = []
        self.module: list[Look] = []
        self.said: list[tuple[float, str]] = []
        self.driven: list[tuple[float, bytes]] = []
        self._inputs = inputs
        self._spread_us = spread_us
        self._since_us = 0
        self._test_over_us = NEVER_US
        self._report_us = NEVER_US
        self._pieces = Reassembly()
        self._set_up(device)

    def _set_up(self, device: BusDevice) -> None:
        """Read the switches and the configuration, as a device does when power comes."""
        made = device.equipment
        self.set_rate(device.rate)
        self.seeking = made.follows_rate
        self.node = Node(
            device.address,
            made.vendor,
            made.serial,
            inputs=self._inputs[: made.input_bytes].ljust(made.input_bytes, b"\0"),
            output_bytes=made.output_bytes,
            allowed=Allocation.EXPLICIT | Allocation.of(made.kind),
            device_type=made.device_type,
            product_code=made.product_code,
            address_by_message=made.address_by_message,
        )
        self.outputs = bytes(made.output_bytes)
        self._poll_identifier = Identifier.of(Purpose.POLL_COMMAND, device.address).value

    # What the bus asks.

    @property
    def on(self) -> bool:
        """Whether it has power."""
        return self.node.state is not NodeState.OFF

    @property
    def awake(self) -> bool:
        """Whether its self-test is over."""
        return self.node.state is not NodeState.SELF_TEST

    @property
    def listening(self) -> bool:
        """Whether its CAN controller takes part in the traffic, acknowledging and flagging."""
        on = self.node.state is not NodeState.OFF and not self.device.dead and not self.stuck
        return on and not self.seeking and self.node.fault is not Fault.BUS_OFF

    # What happens to it.

    def power(self, now: int, on: bool) -> None:
        """Power comes or goes."""
        if on == (self.node.state is not NodeState.OFF):
            return
        self.waiting.clear()
        self.counters = ErrorCounters()
        self.suspended = False
        if on:
            self._set_up(self.device)
        self._since_us = now
        self.happens(now, PowerOn() if on else PowerOff())

    def babble(self, now: int) -> None:
        """Put another frame of highest priority into the queue if it babbles."""
        if not self.device.babbling or self.node.state in (NodeState.OFF, NodeState.SELF_TEST):
            return
        identifier = Identifier(1, 0, self.node.address).value
        if not self.waits(identifier):
            self.enqueue(now, identifier, bytes(FRAME_BYTES))

    def happens(self, now: int, event: Event) -> tuple[BusFrame, ...]:
        """Let time pass up to `now`, then let an event happen; returns the frames it sends."""
        self._age(now)
        return self._take(now, react(self.node, event))

    def wake(self, now: int) -> None:
        """Do what is due now: the end of the self-test, of a wait, of a connection; a report."""
        self.wake_us = NEVER_US
        self._age(now)
        if self._test_over_us <= now:
            self._test_over_us = NEVER_US
            self._begin(now)
        if self._report_us <= now:
            self._report(now)
        self._plan_wake(now)

    def _begin(self, now: int) -> None:
        """Its self-test is over: it asks for its address, once it knows the rate."""
        if self.seeking:
            self.look(now)
            return
        self._take(now, react(self.node, SelfTestDone()))
        self.babble(now)

    def overheard(self, now: int, rate: int) -> None:
        """Take the rate of others, where it follows by itself."""
        self.seeking = False
        self.set_rate(rate)
        self.said.append((now / 1e6, f"it finds {rate} kbit/s on the bus"))
        self._on_change(self)
        if self._tested:
            self._begin(now)

    @property
    def _tested(self) -> bool:
        """Whether only the rate is missing, for it to begin."""
        return self.node.state is NodeState.SELF_TEST and self._test_over_us == NEVER_US

    def receive(self, now: int, frame: Frame) -> None:
        """Take in a frame that its controller read without an error."""
        if self.scanner is not None:
            self.scanner.receive(now, frame)
            meaning = meaning_of(frame.identifier)
            if meaning is None or meaning.address != self.node.address:
                return
        if self.happens(now, Received(frame.identifier, frame.data)):
            self._take_outputs(now, frame)
        elif frame.identifier == self._poll_identifier and self.node.output_bytes > FRAME_BYTES:
            self._piece_of_outputs(frame.data)

    def sent(self, now: int, frame: Frame) -> None:
        """Its frame went through, or was taken in by all who heard it."""
        self._drop(frame)
        is_check = frame.identifier & 0x607 == 0x407
        if is_check and self.node.checking:
            self.happens(now, CheckSent())
        self.babble(now)

    def went_off(self, now: int) -> None:
        """It takes no part in the traffic any more."""
        self.happens(now, BusOff())

    def set_inputs(self, now: int, inputs: bytes) -> None:
        """The inputs from the plant take another value."""
        self._inputs = inputs
        self.happens(now, InputsChange(inputs))

    def look(self, now: int) -> None:
        """Note how the two indicators look, where that has changed."""
        dark = self.device.dead
        listens = self.seeking and self._tested
        network = Indicator.OFF if dark or listens else self._network_look()
        # While it listens for the rate: makers differ (our choice).
        working = Indicator.GREEN if listens else self.node.module_status
        module = Indicator.OFF if dark else working
        for looks, found in ((self.network, network), (self.module, module)):
            if not looks or looks[-1][1] is not found:
                looks.append((now / 1e6, found))

    def _network_look(self) -> Indicator:
        if self.scanner is not None and self.node.on_line:
            return self.scanner.network_status
        return self.node.network_status

    # Rounds that come again: see `rounds`.

    def standing(self, now: int) -> Hashable:
        """All that decides what it does next, but for its deadlines and when it wakes.

        Times count from now on. None while it is on its way onto the network.
        """
        node = self.node
        if node.wait_s is not None or self._test_over_us != NEVER_US or self.seeking:
            return None
        counters = self.counters
        return (
            _NODE(node),
            tuple([(link.choice, link.packet_rate_ms, link.timed_out) for link in node.links]),
            (counters.transmit, counters.receive, counters.idle_sequences),
            max(self.free_us - now, -_LONG_FREE_US),
            self.suspended,
            tuple([(identifier, frame) for identifier, _, frame in sorted(self.waiting)]),
            self.outputs,
            (self._pieces.held, self._pieces.taken),
            (len(self.network), len(self.module), len(self.said)),
        )

    def deadlines(self) -> list[int]:
        """When each connection times out, and when the next report is due, µs."""
        since, found = self._since_us, []
        for link in self.node.links:
            left = link.left_ms
            found.append(NEVER_US if left is None else since + round(left * 1000))
        return [*found, self._report_us]

    def go_on(self, by_us: int, moved: Iterator[bool]) -> None:
        """Be the same so much later; `moved` says which deadlines go along."""
        self.free_us += by_us
        self._since_us += by_us
        links = tuple(
            link if next(moved) else replace(link, quiet_ms=link.quiet_ms + by_us / 1000)
            for link in self.node.links
        )
        self.node = replace(self.node, links=links)
        if next(moved):
            self._report_us += by_us

    # Inside.

    def _age(self, now: int) -> None:
        passed = now - self._since_us
        self._since_us = now
        if passed and (self.node.links or self.node.wait_s is not None):
            self._take(now, react(self.node, TimePasses(passed / 1e6)))

    def _take(self, now: int, reaction: Reaction) -> tuple[BusFrame, ...]:
        before, self.node = self.node, reaction.node
        frames = reaction.frames
        if not self.device.holds and _exchanges(before) and not _exchanges(self.node):
            self._drive(now, bytes(self.node.output_bytes))
        self.said += [(now / 1e6, each) for each in reaction.said]
        if self.node.state is not before.state:
            self._state_changed(now)
        for frame in frames:
            self.enqueue(now, *frame.pair)
        # A connection that was only refreshed runs longer: the wake that is planned comes early,
        # looks again and plans the next one.
        if reaction.said or self.node.state is not before.state or self.node.wait_s is not None:
            self._plan_wake(now)
            self.look(now)
        return frames

    def _state_changed(self, now: int) -> None:
        self._on_change(self)
        if self.node.state is NodeState.SELF_TEST:
            self._test_over_us = now + SELF_TEST_US + self._spread_us
        if self.node.state in (NodeState.OFF, NodeState.FAULTED, NodeState.SELF_TEST):
            self.waiting.clear()
            self._report_us = NEVER_US
            self._pieces = Reassembly()
        if self.node.state in (NodeState.OFF, NodeState.SELF_TEST):
            self._drive(now, bytes(self.node.output_bytes))
        if self.scanner is not None:
            self.scanner.node_changed(now)
        if self.node.state is NodeState.FAULTED:
            self.babble(now)

    def _plan_wake(self, now: int) -> None:
        due = min(self._test_over_us, self._report_due(now))
        node = self.node
        if node.wait_s is not None:
            due = min(due, now + max(1, math.ceil(node.wait_s * 1e6 - 1e-3)))
        for link in node.links:
            left = link.left_ms
            if left is not None:
                due = min(due, now + max(1, math.ceil(left * 1e3 - 1e-3)))
        if due < self.wake_us:
            self.wake_us = due
            self._on_wake(self, due)

    def _report_due(self, now: int) -> int:
        link = self._reporting_link()
        if link is None:
            self._report_us = NEVER_US
        elif self._report_us == NEVER_US:
            self._report_us = now
        return self._report_us

    def _reporting_link(self) -> int | None:
        """The packet rate in ms of an established change-of-state or cyclic connection."""
        for link in self.node.links:
            if link.choice in _REPORTING and link.established:
                return link.packet_rate_ms or None
        return None

    def _report(self, now: int) -> None:
        every_ms = self._reporting_link()
        if every_ms is None:
            return
        frames = device_report(self.node.address, self.node.inputs, acknowledged=False)
        if not self.waits(frames[0].identifier.value):
            for frame in frames:
                self.enqueue(now, *frame.pair)
        self._report_us = now + every_ms * 1000

    def _take_outputs(self, now: int, frame: Frame) -> None:
        """What a message of the scanner that was answered does to the outputs."""
        if frame.identifier & 0x607 == 0x400:
            self._drive(now, bytes([strobe_outputs(frame.data)[self.node.address]]))
        elif frame.identifier != self._poll_identifier:
            return
        elif not frame.data:
            # Idle. A strobe says nothing of it: a bit that is off is off.
            if not self.device.holds_in_idle:
                self._drive(now, bytes(self.node.output_bytes))
        elif self.node.output_bytes <= FRAME_BYTES:
            self._drive(now, frame.data)
        else:
            whole = self._piece_of_outputs(frame.data)
            if whole is not None:
                self._drive(now, whole)

    def _piece_of_outputs(self, data: bytes) -> bytes | None:
        try:
            step = self._pieces.take(Fragment.from_bytes(data))
        except PlanError:
            return None
        self._pieces = step.state
        return step.message

    def _drive(self, now: int, outputs: bytes) -> None:
        self.outputs = outputs
        if not self.driven or self.driven[-1][1] != outputs:
            self.driven.append((now / 1e6, outputs))


def _exchanges(node: Node) -> bool:
    """Whether an I/O connection carries messages."""
    return any(each.established and each.choice is not Allocation.EXPLICIT for each in node.links)
