"""Settings that are put right on a CANopen bus."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, ClassVar, cast

from labkit.bench.actions import Action, ReplaceSetDevice, with_setting
from labkit.bench.bench import Bench
from labkit.bench.faults import AtDevice, DeviceDead
from labkit.families.canopen.bench.faults import (
    AddressSet,
    HeartbeatSet,
    MappingSet,
    NotListed,
    OtherProduct,
    RateSet,
)

if TYPE_CHECKING:
    from labkit.families.canopen.bench.setup import Setup


@dataclass(frozen=True)
class SetAddress(Action):
    """Set the node-ID of a device; it counts from the next power-up on."""

    device: str
    address: int
    kind: ClassVar[str] = "set address"

    def _done(self, bench: Bench) -> Bench:
        planned = bench.layout.device(self.device).address
        new = AddressSet(self.device, self.address)
        return with_setting(bench, new, as_planned=self.address == planned)

    @property
    def words(self) -> str:
        """As a log names it."""
        return f"set node-ID {self.address} at {self.device}"


@dataclass(frozen=True)
class SetRate(Action):
    """Set the bit rate of a node, kbit/s."""

    device: str
    rate: int
    kind: ClassVar[str] = "set rate"

    def _done(self, bench: Bench) -> Bench:
        bench.layout.device(self.device)
        new = RateSet(self.device, self.rate)
        return with_setting(bench, new, as_planned=self.rate == bench.setup.plan.data_rate)

    @property
    def words(self) -> str:
        """As a log names it."""
        return f"set {self.rate} kbit/s at {self.device}"


@dataclass(frozen=True)
class SetHeartbeat(Action):
    """Store a producer heartbeat time (0x1017) in a device, ms."""

    device: str
    ms: int
    kind: ClassVar[str] = "set heartbeat"

    def _done(self, bench: Bench) -> Bench:
        bench.layout.device(self.device)
        new = HeartbeatSet(self.device, self.ms)
        planned = _setup(bench).equipment[self.device].heartbeat_ms
        return with_setting(bench, new, as_planned=self.ms == planned)

    @property
    def words(self) -> str:
        """As a log names it."""
        return f"store {self.ms} ms in 0x1017 of {self.device}"


@dataclass(frozen=True)
class MapAsPlanned(Action):
    """Store the planned mapping of both PDOs in a device."""

    device: str
    kind: ClassVar[str] = "map as planned"

    def _done(self, bench: Bench) -> Bench:
        bench.layout.device(self.device)
        return bench.with_faults(
            f for f in bench.faults if not (isinstance(f, MappingSet) and f.device == self.device)
        )

    @property
    def words(self) -> str:
        """As a log names it."""
        return f"store the planned mapping in {self.device}"


@dataclass(frozen=True)
class LoadList(Action):
    """Load the planned list into the manager.

    On a real one this can stop its process data: those who run the machine must know.
    """

    kind: ClassVar[str] = "load list"

    def _done(self, bench: Bench) -> Bench:
        return bench.with_faults(f for f in bench.faults if not isinstance(f, NotListed))

    @property
    def words(self) -> str:
        """As a log names it."""
        return "load the planned list into the manager"


@dataclass(frozen=True)
class ReplaceDevice(ReplaceSetDevice):
    """Put a new device of the planned product in the place of one, and set it as planned."""

    own: ClassVar[tuple[type[AtDevice], ...]] = (
        DeviceDead, AddressSet, RateSet, HeartbeatSet, MappingSet, OtherProduct,
    )  # fmt: skip


def _setup(bench: Bench) -> Setup:
    return cast("Setup", bench.setup)
