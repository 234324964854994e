"""What can be set wrongly on a Modbus line."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar, Final

from labkit.bench.faults import AtDevice, Fault, above_zero
from labkit.bench.layout import Layout
from labkit.fieldbus.errors import PlanError
from labkit.fieldbus.modbus.addresses import device_address
from labkit.fieldbus.serial.character import CharacterFormat, rate

TIMEOUT: Final = "time-out of the master"
"""The place of a reply time-out that is set wrongly."""


@dataclass(frozen=True)
class AddressSet(AtDevice):
    """A device set to another address than planned."""

    address: int
    kind: ClassVar[str] = "address set"
    wired: ClassVar[bool] = False

    def __post_init__(self) -> None:
        device_address(self.address)

    def check(self, layout: Layout) -> None:
        """The device must be there, and have an address at all."""
        AtDevice.check(self, layout)
        if layout.device(self.device).address is None:
            raise PlanError(f"{self.device} is the master, which has no address.")

    @property
    def words(self) -> str:
        """Which device, which address."""
        return f"address {self.address} is set at {self.device}"


@dataclass(frozen=True)
class RateSet(AtDevice):
    """A device set to another bit rate than the line's, bit/s."""

    rate: int
    kind: ClassVar[str] = "rate set"
    wired: ClassVar[bool] = False

    def __post_init__(self) -> None:
        rate(self.rate)

    @property
    def words(self) -> str:
        """Which device, which rate."""
        return f"{self.rate} bit/s is set at {self.device}"


@dataclass(frozen=True)
class FormSet(AtDevice):
    """A device set to other characters than the line's, such as 8O1."""

    form: str
    kind: ClassVar[str] = "form set"
    wired: ClassVar[bool] = False

    def __post_init__(self) -> None:
        object.__setattr__(self, "form", CharacterFormat.from_text(self.form).text)

    @property
    def words(self) -> str:
        """Which device, which characters."""
        return f"characters {self.form} are set at {self.device}"


@dataclass(frozen=True)
class SecondMaster(AtDevice):
    """A device set to be a master, which polls the others as well."""

    kind: ClassVar[str] = "second master"
    wired: ClassVar[bool] = False

    def check(self, layout: Layout) -> None:
        """The device must be there, and not be the master itself."""
        AtDevice.check(self, layout)
        if layout.device(self.device).address is None:
            raise PlanError(f"{self.device} is the master of this line, not a second one.")

    @property
    def words(self) -> str:
        """Which device."""
        return f"{self.device} is set to be a master and polls as well"


@dataclass(frozen=True)
class TimeoutSet(Fault):
    """A master that waits `ms` for a reply instead of the planned time."""

    ms: float
    kind: ClassVar[str] = "time-out set"
    wired: ClassVar[bool] = False

    def __post_init__(self) -> None:
        above_zero(self.ms, "The time-out", "ms")

    @property
    def place(self) -> str:
        """The master's setting."""
        return TIMEOUT

    @property
    def words(self) -> str:
        """How long it waits."""
        return f"the master waits {self.ms:g} ms for a reply"

    def check(self, layout: Layout) -> None:
        """Can be on every bench."""
