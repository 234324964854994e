"""Work on DeviceNet's devices, and on its scanner."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, ClassVar, Final, cast

from labkit.bench.actions import Action, NotDoneError
from labkit.bench.bench import Bench
from labkit.bench.faults import DeviceDead, Draws, Fault
from labkit.families.devicenet.bench.equipment import SCAN_LIST
from labkit.families.devicenet.bench.faults import (
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
from labkit.fieldbus.devicenet.cable import data_rate
from labkit.fieldbus.devicenet.scanlist import ScanEntry

if TYPE_CHECKING:
    from labkit.families.devicenet.bench.setup import Setup

NEW_ADDRESS: Final = 63
NEW_RATE: Final = 125
"""A new device usually comes set to node address 63 and 125 kbit/s (common practice, no source)."""


@dataclass(frozen=True)
class SetSwitches(Action):
    """Set a device's node address and data rate in kbit/s."""

    device: str
    address: int
    rate: int
    kind: ClassVar[str] = "set switches"

    def _done(self, bench: Bench) -> Bench:
        planned = bench.layout.device(self.device).address
        made = cast("Setup", bench.setup).equipment[self.device]
        if not made.address_by_message:
            return bench.with_faults(_set(bench, self.device, self.address, self.rate))
        if self.address != planned:
            raise NotDoneError(
                f"Not done: {self.device} has no switches for its node address. It is told by "
                "message; leave the planned address in the field to set the rate alone."
            )
        told = {f for f in bench.faults if isinstance(f, AddressSet) and f.device == self.device}
        return bench.with_faults(told | _set(bench, self.device, self.address, self.rate))

    @property
    def words(self) -> str:
        """As a log names it."""
        return f"set {self.device} to node address {self.address}, {self.rate} kbit/s"


@dataclass(frozen=True)
class ReplaceDevice(Action):
    """Put a new device of the planned product in the place of one.

    It comes set to node address 63 and 125 kbit/s.
    """

    device: str
    kind: ClassVar[str] = "replace device"
    needs_dead: ClassVar[bool] = True

    def _done(self, bench: Bench) -> Bench:
        gone = (DeviceDead, Babbling, Draws, IoSizes, OtherProduct, HoldsOutputs, HoldsInIdle)
        rest = {
            fault
            for fault in _set(bench, self.device, NEW_ADDRESS, NEW_RATE)
            if not (isinstance(fault, gone) and fault.device == self.device)
        }
        return bench.with_faults(rest)

    @property
    def words(self) -> str:
        """As a log names it."""
        return f"replace {self.device}"


@dataclass(frozen=True)
class Download(Action):
    """Load a scan list into the scanner; None: the planned one.

    On a real scanner this stops its I/O and overwrites what is there: those who run the machine
    must know.
    """

    entries: tuple[ScanEntry, ...] | None = field(default=None, metadata=SCAN_LIST)
    kind: ClassVar[str] = "download"

    def _done(self, bench: Bench) -> Bench:
        rest = {fault for fault in bench.faults if not isinstance(fault, ScanListAs)}
        listed = [entry.address for entry in self.entries or ()]
        twice = next((address for address in listed if listed.count(address) > 1), None)
        if twice is not None:
            raise NotDoneError(f"Not loaded: node {twice} stands in the list twice; remove one.")
        planned = cast("Setup", bench.setup).entries
        if self.entries is not None and tuple(self.entries) != planned:
            rest.add(ScanListAs(tuple(self.entries)))
        return bench.with_faults(rest)

    @property
    def words(self) -> str:
        """As a log names it."""
        return "load the scan list"


@dataclass(frozen=True)
class CommandRun(Action):
    """Command the scanner to run, as the controller's program does.

    On a real machine outputs follow the program from that moment on: nobody may be in reach of
    what moves.
    """

    kind: ClassVar[str] = "command run"

    def _done(self, bench: Bench) -> Bench:
        return bench.with_faults(bench.faults - {ScannerIdle()})

    @property
    def words(self) -> str:
        """As a log names it."""
        return "command the scanner to run"


@dataclass(frozen=True)
class SwitchOffOnLoss(Action):
    """Set a device's outputs to switch off when their connection is lost."""

    device: str
    kind: ClassVar[str] = "switch off on loss"

    def _done(self, bench: Bench) -> Bench:
        bench.layout.device(self.device)
        return bench.with_faults(bench.faults - {HoldsOutputs(self.device)})

    @property
    def words(self) -> str:
        """As a log names it."""
        return f"set the outputs of {self.device} to switch off when the connection is lost"


@dataclass(frozen=True)
class SwitchOffInIdle(Action):
    """Set a device's outputs to switch off while the scanner is idle."""

    device: str
    kind: ClassVar[str] = "switch off in idle"

    def _done(self, bench: Bench) -> Bench:
        bench.layout.device(self.device)
        return bench.with_faults(bench.faults - {HoldsInIdle(self.device)})

    @property
    def words(self) -> str:
        """As a log names it."""
        return f"set the outputs of {self.device} to switch off while the scanner is idle"


def _set(bench: Bench, device: str, address: int, rate: int) -> set[Fault]:
    planned = bench.layout.device(device)
    rest = {
        fault
        for fault in bench.faults
        if not (isinstance(fault, AddressSet | RateSet) and fault.device == device)
    }
    if address != planned.address:
        rest.add(AddressSet(device, address))
    follows = cast("Setup", bench.setup).equipment[device].follows_rate
    if data_rate(rate) != bench.setup.plan.data_rate and not follows:
        rest.add(RateSet(device, rate))
    return rest
