"""The scanner's side of the bench: it takes the devices of its scan list and exchanges I/O.

For each entry: allocate the explicit and the I/O connection, read which product the device is
where the plan says it, read how many bytes it produces and consumes, set the expected packet
rate, then exchange data. What a device does with that is `labkit.fieldbus.devicenet.serving`; how
real scanners order and time these steps is theirs, so the times below are our choice.
"""

from __future__ import annotations

import math
from collections.abc import Hashable, Iterator, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from labkit.bench.can.controller import NEVER_US
from labkit.families.devicenet.bench.products import ASKED, another_product, product_request
from labkit.families.devicenet.bench.station import Station, meaning_of
from labkit.families.devicenet.bench.trace import EntryReport, EntryState
from labkit.fieldbus.devicenet.connections import (
    CONNECTION_INSTANCE,
    Allocation,
    ConnectionKind,
    allocate_request,
    packet_rate_request,
    release_request,
    request_frames,
    timeout_ms,
)
from labkit.fieldbus.devicenet.fragments import FRAME_BYTES, Fragment, Reassembly, io_frames
from labkit.fieldbus.devicenet.identifiers import Identifier, Purpose
from labkit.fieldbus.devicenet.indicators import Indicator
from labkit.fieldbus.devicenet.messages import ExplicitRequest, ExplicitResponse, strobe_command
from labkit.fieldbus.devicenet.objects import (
    CONSUMED_SIZE,
    PRODUCED_SIZE,
    GeneralError,
    ObjectClass,
    Service,
    error_sentence,
)
from labkit.fieldbus.devicenet.scanlist import ScanEntry
from labkit.fieldbus.errors import PlanError

if TYPE_CHECKING:
    from labkit.families.devicenet.bench.equipment import Master
    from labkit.fieldbus.can.frame import Frame
    from labkit.fieldbus.devicenet.identity import Identity

ANSWER_US = 500_000
"""How long the scanner waits for an explicit answer, µs."""

SETTLE_US = 200_000
"""How long the scanner waits after going on line before it asks anyone, µs: devices that were
powered together with it are on line by then."""

AGAIN_US = 1_000_000
"""After how long it asks again a device that did not answer or does not fit, µs."""

SHORTEST_PACKET_RATE_MS = 75
"""Expected packet rate of polled and strobed devices, at least: four scans, but not below this."""

HEARTBEAT_MS = 250
"""Expected packet rate of change-of-state devices: they report that often unasked."""

_TIMED = (ConnectionKind.CHANGE_OF_STATE, ConnectionKind.CYCLIC)
_IN_DATA = {
    Purpose.POLL_RESPONSE: ConnectionKind.POLL,
    Purpose.BIT_STROBE_RESPONSE: ConnectionKind.BIT_STROBE,
}


def packet_rate_ms(entry: ScanEntry, scan_every_ms: float) -> int:
    """The expected packet rate that the scanner sets in a device, ms."""
    if entry.kind is ConnectionKind.CYCLIC and entry.interval_ms is not None:
        return max(1, math.ceil(entry.interval_ms))
    if entry.kind is ConnectionKind.CHANGE_OF_STATE:
        return HEARTBEAT_MS
    return max(SHORTEST_PACKET_RATE_MS, math.ceil(4 * scan_every_ms))


def _wanted(entry: ScanEntry, *, on: bool) -> bytes:
    """An entry's outputs, all on or all off; a strobed device has one bit."""
    strobed = entry.kind is ConnectionKind.BIT_STROBE
    return (b"\1" if on else b"\0") if strobed else (b"\xff" if on else b"\0") * entry.output_bytes


@dataclass(slots=True)
class _Entry:
    """One entry of the scan list, and how far the scanner is with it."""

    plan: ScanEntry
    rate_ms: int
    outputs: bytes
    inputs: bytes
    reports: list[EntryReport]
    step: str = "rest"
    due_us: int = 0
    produced: int = 0
    heard_us: int = 0
    sent_us: int = -NEVER_US
    lost: bool = False
    product: Identity | None = None
    told: tuple[int, ...] = ()
    pieces: Reassembly = field(default_factory=Reassembly)
    poll: int = 0

    @property
    def running(self) -> bool:
        return self.step == "run"

    @property
    def silence_us(self) -> int:
        """How long it may be silent while it runs."""
        return (timeout_ms(self.rate_ms) or 0) * 1000

    @property
    def sends_by_the_clock(self) -> bool:
        """Whether it gets outputs at its packet rate, and not at every scan."""
        return self.plan.kind in _TIMED and bool(self.outputs)

    @property
    def standing(self) -> Hashable:
        """All that it holds, but for its times."""
        pieces = (self.pieces.held, self.pieces.taken)
        said = len(self.reports)
        told = (self.produced, self.told)
        return (self.step, self.outputs, self.inputs, told, self.lost, pieces, said)

    @property
    def deadlines(self) -> tuple[int, int]:
        """When it is lost or asked again, and when it next gets outputs, µs."""
        if not self.running:
            return self.due_us, NEVER_US
        due = self.sent_us + self.rate_ms * 1000 if self.sends_by_the_clock else NEVER_US
        return self.heard_us + self.silence_us, due

    @property
    def choice(self) -> Allocation:
        return Allocation.of(self.plan.kind)

    def __post_init__(self) -> None:
        self.poll = Identifier.of(Purpose.POLL_COMMAND, self.plan.address).value


class Scanner:
    """The master that sits in a station."""

    def __init__(self, station: Station, master: Master) -> None:
        self.station = station
        self.idle = master.idle
        self.scan_every_us = round(master.scan_every_ms * 1000)
        self.next_scan_us: int | None = None
        products = dict(master.products)
        self._entries = {
            each.address: _Entry(
                each,
                packet_rate_ms(each, master.scan_every_ms),
                _wanted(each, on=each.address in master.commanded),
                bytes(each.input_bytes),
                [EntryReport(0.0, EntryState.NOT_ASKED)],
                product=products.get(each.address),
            )
            for each in master.scan_list
        }

    # What the bench asks and tells.

    @property
    def reports(self) -> dict[int, tuple[EntryReport, ...]]:
        """The reports so far, by node address."""
        return {address: tuple(each.reports) for address, each in self._entries.items()}

    @property
    def network_status(self) -> Indicator:
        """The indicator of an on-line scanner: what holds for a device's connections, for all."""
        if any(each.lost for each in self._entries.values()):
            return Indicator.FLASHING_RED
        if any(each.running for each in self._entries.values()):
            return Indicator.GREEN
        return Indicator.FLASHING_GREEN

    def listed(self, address: int) -> bool:
        """Whether an address is in the scan list."""
        return address in self._entries

    def inputs(self, address: int) -> bytes:
        """What the scanner last got from a device; zeros before, kept when it falls silent."""
        return self._entries[address].inputs

    def set_outputs(self, address: int, outputs: bytes) -> None:
        """What it is to send to a device from the next scan on."""
        entry = self._entries[address]
        if len(outputs) != len(entry.outputs):
            raise PlanError(
                f"node {address} takes {len(entry.outputs)} output bytes by the scan list, but "
                f"{len(outputs)} are given; make them agree."
            )
        entry.outputs = outputs

    def node_changed(self, now: int) -> None:
        """Its own node went on line or off it."""
        if self.station.node.on_line:
            if self.next_scan_us is None:
                self.next_scan_us = now + SETTLE_US
            return
        self.next_scan_us = None
        for each in self._entries.values():
            each.step, each.due_us, each.lost = "rest", 0, False
            self._say(each, now, EntryState.NOT_ASKED)

    def scan(self, now: int) -> None:
        """Begin a scan: poll and strobe what runs, ask what does not."""
        if not self.station.node.on_line:
            return
        strobed = [
            each
            for each in self._entries.values()
            if each.running and each.plan.kind is ConnectionKind.BIT_STROBE
        ]
        if strobed:
            self._strobe(strobed, now)
        for each in self._entries.values():
            if each.running:
                self._exchange(each, now)
            else:
                self._approach(each, now)
        self.next_scan_us = now + self.scan_every_us

    def receive(self, now: int, frame: Frame) -> None:
        """Take in a frame of a device."""
        if not self.station.node.on_line:
            return
        meaning = meaning_of(frame.identifier)
        if meaning is None or meaning.address is None:
            return
        entry = self._entries.get(meaning.address)
        if entry is None:
            return
        if meaning.purpose is Purpose.EXPLICIT_RESPONSE:
            self._explicit(entry, now, frame.data)
        elif entry.running and _IN_DATA.get(meaning.purpose) is entry.plan.kind:
            self._data(entry, now, frame.data)
        elif entry.running and entry.plan.kind in _TIMED:
            self._report(entry, now, meaning.purpose, frame.data)

    # Rounds that come again: see `rounds`.

    def standing(self) -> Hashable:
        """All that decides what it does next, but for its deadlines."""
        return tuple([each.standing for each in self._entries.values()])

    def deadlines(self) -> list[int]:
        """When it next does something of itself: two times an entry, µs."""
        return [at for each in self._entries.values() for at in each.deadlines]

    def go_on(self, by_us: int, moved: Iterator[bool]) -> None:
        """Be the same so much later; `moved` says which deadlines go along."""
        for each in self._entries.values():
            if next(moved):
                each.heard_us += by_us
            if next(moved):
                each.sent_us += by_us

    # I/O.

    def _strobe(self, strobed: list[_Entry], now: int) -> None:
        identifier = Identifier.of(Purpose.BIT_STROBE_COMMAND, self.station.node.address).value
        # While it is idle no bit is set (our choice; the strobe command is as long as ever).
        bits = {each.plan.address: any(each.outputs) and not self.idle for each in strobed}
        self._put(now, identifier, (strobe_command(bits),))

    def _exchange(self, entry: _Entry, now: int) -> None:
        if now - entry.heard_us > entry.silence_us:
            self._lose(entry, now, f"no data for {entry.silence_us // 1000} ms")
            return
        kind = entry.plan.kind
        if kind is ConnectionKind.POLL:
            self._send_outputs(entry, now)
        elif entry.sends_by_the_clock and now - entry.sent_us >= entry.rate_ms * 1000:
            entry.sent_us = now
            self._send_outputs(entry, now)

    def _send_outputs(self, entry: _Entry, now: int) -> None:
        """While it is idle its messages carry no output data."""
        size = entry.plan.output_bytes
        self._put(now, entry.poll, (b"",) if self.idle else io_frames(entry.outputs, size))

    def _put(self, now: int, identifier: int, datas: Sequence[bytes]) -> None:
        """Queue frames unless the last ones with this identifier have not gone out yet."""
        if self.station.waits(identifier):
            return
        for data in datas:
            self.station.enqueue(now, identifier, data)

    def _data(self, entry: _Entry, now: int, data: bytes) -> None:
        entry.heard_us = now
        size = entry.plan.input_bytes
        if size > FRAME_BYTES and data:
            whole = self._piece(entry, data)
            if whole is None:
                return
            data = whole
        if len(data) != size:
            detail = f"it sends {len(data)} input bytes, the scan list says {size}"
            self._say(entry, now, EntryState.SIZES_DIFFER, detail)
            return
        entry.inputs = data
        self._say(entry, now, EntryState.IDLE if self.idle else EntryState.OK)

    def _piece(self, entry: _Entry, data: bytes) -> bytes | None:
        try:
            step = entry.pieces.take(Fragment.from_bytes(data))
        except PlanError:
            return None
        entry.pieces = step.state
        return step.message

    def _report(self, entry: _Entry, now: int, purpose: Purpose, data: bytes) -> None:
        if purpose is Purpose.POLL_RESPONSE:
            entry.heard_us = now
            return
        if purpose is not Purpose.CHANGE_OF_STATE:
            return
        self._data(entry, now, data)
        acknowledge = Identifier.of(Purpose.MASTER_ACKNOWLEDGE, entry.plan.address).value
        self._put(now, acknowledge, (b"",))

    # Getting there.

    def _approach(self, entry: _Entry, now: int) -> None:
        if now < entry.due_us:
            return
        if entry.step == "rest":
            choice = Allocation.EXPLICIT | entry.choice
            self._ask(entry, now, "allocate", allocate_request(choice, self._address), True)
            if entry.reports[-1].state is EntryState.NOT_ASKED:
                self._say(entry, now, EntryState.ASKED)
            return
        entry.step, entry.due_us = "rest", now + AGAIN_US
        if not entry.lost:
            self._say(entry, now, EntryState.NO_ANSWER)

    def _ask(
        self, entry: _Entry, now: int, step: str, body: ExplicitRequest, unconnected: bool = False
    ) -> None:
        entry.step, entry.due_us = step, now + ANSWER_US
        address = entry.plan.address
        frames = request_frames(body, address, self._address, unconnected=unconnected)
        self._put(now, frames[0].identifier.value, [each.data for each in frames])

    def _explicit(self, entry: _Entry, now: int, data: bytes) -> None:
        if len(data) < 2 or data[0] != self._address or not data[1] & 0x80:
            return
        response = ExplicitResponse.from_bytes(data[1:])
        codes = response.error_codes
        if codes is not None:
            self._refused(entry, now, codes)
        elif entry.step == "allocate" and response.service == Service.ALLOCATE:
            self._taken(entry, now)
        elif entry.step == "product" and response.service == Service.GET_ATTRIBUTE:
            self._told(entry, now, int.from_bytes(response.data, "little"))
        elif entry.step == "produced" and response.service == Service.GET_ATTRIBUTE:
            entry.produced = int.from_bytes(response.data, "little")
            self._ask(entry, now, "consumed", self._get(entry, CONSUMED_SIZE))
        elif entry.step == "consumed" and response.service == Service.GET_ATTRIBUTE:
            self._compare(entry, now, int.from_bytes(response.data, "little"))
        elif entry.step == "rate" and response.service == Service.SET_ATTRIBUTE:
            self._run(entry, now)
        elif entry.step == "release" and response.service == Service.RELEASE:
            entry.step, entry.due_us = "rest", now
        elif entry.step == "unfit" and response.service == Service.RELEASE:
            entry.step, entry.due_us = "rest", now + AGAIN_US

    def _refused(self, entry: _Entry, now: int, codes: tuple[int, int]) -> None:
        if entry.step == "allocate" and codes[0] == GeneralError.ALREADY_IN_STATE:
            # The device still holds connections of an earlier allocation.
            self._give_back(entry, now, "release")
            return
        if entry.step not in ("rest", "run"):
            entry.step, entry.due_us = "rest", now + AGAIN_US
            self._say(entry, now, EntryState.REFUSED, error_sentence(*codes))

    def _taken(self, entry: _Entry, now: int) -> None:
        """It has the device: which product is it, where that is known, and how long its data?"""
        entry.told = ()
        if entry.product is None:
            self._ask(entry, now, "produced", self._get(entry, PRODUCED_SIZE))
        else:
            self._ask(entry, now, "product", product_request(1))

    def _told(self, entry: _Entry, now: int, value: int) -> None:
        entry.told = (*entry.told, value)
        if len(entry.told) < ASKED:
            self._ask(entry, now, "product", product_request(len(entry.told) + 1))
            return
        wrong = another_product(entry.told, entry.product) if entry.product else ""
        if not wrong:
            self._ask(entry, now, "produced", self._get(entry, PRODUCED_SIZE))
            return
        self._say(entry, now, EntryState.ANOTHER_PRODUCT, wrong)
        self._give_back(entry, now, "unfit")

    def _compare(self, entry: _Entry, now: int, consumed: int) -> None:
        plan = entry.plan
        right = FRAME_BYTES if plan.kind is ConnectionKind.BIT_STROBE else plan.output_bytes
        if (entry.produced, consumed) == (plan.input_bytes, right):
            self._ask(entry, now, "rate", packet_rate_request(entry.choice, entry.rate_ms))
            return
        parts = []
        if entry.produced != plan.input_bytes:
            parts.append(
                f"it sends {entry.produced} input bytes, the scan list says {plan.input_bytes}"
            )
        if consumed != right:
            parts.append(f"it takes {consumed} output bytes, the scan list says {right}")
        self._say(entry, now, EntryState.SIZES_DIFFER, "; ".join(parts))
        self._give_back(entry, now, "unfit")

    def _give_back(self, entry: _Entry, now: int, step: str) -> None:
        body = release_request(Allocation.EXPLICIT | entry.choice)
        self._ask(entry, now, step, body, True)

    def _run(self, entry: _Entry, now: int) -> None:
        entry.step, entry.heard_us, entry.lost = "run", now, False
        entry.pieces = Reassembly()
        self.station.look(now)

    def _lose(self, entry: _Entry, now: int, detail: str) -> None:
        entry.step, entry.due_us, entry.lost = "rest", now, True
        self._say(entry, now, EntryState.LOST, detail)
        self.station.look(now)

    def _get(self, entry: _Entry, attribute: int) -> ExplicitRequest:
        instance = CONNECTION_INSTANCE[entry.choice]
        return ExplicitRequest.get_attribute(ObjectClass.CONNECTION, instance, attribute)

    def _say(self, entry: _Entry, now: int, state: EntryState, detail: str = "") -> None:
        last = entry.reports[-1]
        if (last.state, last.detail) != (state, detail):
            entry.reports.append(EntryReport(now / 1e6, state, detail))

    @property
    def _address(self) -> int:
        return self.station.node.address
