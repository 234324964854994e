"""DeviceNet's bus on the bench: a network from power-up, frame by frame, by the rules.

`simulate` plays a whole run and gives its `Trace`; `Bus` is the same thing in steps, for a
program that is to run against the inputs and outputs. Nothing is scripted: each station is a
`labkit.fieldbus.devicenet.node.Node`, the wire follows `labkit.fieldbus.can`, and what a fault
looks like comes out of that. No chance is in it: the same bench gives the same trace.

What is simpler than the real thing, besides the lists in `labkit.bench.can.judging` and
`labkit.bench.can.playing`: a station answers at once; address, data rate and configuration are read
when power comes.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from labkit.bench.can.playing import WAKE, Playing, require_own_names
from labkit.bench.can.wire import Station as OnWire
from labkit.bench.ears import Ears
from labkit.families.devicenet.bench.equipment import BusDevice, Master
from labkit.families.devicenet.bench.rounds import Rounds
from labkit.families.devicenet.bench.scanner import Scanner
from labkit.families.devicenet.bench.station import Station
from labkit.families.devicenet.bench.trace import Trace
from labkit.fieldbus.can.frame import Frame
from labkit.fieldbus.checked import byte_string, seconds
from labkit.fieldbus.devicenet.identifiers import Identifier, Purpose
from labkit.fieldbus.devicenet.node import NodeState
from labkit.fieldbus.devicenet.switches import rate_code
from labkit.fieldbus.errors import PlanError

START_SPREAD_S = 0.05
"""Self-tests differ by up to this much, s; how much is settled by the serial number."""

_OUTSIDE = {Purpose.DYNAMIC, Purpose.RESERVED}


@dataclass(frozen=True, slots=True)
class Change:
    """From `time_s` (s) on the bench stands like this; None leaves that part as it was.

    `idle` is the scanner's mode.
    """

    time_s: float
    devices: tuple[BusDevice, ...] | None = None
    ears: Ears | None = None
    idle: bool | None = None

    def __post_init__(self) -> None:
        seconds(self.time_s, "the time of a change")


def simulate(
    devices: Sequence[BusDevice],
    ears: Ears,
    master: Master | None,
    duration_s: float,
    *,
    changes: Iterable[Change] = (),
    inputs: Mapping[str, bytes] | None = None,
    outputs: Mapping[str, bytes] | None = None,
    start_spread_s: float = START_SPREAD_S,
) -> Trace:
    """Play `duration_s` seconds from the moment when power comes to all that are powered.

    `inputs` are the bytes that devices get from the plant, `outputs` those that the scanner sends
    to devices, both by device name; what is left out is zero. Raises `PlanError` for a bench that
    cannot exist.
    """
    bus = Bus(devices, ears, master, inputs=inputs, start_spread_s=start_spread_s)
    for name, data in (outputs or {}).items():
        bus.set_outputs(name, data)
    end = seconds(duration_s, "the length of the run", above_zero=True)
    for change in sorted(changes, key=lambda each: each.time_s):
        if change.time_s >= end:
            break
        bus.run_until(change.time_s)
        bus.change(change.devices, change.ears)
        if change.idle is not None:
            bus.scanner.idle = change.idle
    bus.run_until(end)
    return bus.trace()


class Bus(Playing[Station]):
    """The bench's bus, played in steps.

    >>> bus = Bus(devices, ears, master)            # doctest: +SKIP
    >>> bus.run_until(4.0)                          # doctest: +SKIP
    >>> bus.inputs("valve 3"), bus.set_outputs("valve 3", b"\\x01")   # doctest: +SKIP
    """

    def __init__(
        self,
        devices: Sequence[BusDevice],
        ears: Ears,
        master: Master | None,
        *,
        inputs: Mapping[str, bytes] | None = None,
        start_spread_s: float = START_SPREAD_S,
    ) -> None:
        super().__init__()
        _check_master(devices, master)
        self._rounds: Rounds | None = None
        self._spread_s = seconds(start_spread_s, "the spread of the start")
        self._master = master
        self._scanner: Scanner | None = None
        self._plant = {
            name: byte_string(data, f"the inputs of {name}", 4096)
            for name, data in (inputs or {}).items()
        }
        for name in self._plant:
            if not any(each.name == name for each in devices):
                raise PlanError(f"inputs are given for {name!r}, which is no device; correct it.")
        self._settle(tuple(devices), ears)

    # Reading and moving the bench.

    @property
    def scanner(self) -> Scanner:
        """The scanner, which knows devices by their node addresses alone."""
        if self._scanner is None:
            raise PlanError("there is no scanner on this bench, so nobody exchanges I/O.")
        return self._scanner

    def change(self, devices: Sequence[BusDevice] | None = None, ears: Ears | None = None) -> None:
        """Let the bench stand differently from now on.

        Devices keep their state by name; a name that is left out is gone. A changed address, rate
        or equipment counts from the next time power comes to that device.
        """
        before = self._layouts[-1]
        after = tuple(devices) if devices is not None else self._devices
        _check_master(after, self._master)
        hearing = ears if ears is not None else before.ears
        if (after, hearing) != (self._devices, before.ears):
            self._settle(after, hearing)

    @property
    def faulted(self) -> frozenset[str]:
        """The devices that stay off the network until their power goes."""
        return frozenset(
            name for name, each in self._stations.items() if each.node.state is NodeState.FAULTED
        )

    def inputs(self, name: str) -> bytes:
        """What the scanner last got from a device of its scan list."""
        scanner, address = self._listed(name)
        return scanner.inputs(address)

    def set_outputs(self, name: str, outputs: bytes) -> None:
        """What the scanner is to send to a device of its scan list."""
        scanner, address = self._listed(name)
        scanner.set_outputs(address, byte_string(outputs, f"the outputs of {name}", 4096))

    def outputs(self, name: str) -> bytes:
        """What a device last got from the scanner."""
        return self._station(name).outputs

    def set_inputs(self, name: str, inputs: bytes) -> None:
        """What a device gets from the plant."""
        station = self._station(name)
        size = station.device.equipment.input_bytes
        station.set_inputs(self._now, byte_string(inputs, f"the inputs of {name}", size, size))

    def address(self, name: str) -> int:
        """The node address that a device has now."""
        return self._station(name).node.address

    def put(self, name: str, frame: Frame) -> None:
        """Let a device's controller send a frame of 11-bit identifier, as a tester with a laptop
        would; nothing is sent by a device that is off."""
        if frame.extended or frame.remote:
            raise PlanError("DeviceNet has neither 29-bit identifiers nor remote frames.")
        self._station(name).enqueue(self._now, frame.identifier, frame.data)

    def trace(self) -> Trace:
        """All that has happened so far."""
        stations = self._stations
        return Trace(
            self.time_s,
            self.frames,
            {name: each.counters for name, each in stations.items()},
            tuple(self._layouts),
            {name: tuple(each.network) for name, each in stations.items()},
            {name: tuple(each.module) for name, each in stations.items()},
            {name: tuple(each.said) for name, each in stations.items()},
            {name: tuple(each.driven) for name, each in stations.items()},
            self._scanner.reports if self._scanner else {},
        )

    # How the bench stands.

    def _settle(self, devices: tuple[BusDevice, ...], ears: Ears) -> None:
        _check_devices(devices)
        self._devices = devices
        now = self._now
        caught = self._cut()
        self._stands(devices, ears)
        for device in devices:
            if device.name not in self._stations:
                self._add(device)
        self._switch(devices)
        for each in self._listen(ears, caught):
            each.babble(now)
        self._schedule()
        self._plan_scan(now)

    def _add(self, device: BusDevice) -> None:
        serial = device.equipment.serial
        # A multiplicative hash (Knuth) scatters neighbouring serial numbers.
        share = (serial * 2654435761 % 2**32) / 2**32
        station = Station(
            len(self._by_index),
            device,
            round(share * self._spread_s * 1e6),
            self._plant.get(device.name, bytes(device.equipment.input_bytes)),
            self._wants_bus,
            self._plan_wake,
            self._changed,
        )
        self._join(device.name, station)
        if self._master is not None and device.name == self._master.name:
            self._scanner = Scanner(station, self._master)
            station.scanner = self._scanner

    def _switch(self, devices: tuple[BusDevice, ...]) -> None:
        present = {each.name: each for each in devices}
        for name, station in self._stations.items():
            device = present.get(name)
            if device is not None:
                station.device = device
            on = device is not None and device.powered and not device.dead
            station.power(self._now, on)
            station.look(self._now)

    # Rounds that come again.

    def _begins_to_run(self) -> None:
        scanner = self._scanner
        segment = self._segment_of.get(scanner.station.index) if scanner is not None else None
        if scanner is None or segment is None:
            self._rounds = None
            return
        stations = [each for each in self._by_index if self._segment_of.get(each.index) is segment]
        self._rounds = Rounds(scanner, segment, stations, self._log)

    def _happens(self, now: int, thing: object) -> None:
        if isinstance(thing, Station):
            if thing.wake_us == now:
                thing.wake(now)
                if thing.scanner is not None:
                    self._plan_scan(now)
        elif isinstance(thing, Scanner) and thing.next_scan_us == now:
            rounds = self._rounds
            by_us = rounds.leap(now, self._until) if rounds is not None else 0
            if by_us:
                thing.next_scan_us = now + by_us
            else:
                thing.scan(now)
            self._plan_scan(now)

    # What stations and segments ask for.

    def _plan_scan(self, now: int) -> None:
        scanner = self._scanner
        if scanner is not None and scanner.next_scan_us is not None:
            self._plan(max(now, scanner.next_scan_us), WAKE, scanner, 0)

    def _quiet_until(self, station: OnWire) -> int:
        """Until when nothing happens to a station that no other one brings about, µs."""
        scanner = self._scanner
        here = scanner is not None and scanner.station is station
        scans = scanner.next_scan_us if scanner is not None and here else None
        return min(self._until, station.wake_us, self._until if scans is None else scans)

    def _whom_it_concerns(self, identifier: int) -> frozenset[int]:
        try:
            meaning = Identifier.from_value(identifier)
        except PlanError:
            return frozenset()
        if meaning.purpose in _OUTSIDE:
            return frozenset()
        if meaning.purpose is Purpose.BIT_STROBE_COMMAND:
            return frozenset(range(len(self._by_index)))
        found = {each.index for each in self._by_index if each.node.address == meaning.address}
        scanner = self._scanner
        if scanner is not None and meaning.address is not None and scanner.listed(meaning.address):
            found.add(scanner.station.index)
        return frozenset(found)

    # What the caller names.

    def _listed(self, name: str) -> tuple[Scanner, int]:
        station = self._station(name)
        scanner, address = self.scanner, station.device.address
        if not scanner.listed(address):
            raise PlanError(
                f"{name} has address {address}, which is not in the scan list; add it there."
            )
        return scanner, address


def _check_devices(devices: tuple[BusDevice, ...]) -> None:
    require_own_names(devices)
    for each in devices:
        rate_code(each.rate)


def _check_master(devices: Sequence[BusDevice], master: Master | None) -> None:
    if master is None:
        return
    if not any(each.name == master.name for each in devices):
        raise PlanError(f"the scanner {master.name!r} is no device of this bench; add it.")
    seconds(master.scan_every_ms, "the time from scan to scan (ms)", above_zero=True)
    seen: set[int] = set()
    for entry in master.scan_list:
        if entry.address in seen:
            raise PlanError(f"node {entry.address} stands in the scan list twice; remove one.")
        seen.add(entry.address)
        if entry.interval_ms is not None and not entry.acknowledged:
            raise PlanError(
                f"node {entry.address} reports without acknowledges, which the bench does not "
                "play; let its reports be acknowledged."
            )
