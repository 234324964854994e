"""A CANopen bus on the bench: the bus as planned, what each node is, how all is asked."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Any, ClassVar, Final

from labkit.bench.actions import Action
from labkit.bench.at_devices import BenchNames, DeviceWork
from labkit.bench.bench import LONG_RUN_S, Bench
from labkit.bench.can.driving import driven_shares
from labkit.bench.codec import Catalogue
from labkit.bench.faults import DeviceDead, Fault
from labkit.bench.layout import Layout
from labkit.bench.measurements import Measurement
from labkit.bench.setup import Exchanged, Sent, Words
from labkit.families.canopen.bench.actions import (
    LoadList,
    MapAsPlanned,
    ReplaceDevice,
    SetAddress,
    SetHeartbeat,
    SetRate,
)
from labkit.families.canopen.bench.at_devices import NAMES, device_work
from labkit.families.canopen.bench.bus import Bus
from labkit.families.canopen.bench.cabling import cabling_of
from labkit.families.canopen.bench.catalogue import CATALOGUE
from labkit.families.canopen.bench.equipment import Equipment, Listed, Managing, NodeSet
from labkit.families.canopen.bench.faults import (
    AddressSet,
    HeartbeatSet,
    MappingSet,
    NotListed,
    OtherProduct,
    RateSet,
    list_place,
)
from labkit.families.canopen.bench.measurements import FrameLog, Indicators, ManagerReport
from labkit.families.canopen.bench.shared_play import SharedPlay
from labkit.families.canopen.bench.trace import Trace
from labkit.families.canopen.bench.trunk import RATES, Trunk
from labkit.fieldbus.can.wire import encode
from labkit.fieldbus.canopen.network import Bus as PlannedBus
from labkit.fieldbus.canopen.nmt import boot_up_frame
from labkit.fieldbus.checked import whole
from labkit.fieldbus.errors import PlanError

FAMILY: Final = "canopen"
SYNC_MS: Final = 100
_SLOW_SYNC_MS: Final = 250
_SLOW_KBPS: Final = 125
"""Below this SYNC comes less often, so that the bus is not full (a choice)."""
CONSUMER_MS: Final = 1500
"""Three heartbeats of the usual devices (a choice)."""
_MUCH_TOO_LONG_MS: Final = 5000
_MANAGER: Final = Equipment.usual(0, 0)


@dataclass(frozen=True)
class Setup:
    """What was planned. `scanner` names the manager; every node needs a node-ID of its own.

    `equipment` not given: one byte in, one out, sent at SYNC, a heartbeat every 500 ms. `sync_ms`
    is how often the manager sends SYNC, `consumer_ms` how long anybody waits for the next
    heartbeat. Without `live_plugs` no connector is pulled or put back while the bus is live.
    """

    network: PlannedBus
    scanner: str
    equipment: Mapping[str, Equipment] = field(default_factory=dict)
    sync_ms: int = 0
    consumer_ms: int = CONSUMER_MS
    live_plugs: bool = True
    with_outputs: ClassVar[tuple[str, ...]] = ()

    def __post_init__(self) -> None:
        self.layout.device(self.scanner)
        self._require_node_ids()
        for name in self.equipment:
            self.layout.device(name)
        usual = SYNC_MS if self.network.bit_rate_kbps >= _SLOW_KBPS else _SLOW_SYNC_MS
        object.__setattr__(self, "sync_ms", self.sync_ms or usual)
        whole(self.sync_ms, "the period of SYNC, ms", 10, 10_000)
        whole(self.consumer_ms, "the consumer time, ms", 10, 0xFFFF)
        made = {name: self.equipment.get(name) or Equipment.usual() for name in self.layout.devices}
        made[self.scanner] = self.equipment.get(self.scanner, _MANAGER)
        object.__setattr__(self, "equipment", made)

    def _require_node_ids(self) -> None:
        taken: dict[int, str] = {}
        for name, device in self.layout.devices.items():
            if device.address is None:
                raise PlanError(f"{name} needs a node-ID to stand on a bench.")
            other = taken.setdefault(device.address, name)
            if other != name:
                raise PlanError(
                    f"{other} and {name} both have node-ID {device.address} by plan: what is wrong "
                    "with node-IDs as built is a fault, not a part of the plan."
                )

    @cached_property
    def plan(self) -> Trunk:
        """The bus as the bench takes it."""
        return Trunk(self.network)

    @cached_property
    def layout(self) -> Layout:
        """Connectors and pieces. Shield and CAN_GND are earthed at the manager (a choice)."""
        plan = self.plan
        return Layout(plan, cabling_of(plan), earthed_at=self.scanner)

    @property
    def catalogue(self) -> Catalogue:
        """The family's faults, actions and measurements."""
        return CATALOGUE

    @property
    def other_places(self) -> tuple[str, ...]:
        """The entries of the manager's list."""
        return tuple(list_place(name) for name in self._others)

    @property
    def _others(self) -> list[str]:
        return [name for name in self.layout.devices if name != self.scanner]

    @property
    def report(self) -> Measurement:
        """The manager's report."""
        return ManagerReport()

    def first_look(self) -> Measurement:
        """The lamps."""
        return Indicators()

    def readings(self, *, from_power_up: bool) -> list[tuple[str, Measurement | Words]]:  # noqa: ARG002
        """Lamps, the manager's report and its frame log."""
        return [
            ("Lamps, from power-up on", Indicators()),
            ("The manager's report", ManagerReport()),
            (f"Frame log at {self.scanner}", FrameLog(self.scanner)),
        ]

    def watches(self) -> tuple[Measurement, ...]:
        """The same, and the longer watch."""
        return (
            Indicators(), Indicators(LONG_RUN_S), ManagerReport(), FrameLog(self.scanner),
        )  # fmt: skip

    @property
    def names(self) -> BenchNames:
        """The manager, a node-ID, the two lamps."""
        return NAMES

    @property
    def device_work(self) -> tuple[DeviceWork, ...]:
        """Settings, and a new device."""
        return device_work(self.network.bit_rate_kbps, _MANAGER.heartbeat_ms)

    @property
    def log_places(self) -> tuple[str, ...]:
        """The manager."""
        return (self.scanner,)

    def with_supply_at(self, position: float) -> Setup:
        """Raises `PlanError`: a CANopen bus has no supply."""
        self.plan.with_supply_at(position)
        return self

    def to_json(self) -> dict[str, Any]:
        """The set-up as plain JSON, read back by `from_json`."""
        return {
            "family": FAMILY,
            "plan": self.network.to_json(),
            "scanner": self.scanner,
            "equipment": {name: made.to_json() for name, made in self.equipment.items()},
            "sync_ms": self.sync_ms,
            "consumer_ms": self.consumer_ms,
            "live_plugs": self.live_plugs,
        }

    @staticmethod
    def from_json(data: Mapping[str, Any]) -> Setup:
        """Read a set-up; raises `PlanError`."""
        try:
            return Setup(
                PlannedBus.from_json(data["plan"]),
                data["scanner"],
                {name: Equipment.from_json(made) for name, made in data["equipment"].items()},
                data["sync_ms"],
                data["consumer_ms"],
                data["live_plugs"] is not False,
            )
        except (KeyError, TypeError, AttributeError, ValueError) as error:
            raise PlanError(f"This is no set-up of a CANopen bench: {error}.") from error

    # The bus in motion.

    def devices_on(self, bench: Bench) -> tuple[NodeSet, ...]:
        """The nodes as they are set."""
        faults, live = bench.faults, bench.live
        ids = {f.device: f.address for f in faults if isinstance(f, AddressSet)}
        rates = {f.device: f.rate for f in faults if isinstance(f, RateSet)}
        return tuple(
            NodeSet(
                name,
                ids.get(name, device.address or 0),
                rates.get(name, int(self.network.bit_rate_kbps)),
                self._stored(name, faults),
                works=live is not None and live.works(name),
                place=place,
            )
            for place, (name, device) in enumerate(self.layout.devices.items())
        )

    def _stored(self, name: str, faults: frozenset[Fault]) -> Equipment:
        made = self.equipment[name]
        for fault in faults:
            if isinstance(fault, HeartbeatSet) and fault.device == name:
                made = replace(made, heartbeat_ms=fault.ms)
            elif isinstance(fault, MappingSet) and fault.device == name:
                made = replace(made, input_bytes=fault.input_bytes, output_bytes=fault.output_bytes)
            elif isinstance(fault, OtherProduct) and fault.device == name:
                made = replace(made, product=fault.code)
        return made

    def managing_on(self, bench: Bench) -> Managing:
        """The manager with the list that it holds."""
        left_out = {f.device for f in bench.faults if isinstance(f, NotListed)}
        entries = [
            Listed.of(self.layout.device(name).address or 0, self.equipment[name])
            for name in self._others
            if name not in left_out
        ]
        return Managing(
            self.scanner,
            self.layout.device(self.scanner).address or 0,
            tuple(sorted(entries, key=lambda entry: entry.node)),
            self.sync_ms,
            self.consumer_ms,
        )

    def run(self, bench: Bench, later: Sequence[tuple[float, Bench]], seconds: float) -> Trace:
        """What happens on the bus from power-up on."""
        bus = Bus(bench.devices, bench.ears, self.managing_on(bench))
        for at, then in later:
            bus.run_until(at)
            bus.change(then.devices, then.ears)
        bus.run_until(seconds)
        return bus.trace()

    def exchanged(
        self,
        bench: Bench,  # noqa: ARG002
        given: Mapping[str, bytes],  # noqa: ARG002
        sent: Mapping[str, bytes],  # noqa: ARG002
    ) -> Exchanged:
        """No program runs against this bench."""
        return Exchanged({}, {})

    def driven_shares(self, trace: Trace, start_s: float) -> dict[tuple[str, bool], float]:
        """Share of the last second, from `start_s` on, in which each drives the bus, 0 to 1."""
        return driven_shares(trace, start_s)

    def first_bits(self, bench: Bench, talker: str) -> Sent:
        """The levels of a node's boot-up message."""
        node = next(each for each in bench.devices if each.name == talker)
        return Sent(encode(boot_up_frame(node.node_id)).levels)

    def shared_play(self) -> SharedPlay:
        """Nothing played yet."""
        return SharedPlay(self.managing_on)

    # What can be wrong, and what mends it.

    def possible_faults(self) -> Iterator[Fault]:
        """Of every node, and a device that the manager's list leaves out."""
        devices = self.layout.devices
        taken = [device.address for device in devices.values() if device.address is not None]
        free = next(node for node in range(127, 0, -1) if node not in taken)
        other_rate = next(rate for rate in reversed(RATES) if rate != self.network.bit_rate_kbps)
        for name, device in devices.items():
            made = self.equipment[name]
            yield DeviceDead(name)
            other = next((node for node in taken if node != device.address), None)
            if other is not None:
                yield AddressSet(name, other)
            yield AddressSet(name, free)
            yield RateSet(name, other_rate)
            yield HeartbeatSet(name, 0)
            yield HeartbeatSet(name, max(_MUCH_TOO_LONG_MS, 3 * self.consumer_ms))
            if name == self.scanner:
                continue
            yield OtherProduct(name, made.product % 0xFFFF + 1)
            yield NotListed(name)
            for inputs, outputs in _other_mappings(made):
                yield MappingSet(name, inputs, outputs)

    def mend(self, fault: Fault) -> list[Action]:
        """What sets right what only this family knows."""
        if isinstance(fault, AddressSet):
            return [SetAddress(fault.device, self.layout.device(fault.device).address or 0)]
        if isinstance(fault, RateSet):
            return [SetRate(fault.device, int(self.network.bit_rate_kbps))]
        if isinstance(fault, HeartbeatSet):
            return [SetHeartbeat(fault.device, self.equipment[fault.device].heartbeat_ms)]
        if isinstance(fault, MappingSet):
            return [MapAsPlanned(fault.device)]
        if isinstance(fault, NotListed):
            return [LoadList()]
        if isinstance(fault, DeviceDead | OtherProduct):
            return [ReplaceDevice(fault.device)]
        return []


def _other_mappings(made: Equipment) -> Iterator[tuple[int, int]]:
    """One PDO of another length: what is sent, then what is taken."""
    if made.input_bytes:
        yield made.input_bytes % 8 + 1, made.output_bytes
    if made.output_bytes:
        yield made.input_bytes, made.output_bytes % 8 + 1


class CanopenBench:
    """See `labkit.doors.family.FamilyBench`."""

    from_json = staticmethod(Setup.from_json)
