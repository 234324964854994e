"""Settings that are put right on a Modbus line."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, ClassVar, cast

from labkit.bench.actions import Action, ReplaceSetDevice, with_setting
from labkit.bench.bench import Bench
from labkit.bench.faults import AtDevice, DeviceDead
from labkit.families.modbus.bench.faults import (
    AddressSet,
    FormSet,
    RateSet,
    RequestSet,
    SecondMaster,
    TimeoutSet,
    registers_from,
)
from labkit.families.modbus.bench.stations import Asked

if TYPE_CHECKING:
    from labkit.families.modbus.bench.setup import Setup


@dataclass(frozen=True)
class SetAddress(Action):
    """Set the address of a device."""

    device: str
    address: int
    kind: ClassVar[str] = "set address"

    def _done(self, bench: Bench) -> Bench:
        planned = bench.layout.device(self.device).address
        new = AddressSet(self.device, self.address)
        new.check(bench.layout)
        return with_setting(bench, new, as_planned=self.address == planned)

    @property
    def words(self) -> str:
        """As a log names it."""
        return f"set address {self.address} at {self.device}"


@dataclass(frozen=True)
class SetRate(Action):
    """Set the bit rate of a device or of the master, bit/s."""

    device: str
    rate: int
    kind: ClassVar[str] = "set rate"

    def _done(self, bench: Bench) -> Bench:
        bench.layout.device(self.device)
        planned = _setup(bench).network.bit_rate
        return with_setting(bench, RateSet(self.device, self.rate), as_planned=self.rate == planned)

    @property
    def words(self) -> str:
        """As a log names it."""
        return f"set {self.rate} bit/s at {self.device}"


@dataclass(frozen=True)
class SetForm(Action):
    """Set the characters of a device or of the master, such as 8E1."""

    device: str
    form: str
    kind: ClassVar[str] = "set form"

    def _done(self, bench: Bench) -> Bench:
        bench.layout.device(self.device)
        new = FormSet(self.device, self.form)
        return with_setting(bench, new, as_planned=new.form == _setup(bench).network.form.text)

    @property
    def words(self) -> str:
        """As a log names it."""
        return f"set characters {self.form} at {self.device}"


@dataclass(frozen=True)
class AnswerOnly(Action):
    """Set a device to answer only: where it was no master, nothing changes."""

    device: str
    kind: ClassVar[str] = "answer only"

    def _done(self, bench: Bench) -> Bench:
        bench.layout.device(self.device)
        return bench.with_faults(bench.faults - {SecondMaster(self.device)})

    @property
    def words(self) -> str:
        """As a log names it."""
        return f"set {self.device} to answer only"


@dataclass(frozen=True)
class SetTimeout(Action):
    """Set how long the master waits for a reply, ms."""

    ms: float
    kind: ClassVar[str] = "set time-out"

    def _done(self, bench: Bench) -> Bench:
        new = TimeoutSet(self.ms)
        return with_setting(bench, new, as_planned=self.ms == _setup(bench).timeout_ms)

    @property
    def words(self) -> str:
        """As a log names it."""
        return f"let the master wait {self.ms:g} ms for a reply"


@dataclass(frozen=True)
class SetRequest(Action):
    """Set which registers the master reads of a device: the function, and the first in frames."""

    device: str
    function: int
    start: int
    kind: ClassVar[str] = "set request"

    def _done(self, bench: Bench) -> Bench:
        new = RequestSet(self.device, self.function, self.start)
        new.check(bench.layout)
        planned = Asked(0, 1)
        as_planned = (self.function, self.start) == (planned.function, planned.start)
        return with_setting(bench, new, as_planned=as_planned)

    @property
    def words(self) -> str:
        """As a log names it."""
        return f"let the master ask {self.device} for {registers_from(self.function, self.start)}"


@dataclass(frozen=True)
class ReplaceDevice(ReplaceSetDevice):
    """Put a new device in the place of one, and set it as planned."""

    own: ClassVar[tuple[type[AtDevice], ...]] = (
        DeviceDead, AddressSet, RateSet, FormSet, SecondMaster,
    )  # fmt: skip


def _setup(bench: Bench) -> Setup:
    return cast("Setup", bench.setup)
