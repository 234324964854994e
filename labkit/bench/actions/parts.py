"""Work on devices, supplies, and the scanner."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import ClassVar, Final

from labkit.bench.actions.base import Action, NotDoneError
from labkit.bench.bench import Bench
from labkit.bench.faults import (
    AddressSet,
    AtPiece,
    AtSupply,
    Babbling,
    DeviceDead,
    Draws,
    Fault,
    IoSizes,
    RateSet,
    ScanListAs,
    SupplyReversed,
)
from labkit.fieldbus.devicenet.cable import data_rate
from labkit.fieldbus.devicenet.scanlist import ScanEntry

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
        return bench.with_faults(_set(bench, self.device, self.address, self.rate))

    @property
    def words(self) -> str:
        """As a log names it."""
        return f"set {self.device} to node address {self.address}, {self.rate} kbit/s"


@dataclass(frozen=True)
class ReplaceDevice(Action):
    """Put a new device in the place of one. It comes set to node address 63 and 125 kbit/s."""

    device: str
    kind: ClassVar[str] = "replace device"
    needs_dead: ClassVar[bool] = True

    def _done(self, bench: Bench) -> Bench:
        gone = (DeviceDead, Babbling, Draws, IoSizes)
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
class ReplaceSupply(Action):
    """Put a new supply in the place of one, wired the right way round."""

    supply: str
    kind: ClassVar[str] = "replace supply"
    needs_dead: ClassVar[bool] = True

    def _done(self, bench: Bench) -> Bench:
        bench.layout.supply(self.supply)
        return bench.with_faults(
            f for f in bench.faults if not (isinstance(f, AtSupply) and f.supply == self.supply)
        )

    @property
    def words(self) -> str:
        """As a log names it."""
        return f"replace {self.supply}"


@dataclass(frozen=True)
class TurnSupply(Action):
    """Exchange V+ and V- at a supply."""

    supply: str
    kind: ClassVar[str] = "turn supply"
    needs_dead: ClassVar[bool] = True

    def _done(self, bench: Bench) -> Bench:
        bench.layout.supply(self.supply)
        return bench.with_faults(bench.faults ^ {SupplyReversed(self.supply)})

    @property
    def words(self) -> str:
        """As a log names it."""
        return f"exchange V+ and V− at {self.supply}"


@dataclass(frozen=True)
class MoveSupply(Action):
    """Move the only supply to another position along the trunk, m.

    Trunk cable that this cuts or joins is laid anew, as planned, and so loses what was wrong
    with it: at the supply's old neighbours and at its new ones.
    """

    position: float
    kind: ClassVar[str] = "move supply"
    needs_dead: ClassVar[bool] = True

    def _done(self, bench: Bench) -> Bench:
        if len(bench.layout.supplies) != 1:
            raise NotDoneError("Not done: only a network with one supply has its supply moved.")
        before = bench.layout.pieces
        setup = replace(bench.setup, plan=bench.setup.plan.with_supply_at(self.position))
        after = setup.layout.pieces
        kept = frozenset(
            fault
            for fault in bench.faults
            if not isinstance(fault, AtPiece) or after.get(fault.piece) == before[fault.piece]
        )
        return replace(bench, setup=setup, faults=kept)

    @property
    def words(self) -> str:
        """As a log names it."""
        return f"move the supply to {self.position:g} m"


@dataclass(frozen=True)
class Download(Action):
    """Load a scan list into the scanner; None: the planned one.

    On a real scanner this stops its I/O and overwrites what is there: those who run the machine
    must know.
    """

    entries: tuple[ScanEntry, ...] | None = None
    kind: ClassVar[str] = "download"

    def _done(self, bench: Bench) -> Bench:
        rest = {fault for fault in bench.faults if not isinstance(fault, ScanListAs)}
        listed = [entry.address for entry in self.entries or ()]
        twice = next((address for address in listed if listed.count(address) > 1), None)
        if twice is not None:
            raise NotDoneError(f"Not loaded: node {twice} stands in the list twice; remove one.")
        if self.entries is not None and tuple(self.entries) != bench.setup.entries:
            rest.add(ScanListAs(tuple(self.entries)))
        return bench.with_faults(rest)

    @property
    def words(self) -> str:
        """As a log names it."""
        return "load the scan list"


def _set(bench: Bench, device: str, address: int, rate: int) -> set[Fault]:
    planned = bench.layout.device(device)
    rest = {
        fault
        for fault in bench.faults
        if not (isinstance(fault, AddressSet | RateSet) and fault.device == device)
    }
    if address != planned.address:
        rest.add(AddressSet(device, address))
    if data_rate(rate) != bench.setup.plan.data_rate:
        rest.add(RateSet(device, rate))
    return rest
