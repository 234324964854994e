"""DeviceNet's bench as planned: the network, what its devices are, the scanner with its list."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Any, Final

from labkit.bench.actions import Action, Plug, PowerOff, PowerOn, Unplug
from labkit.bench.at_devices import BenchNames, DeviceWork
from labkit.bench.bench import LONG_RUN_S, RUN_S, Bench
from labkit.bench.can.driving import driven_shares
from labkit.bench.codec import Catalogue
from labkit.bench.faults import AtDevice, DeviceDead, Fault
from labkit.bench.layout import Layout
from labkit.bench.measurements import Measurement
from labkit.bench.setup import Exchanged, Sent, Words
from labkit.families.devicenet.bench.actions import (
    NEW_ADDRESS,
    CommandRun,
    Download,
    ReplaceDevice,
    SetSwitches,
    SwitchOffInIdle,
    SwitchOffOnLoss,
)
from labkit.families.devicenet.bench.at_devices import device_work
from labkit.families.devicenet.bench.bus import Change, simulate
from labkit.families.devicenet.bench.by_message import TellAddress
from labkit.families.devicenet.bench.cabling import CABLING
from labkit.families.devicenet.bench.catalogue import catalogue_of
from labkit.families.devicenet.bench.equipment import (
    BusDevice,
    Equipment,
    Master,
    entry_for,
    entry_from_json,
    entry_to_json,
    equipment_from_json,
    equipment_to_json,
)
from labkit.families.devicenet.bench.exchanging import exchanged
from labkit.families.devicenet.bench.faults import (
    MODE,
    AddressSet,
    Babbling,
    HoldsInIdle,
    HoldsOutputs,
    IoSizes,
    OtherProduct,
    RateSet,
    ScanListAs,
    ScannerIdle,
)
from labkit.families.devicenet.bench.measurements import (
    CommandOutputs,
    FrameLog,
    GoIdle,
    Indicators,
    LoseScanner,
    ScannerReport,
)
from labkit.families.devicenet.bench.shared_play import SharedPlay
from labkit.families.devicenet.bench.told import duplicate_checks, module_indicators
from labkit.families.devicenet.bench.trace import Trace
from labkit.fieldbus.can.frame import Frame
from labkit.fieldbus.can.wire import encode
from labkit.fieldbus.checked import number
from labkit.fieldbus.devicenet.cable import DATA_RATES
from labkit.fieldbus.devicenet.connections import ConnectionKind
from labkit.fieldbus.devicenet.identifiers import Identifier, Purpose
from labkit.fieldbus.devicenet.identity import Identity
from labkit.fieldbus.devicenet.messages import DuplicateCheck
from labkit.fieldbus.devicenet.network import Network
from labkit.fieldbus.devicenet.scanlist import ScanEntry
from labkit.fieldbus.errors import PlanError

_UNTIL_LOST_S: Final = 2.0
"""Longer than any connection waits until it times out: 1 s, four times 250 ms."""


@dataclass(frozen=True)
class Setup:
    """What was planned. Every device needs a node address; `scanner` names one of them.

    With `outputs` they can be commanded and looked at, the scanner has a mode, and devices a way to
    do without it: set-ups of older labs know nothing of that.

    `equipment` not given: one input byte, polled. `scan_list` not given: every device but the
    scanner, as its equipment is. `scan_every_ms` is the time from one scan to the next. Without
    `live_plugs` no connector is pulled or put back while the network is live. With `tap_fuse` above
    0 each drop has a fuse of so many A in its V+, at its tap. With `sections` V+ can be joined, and
    broken, between the sections of several supplies.
    """

    plan: Network
    scanner: str
    equipment: Mapping[str, Equipment] = field(default_factory=dict)
    scan_list: tuple[ScanEntry, ...] | None = None
    scan_every_ms: float = 20.0
    live_plugs: bool = True
    outputs: bool = False
    tap_fuse: float = 0.0
    sections: bool = False

    def __post_init__(self) -> None:
        number(self.tap_fuse, "the rating of the fuse in each drop", "A")
        if self.sections and not self.plan.section_breaks:
            raise PlanError("The plan breaks V+ nowhere, so there are no sections to be joined.")
        layout = self.layout
        layout.device(self.scanner)
        for device in layout.devices.values():
            if device.address is None:
                raise PlanError(f"{device.name} needs a node address to stand on a bench.")
        for name in self.equipment:
            layout.device(name)
        whole = {
            name: self.equipment.get(name) or Equipment(vendor=900, serial=10_000 + number)
            for number, name in enumerate(layout.devices)
        }
        object.__setattr__(self, "equipment", whole)
        if whole[self.scanner].follows_rate:
            raise PlanError(f"{self.scanner} scans, so others follow its rate: it has a switch.")
        if whole[self.scanner].address_by_message:
            raise PlanError(f"{self.scanner} scans, and tells others: its address is set there.")
        if self.scan_list is None:
            object.__setattr__(self, "scan_list", tuple(self._everybody()))
        object.__setattr__(self, "scan_list", tuple(self.scan_list or ()))

    @cached_property
    def layout(self) -> Layout:
        """Connectors and pieces of the plan."""
        return Layout(self.plan, CABLING, fuse_ampere=self.tap_fuse)

    @property
    def entries(self) -> tuple[ScanEntry, ...]:
        """The planned scan list."""
        return self.scan_list or ()

    def _everybody(self) -> list[ScanEntry]:
        entries = []
        for name, device in self.layout.devices.items():
            if name != self.scanner and device.address is not None:
                entries.append(entry_for(device.address, self.equipment[name]))
        return sorted(entries, key=lambda entry: entry.address)

    @property
    def catalogue(self) -> Catalogue:
        """DeviceNet's faults, actions and measurements."""
        return catalogue_of(
            outputs=self.outputs,
            products=bool(self.products),
            fuses=bool(self.layout.fused),
            sections=self.sections,
            messages=self.messages,
        )

    @property
    def messages(self) -> bool:
        """Whether any device takes its node address by message."""
        return any(made.address_by_message for made in self.equipment.values())

    @cached_property
    def products(self) -> Mapping[int, Identity]:
        """By node address, the planned product of each device of which it is said."""
        return {
            device.address: self.equipment[name].identity
            for name, device in self.layout.devices.items()
            if device.address is not None and self.equipment[name].product_code
        }

    @property
    def other_places(self) -> tuple[str, ...]:
        """The scan list, and the scanner's mode."""
        return ("scan list", MODE) if self.outputs else ("scan list",)

    @property
    def report(self) -> ScannerReport:
        """The scanner's report."""
        return ScannerReport()

    def readings(self, *, from_power_up: bool) -> list[tuple[str, Measurement | Words]]:
        """Indicators, the scanner's report and log; the duplicate checks are from power-up."""
        told: list[tuple[str, Measurement | Words]] = [
            ("Network indicators, from power-up on", Indicators()),
            ("Module indicators", module_indicators),
            ("The scanner's report", ScannerReport()),
            (f"Frame log at {self.scanner}", FrameLog(self.scanner)),
        ]
        told += [(f"Line: {each.words}", each) for each in self._looks_at_outputs]
        if from_power_up:
            told.append(("Duplicate checks in the log", duplicate_checks))
        return told

    def with_supply_at(self, position: float) -> Setup:
        """The same with its only supply elsewhere, m."""
        return replace(self, plan=self.plan.with_supply_at(position))

    def to_json(self) -> dict[str, Any]:
        """The set-up as plain JSON, read back by `from_json`."""
        return {
            "plan": self.plan.to_json(),
            "scanner": self.scanner,
            "equipment": {name: equipment_to_json(e) for name, e in self.equipment.items()},
            "scan_list": [entry_to_json(entry) for entry in self.entries],
            "scan_every_ms": self.scan_every_ms,
            # Left out where it is as ever: set-ups that were dealt before stay the same text.
            **({} if self.live_plugs else {"live_plugs": False}),
            **({"outputs": True} if self.outputs else {}),
            **({"tap_fuse": self.tap_fuse} if self.tap_fuse else {}),
            **({"sections": True} if self.sections else {}),
        }

    @staticmethod
    def from_json(data: Mapping[str, Any]) -> Setup:
        """Read a set-up; raises `PlanError`."""
        try:
            return Setup(
                Network.from_json(data["plan"]),
                data["scanner"],
                {name: equipment_from_json(e) for name, e in data["equipment"].items()},
                tuple(entry_from_json(entry) for entry in data["scan_list"]),
                data["scan_every_ms"],
                data.get("live_plugs", True) is not False,
                data.get("outputs", False) is True,
                data.get("tap_fuse", 0.0),
                data.get("sections", False) is True,
            )
        except (KeyError, TypeError, AttributeError) as error:
            raise PlanError(f"This is no set-up of a bench: {error}.") from error

    # The bus in motion.

    def devices_on(self, bench: Bench) -> tuple[BusDevice, ...]:
        """The devices as they stand on the bus."""
        powered = bench.live.powered if bench.live else frozenset()
        addresses = {f.device: f.address for f in bench.faults if isinstance(f, AddressSet)}
        rates = {f.device: f.rate for f in bench.faults if isinstance(f, RateSet)}
        sizes = {f.device: f for f in bench.faults if isinstance(f, IoSizes)}
        similar = {f.device: f.code for f in bench.faults if isinstance(f, OtherProduct)}
        lifeless = {f.device for f in bench.faults if isinstance(f, DeviceDead)}
        holding = {f.device for f in bench.faults if isinstance(f, HoldsOutputs)}
        holding_idle = {f.device for f in bench.faults if isinstance(f, HoldsInIdle)}
        babbling = {f.device for f in bench.faults if isinstance(f, Babbling)}
        found = []
        for name, device in self.layout.devices.items():
            equipment = self.equipment[name]
            if name in sizes:
                new = sizes[name]
                equipment = replace(
                    equipment, input_bytes=new.input_bytes, output_bytes=new.output_bytes
                )
            if name in similar:
                equipment = replace(equipment, product_code=similar[name])
            found.append(
                BusDevice(
                    name,
                    addresses.get(name, device.address or 0),
                    rates.get(name, self.plan.data_rate),
                    equipment,
                    powered=name in powered,
                    dead=name in lifeless,
                    babbling=name in babbling,
                    holds=name in holding,
                    holds_in_idle=name in holding_idle,
                )
            )
        return tuple(found)

    def master_on(self, bench: Bench) -> Master:
        """The scanner with the scan list that it holds."""
        lists = [fault.entries for fault in bench.faults if isinstance(fault, ScanListAs)]
        entries = lists[0] if lists else self.entries
        return Master(
            self.scanner,
            entries,
            self.scan_every_ms,
            ScannerIdle() in bench.faults,
            products=tuple(self.products.items()),
        )

    def run(self, bench: Bench, later: Sequence[tuple[float, Bench]], seconds: float) -> Trace:
        """What happens on the bus from power-up on."""
        return _played(bench, self.master_on(bench), later, seconds)

    def commanding(self, bench: Bench, device: str) -> Trace:
        """The usual run while the program wants on what is planned at a device's address."""
        return self._commanding(bench, {self.layout.device(device).address}, RUN_S, ())

    def losing_scanner(self, bench: Bench) -> Trace:
        """The usual run while the program wants all outputs on; then the scanner has no power."""
        off = [replace(d, powered=d.powered and d.name != self.scanner) for d in bench.devices]
        return self._commanding_all(bench, Change(RUN_S, tuple(off)))

    def going_idle(self, bench: Bench) -> Trace:
        """The usual run while the program wants all outputs on; then the scanner goes to idle."""
        return self._commanding_all(bench, Change(RUN_S, idle=True))

    def _commanding_all(self, bench: Bench, then: Change) -> Trace:
        everybody = {entry.address for entry in self.entries}
        return self._commanding(bench, everybody, RUN_S + _UNTIL_LOST_S, [then])

    def _commanding(
        self,
        bench: Bench,
        addresses: Collection[int | None],
        seconds: float,
        then: Sequence[Change],
    ) -> Trace:
        listed = frozenset(address for address in addresses if address is not None)
        master = replace(self.master_on(bench), commanded=listed)
        return _played(bench, master, bench.later(RUN_S), seconds, then)

    def exchanged(
        self, bench: Bench, given: Mapping[str, bytes], sent: Mapping[str, bytes]
    ) -> Exchanged:
        """Inputs and outputs after the usual run; what is sent goes to planned node addresses."""
        names = {device.address: name for name, device in self.layout.devices.items()}
        return exchanged(bench, self.master_on(bench), names, given, sent)

    def driven_shares(self, trace: Trace, start_s: float) -> dict[tuple[str, bool], float]:
        """Share of the last second, from `start_s` on, in which each drives the bus, 0 to 1."""
        return driven_shares(trace, start_s)

    def first_bits(self, bench: Bench, talker: str) -> Sent:
        """The levels of a device's duplicate address check."""
        device: BusDevice = next(each for each in bench.devices if each.name == talker)
        identifier = Identifier.of(Purpose.DUPLICATE_CHECK, device.address)
        check = DuplicateCheck(device.equipment.vendor, device.equipment.serial)
        return Sent(encode(Frame(identifier.value, check.to_bytes())).levels)

    def shared_play(self) -> SharedPlay:
        """Nothing played yet."""
        return SharedPlay(self.master_on)

    # What shows it, what can be wrong, what mends it.

    def watches(self) -> tuple[Measurement, ...]:
        """Indicators, the scanner's report and its frame log."""
        usual = (Indicators(), Indicators(LONG_RUN_S), ScannerReport(), FrameLog(self.scanner))
        return (*usual, *self._looks_at_outputs)

    @property
    def names(self) -> BenchNames:
        """DeviceNet's."""
        return BenchNames()

    @property
    def device_work(self) -> tuple[DeviceWork, ...]:
        """Its switches, the scanner's list; with outputs also what holds them."""
        rate = self.plan.data_rate
        return device_work(rate, outputs=self.outputs, messages=self.messages)

    @property
    def log_places(self) -> tuple[str, ...]:
        """The scanner."""
        return (self.scanner,)

    @property
    def with_outputs(self) -> tuple[str, ...]:
        """The devices whose outputs can be commanded, in trunk order."""
        if not self.outputs:
            return ()
        return tuple(
            name
            for name, made in self.equipment.items()
            if made.output_bytes and name != self.scanner
        )

    @property
    def _polled_outputs(self) -> tuple[str, ...]:
        """Those that can tell idle from off: a strobe cannot say it."""
        strobed = ConnectionKind.BIT_STROBE
        return tuple(n for n in self.with_outputs if self.equipment[n].kind is not strobed)

    @property
    def _looks_at_outputs(self) -> tuple[Measurement, ...]:
        each = tuple(CommandOutputs(name) for name in self.with_outputs)
        return (*each, GoIdle(), LoseScanner()) if each else ()

    def first_look(self) -> Measurement:
        """The indicators."""
        return Indicators()

    def possible_faults(self) -> Iterator[Fault]:
        """Of every device, and a device that the scan list leaves out."""
        devices = self.layout.devices
        taken = [device.address for device in devices.values()]
        for name, device in devices.items():
            yield DeviceDead(name)
            yield Babbling(name)
            other = next((a for a in taken if a is not None and a != device.address), None)
            if other is not None:
                yield AddressSet(name, other)
            made = self.equipment[name]
            if not made.follows_rate:
                other_rate = next(rate for rate in DATA_RATES if rate != self.plan.data_rate)
                yield RateSet(name, other_rate)
            if made.product_code and name != self.scanner:
                yield OtherProduct(name, made.product_code % 0xFFFF + 1)
        if self.outputs:
            yield ScannerIdle()
            yield from (HoldsOutputs(name) for name in self.with_outputs)
            yield from (HoldsInIdle(name) for name in self._polled_outputs)
        for entry in self.entries:
            yield ScanListAs(tuple(other for other in self.entries if other is not entry))

    def mend(self, fault: Fault) -> list[Action]:
        """What sets right what only DeviceNet knows.

        Switches as planned, on a new device where need be; the planned scan list; the scanner's
        mode; a device's fault action.
        """
        if isinstance(fault, ScannerIdle):
            return [CommandRun()]
        if isinstance(fault, HoldsOutputs):
            return [SwitchOffOnLoss(fault.device)]
        if isinstance(fault, HoldsInIdle):
            return [SwitchOffInIdle(fault.device)]
        if not isinstance(fault, AtDevice):
            return [Download()]
        switches = SetSwitches(
            fault.device, self.layout.device(fault.device).address or 0, self.plan.data_rate
        )
        told = self.equipment[fault.device].address_by_message
        if isinstance(fault, RateSet) or (isinstance(fault, AddressSet) and not told):
            return [switches]
        if isinstance(fault, AddressSet) and fault.address not in self._told_elsewhere:
            return self._tell(fault.device, fault.address)
        new = self._tell(fault.device, NEW_ADDRESS) if told else []
        return [ReplaceDevice(fault.device), switches, *new]

    @property
    def _told_elsewhere(self) -> tuple[int | None, ...]:
        """The scanner's address: what is told there moves the scanner, which must not be pulled."""
        return (self.layout.device(self.scanner).address,)

    def _tell(self, device: str, now: int) -> list[Action]:
        """Tell a device at `now` its planned address, with whoever else is there pulled."""
        devices = self.layout.devices.values()
        others = [d.name for d in devices if d.address == now and d.name != device]
        pulled = [self.layout.device_connectors[name].id for name in others]
        tell = TellAddress(now, self.layout.device(device).address or 0)
        return [*map(Unplug, pulled), PowerOn(), tell, PowerOff(), *map(Plug, pulled)]


def _played(
    bench: Bench,
    master: Master,
    later: Sequence[tuple[float, Bench]],
    seconds: float,
    then: Sequence[Change] = (),
) -> Trace:
    changes = [Change(at, other.devices, other.ears) for at, other in later]
    return simulate(bench.devices, bench.ears, master, seconds, changes=[*changes, *then])
