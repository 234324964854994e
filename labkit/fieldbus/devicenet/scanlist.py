"""A master's scan list: what each entry puts on the bus, how long a scan takes, the bus load.

One scan sends the bit-strobe command (if any device is strobed) and one poll command to each
polled device; each answers once. Change-of-state and cyclic entries report on their own clock
and stretch the scan. Frame lengths are those of `labkit.fieldbus.can.length`.

    shortest scan   T = Σ unstuffed bits of the scan / rate + interscan delay
    longest scan    T = Σ worst-case bits of the scan / rate + delay + Σ ⌈T / T_i⌉ · C_i

with C_i the worst-case time of report i and T_i its interval: the response-time equation of
Davis, Burns, Bril, Lukkien, Real-Time Systems 35 (2007), with the scan as the lowest-priority
message; its smallest solution is taken. Most scans are shorter. Not counted: devices that answer
later than the others keep the bus busy, frames repeated after an error, and a report that arises
in one scan and slips into the next.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

from labkit.fieldbus import checked
from labkit.fieldbus.can import length
from labkit.fieldbus.checked import seconds
from labkit.fieldbus.devicenet.connections import (
    BusFrame,
    ConnectionKind,
    device_report,
    master_report,
    poll_exchange,
    strobe_exchange,
    timeout_ms,
)
from labkit.fieldbus.devicenet.fragments import FRAME_BYTES, size_of_io
from labkit.fieldbus.devicenet.identifiers import node_address
from labkit.fieldbus.devicenet.switches import rate_code
from labkit.fieldbus.errors import PlanError
from labkit.fieldbus.result import RuleResult

SOURCE = "Davis, Burns, Bril, Lukkien, Real-Time Systems 35 (2007); IEC 62026-3 messages"
_TIMED = (ConnectionKind.CHANGE_OF_STATE, ConnectionKind.CYCLIC)


@dataclass(frozen=True, slots=True)
class ScanEntry:
    """One device of a scan list.

    `input_bytes` it produces, `output_bytes` it consumes. `interval_ms` belongs to cyclic entries
    (the interval) and change-of-state entries (the shortest time between two reports to reckon
    with); `acknowledged` too. A strobed device produces up to eight bytes and consumes its one
    bit of the command, so no `output_bytes`.
    """

    address: int
    kind: ConnectionKind
    input_bytes: int = 0
    output_bytes: int = 0
    interval_ms: float | None = None
    acknowledged: bool = True

    def __post_init__(self) -> None:
        node_address(self.address)
        if not isinstance(self.kind, ConnectionKind):
            raise PlanError(f"{self._who} has kind {self.kind!r}; choose a ConnectionKind.")
        size_of_io(self.input_bytes)
        size_of_io(self.output_bytes)
        if self.kind in _TIMED:
            if self.interval_ms is None:
                raise PlanError(f"{self._who} is {self.kind.value}; give its interval in ms.")
            seconds(self.interval_ms, f"the interval of {self._who}", above_zero=True)
        elif self.interval_ms is not None:
            raise PlanError(
                f"{self._who} is on {self.kind.value}, which has no interval of its own; "
                "leave it out."
            )
        if self.kind is ConnectionKind.BIT_STROBE:
            self._check_strobe()

    def _check_strobe(self) -> None:
        if self.input_bytes > FRAME_BYTES:
            raise PlanError(
                f"{self._who} would answer a strobe with {self.input_bytes} bytes; at most "
                f"{FRAME_BYTES} go: poll it instead."
            )
        if self.output_bytes:
            raise PlanError(
                f"{self._who} would get {self.output_bytes} output bytes by strobe; the command "
                "gives it one bit only: poll it instead."
            )

    @property
    def _who(self) -> str:
        return f"node {self.address}"


@dataclass(frozen=True, slots=True)
class EntryTraffic:
    """What one entry puts on the bus in one scan or one report: its frames, and their bits."""

    entry: ScanEntry
    frames: tuple[BusFrame, ...]

    @property
    def unstuffed_bits(self) -> int:
        """Bits without any stuff bit, interframe spaces included: no exchange is shorter."""
        return sum(length.unstuffed_bits(len(frame.data)) for frame in self.frames)

    @property
    def worst_case_bits(self) -> int:
        """Bits with the most stuff bits that can be: no exchange is longer."""
        return sum(length.worst_case_bits(len(frame.data)) for frame in self.frames)


@dataclass(frozen=True, slots=True)
class ScanTime:
    """Bounds of the time from the start of one scan to the start of the next, ms."""

    shortest_ms: float
    longest_ms: float


@dataclass(frozen=True, slots=True)
class ScanList:
    """A master's devices, the data rate (kbit/s) and the pause between two scans (ms)."""

    master: int
    rate_kbit_s: int
    entries: tuple[ScanEntry, ...]
    interscan_delay_ms: float = 0.0

    def __post_init__(self) -> None:
        node_address(self.master, "the master's address")
        rate_code(self.rate_kbit_s)
        seconds(self.interscan_delay_ms, "the interscan delay (ms)")
        object.__setattr__(self, "entries", tuple(self.entries))
        if not self.entries:
            raise PlanError("the scan list is empty; put at least one device in it.")
        seen: set[int] = set()
        for entry in self.entries:
            if entry.address == self.master:
                raise PlanError(
                    f"node {entry.address} is the master itself; give the device another address."
                )
            if entry.address in seen:
                raise PlanError(f"node {entry.address} stands in the scan list twice; remove one.")
            seen.add(entry.address)

    @property
    def traffic(self) -> tuple[EntryTraffic, ...]:
        """What each entry puts on the bus; the strobe command counts to the first strobed one."""
        strobed = self._strobed
        first = strobed[0].address if strobed else None
        return tuple(
            EntryTraffic(each, self._frames_of(each, leads=each.address == first))
            for each in self.entries
        )

    @property
    def scan_frames(self) -> tuple[BusFrame, ...]:
        """The frames of one scan, data all zero: strobe and poll, no reports."""
        return tuple(
            frame for each in self.traffic if each.entry.kind not in _TIMED for frame in each.frames
        )

    @property
    def report_load(self) -> float:
        """Share of the bus, 0 to 1 and more, that reports take at worst: Σ C_i / T_i."""
        return float(self._report_load)

    @property
    def scan_time(self) -> ScanTime:
        """The shortest and the longest scan.

        Raises `PlanError` where nothing is polled or strobed, and where reports fill the bus.
        """
        if not self.scan_frames:
            raise PlanError(
                "no device is polled or strobed, so there is no scan to time; look at the load."
            )
        delay = self._delay_bits
        shortest = sum(self._scan_bits(worst=False)) + delay
        return ScanTime(self._ms(shortest), self._ms(self._longest(delay)))

    @property
    def bus_load(self) -> float:
        """Share of the longest scan in which the bus is busy, 0 to 1.

        Without a polled or strobed entry, the share that reports take.
        """
        if not self.scan_frames:
            return self.report_load
        delay = self._delay_bits
        cycle = self._longest(delay)
        return float(1 - delay / cycle)

    def exact_scan_ms(
        self, inputs: Mapping[int, bytes], outputs: Mapping[int, bytes] | None = None
    ) -> float:
        """Time of one scan with this very data, ms: exact stuff bits, no reports, delay included.

        Data is by node address; what is left out is zero. Strobe bits count as off.
        """
        frames = self._strobe_frames(inputs)
        for entry in self.entries:
            if entry.kind is ConnectionKind.POLL:
                sent = _data_of(entry.address, outputs or {}, entry.output_bytes, "output")
                got = _data_of(entry.address, inputs, entry.input_bytes, "input")
                frames += poll_exchange(entry.address, sent, got)
        bits = sum(length.exact_bits(frame.frame) for frame in frames)
        return self._ms(bits + self._delay_bits)

    def timeout_rule(self, address: int, packet_rate_ms: int) -> RuleResult:
        """Whether the longest scan stays within four packet rates of one polled device, ms."""
        entry = self.entry(address)
        limit = timeout_ms(packet_rate_ms)
        if entry.kind in _TIMED or limit is None:
            raise PlanError(
                f"node {address} is on {entry.kind.value} with packet rate {packet_rate_ms} ms: a "
                "scan is timed against a polled or strobed device's packet rate above 0 only."
            )
        return RuleResult(
            rule="scan time within the connection's time-out",
            value=self.scan_time.longest_ms,
            limit=float(limit),
            unit="ms",
            where=f"node {address}",
            source=f"{SOURCE}; time-out after four packet rates: from memory of IEC 62026-3",
        )

    def entry(self, address: int) -> ScanEntry:
        """The entry of a node address."""
        for each in self.entries:
            if each.address == address:
                return each
        raise PlanError(f"node {address} is not in the scan list; add it or correct the address.")

    @property
    def _strobed(self) -> tuple[ScanEntry, ...]:
        return tuple(each for each in self.entries if each.kind is ConnectionKind.BIT_STROBE)

    @property
    def _delay_bits(self) -> Fraction:
        return checked.fraction(self.interscan_delay_ms) * self.rate_kbit_s

    @property
    def _report_load(self) -> Fraction:
        return sum((bits / interval for bits, interval in self._reports()), Fraction(0))

    def _frames_of(self, entry: ScanEntry, *, leads: bool) -> tuple[BusFrame, ...]:
        inputs, outputs = bytes(entry.input_bytes), bytes(entry.output_bytes)
        if entry.kind is ConnectionKind.POLL:
            return poll_exchange(entry.address, outputs, inputs)
        if entry.kind is ConnectionKind.BIT_STROBE:
            frames = strobe_exchange(self.master, {}, {entry.address: inputs})
            return frames if leads else frames[1:]
        return _report(entry, inputs, outputs)

    def _strobe_frames(self, inputs: Mapping[int, bytes]) -> tuple[BusFrame, ...]:
        if not self._strobed:
            return ()
        answers = {
            each.address: _data_of(each.address, inputs, each.input_bytes, "input")
            for each in self._strobed
        }
        return strobe_exchange(self.master, {}, answers)

    def _scan_bits(self, *, worst: bool) -> list[int]:
        return [
            each.worst_case_bits if worst else each.unstuffed_bits
            for each in self.traffic
            if each.entry.kind not in _TIMED
        ]

    def _reports(self) -> list[tuple[int, Fraction]]:
        """Worst-case bits and interval in bit times of each entry that reports by itself."""
        return [
            (each.worst_case_bits, checked.fraction(each.entry.interval_ms) * self.rate_kbit_s)
            for each in self.traffic
            if each.entry.interval_ms is not None
        ]

    def _longest(self, delay: Fraction) -> Fraction:
        reports = self._reports()
        load = self._report_load
        if load >= 1:
            raise PlanError(
                f"the change-of-state and cyclic reports alone take {float(load):.0%} of the bus; "
                "lengthen their intervals or raise the data rate."
            )
        own = sum(self._scan_bits(worst=True)) + delay
        # No solution is smaller than own / (1 - load), so the smallest one is found from below.
        cycle = own / (1 - load)
        while True:
            longer = own + sum(bits * math.ceil(cycle / interval) for bits, interval in reports)
            if longer <= cycle:
                return cycle
            cycle = longer

    def _ms(self, bits: Fraction) -> float:
        return float(bits / self.rate_kbit_s)


def _report(entry: ScanEntry, inputs: bytes, outputs: bytes) -> tuple[BusFrame, ...]:
    """Reports of both directions; a direction without bytes has no connection and no frames."""
    frames: tuple[BusFrame, ...] = ()
    if inputs:
        frames += device_report(entry.address, inputs, acknowledged=entry.acknowledged)
    if outputs:
        frames += master_report(entry.address, outputs, acknowledged=entry.acknowledged)
    return frames


def _data_of(address: int, given: Mapping[int, bytes], size: int, what: str) -> bytes:
    data = given.get(address, bytes(size))
    if len(data) != size:
        raise PlanError(
            f"node {address} has {size} {what} bytes in the scan list, but {len(data)} are given; "
            "make them agree."
        )
    return bytes(data)
