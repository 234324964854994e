"""DeviceNet's own faults: switches, I/O sizes, a program that babbles, the scan list."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import ClassVar, Final

from labkit.bench.faults import AtDevice, Fault
from labkit.bench.layout import Layout
from labkit.families.devicenet.bench.equipment import SCAN_LIST
from labkit.fieldbus.devicenet.cable import data_rate
from labkit.fieldbus.devicenet.scanlist import ScanEntry
from labkit.fieldbus.errors import PlanError

MODE: Final = "scanner mode"
"""The place of a scanner that is not commanded to run."""


@dataclass(frozen=True)
class AddressSet(AtDevice):
    """A device set to another node address than planned."""

    address: int
    kind: ClassVar[str] = "address set"
    wired: ClassVar[bool] = False

    def __post_init__(self) -> None:
        if type(self.address) is not int or not 0 <= self.address <= 63:
            raise PlanError(
                f"{self.device} cannot be set to node address {self.address!r}; 0 to 63."
            )

    @property
    def words(self) -> str:
        """Which device, which address."""
        return f"node address {self.address} is set at {self.device}"


@dataclass(frozen=True)
class RateSet(AtDevice):
    """A device set to another data rate than the network's, kbit/s."""

    rate: int
    kind: ClassVar[str] = "rate set"
    wired: ClassVar[bool] = False

    def __post_init__(self) -> None:
        data_rate(self.rate)

    @property
    def words(self) -> str:
        """Which device, which rate."""
        return f"{self.rate} kbit/s is set at {self.device}"


@dataclass(frozen=True)
class Babbling(AtDevice):
    """A device that sends one frame after another without being asked."""

    kind: ClassVar[str] = "babbling"
    wired: ClassVar[bool] = False

    @property
    def words(self) -> str:
        """Which device."""
        return f"frames without end from {self.device}"


@dataclass(frozen=True)
class IoSizes(AtDevice):
    """A device of another I/O size than planned, bytes."""

    input_bytes: int
    output_bytes: int
    kind: ClassVar[str] = "I/O sizes"
    wired: ClassVar[bool] = False

    @property
    def words(self) -> str:
        """Which device, which sizes."""
        return f"{self.input_bytes} input and {self.output_bytes} output bytes in {self.device}"


@dataclass(frozen=True)
class OtherProduct(AtDevice):
    """A similar device in the place of the planned one: its product code is another."""

    code: int
    kind: ClassVar[str] = "other product"
    wired: ClassVar[bool] = False

    def __post_init__(self) -> None:
        if type(self.code) is not int or not 1 <= self.code <= 0xFFFF:
            raise PlanError(f"{self.device} cannot have product code {self.code!r}; 1 to 65535.")

    @property
    def words(self) -> str:
        """Which device, which code."""
        return f"a similar product, of product code {self.code}, is in the place of {self.device}"


@dataclass(frozen=True)
class HoldsOutputs(AtDevice):
    """A device set to hold its outputs when their connection is lost, where they are to go off."""

    kind: ClassVar[str] = "holds outputs"
    wired: ClassVar[bool] = False

    @property
    def words(self) -> str:
        """Which device."""
        return f"{self.device} is set to hold its outputs when the connection is lost"


@dataclass(frozen=True)
class HoldsInIdle(AtDevice):
    """A device set to hold its outputs while the scanner is idle, where they are to go off."""

    kind: ClassVar[str] = "holds in idle"
    wired: ClassVar[bool] = False

    @property
    def words(self) -> str:
        """Which device."""
        return f"{self.device} is set to hold its outputs while the scanner is idle"


@dataclass(frozen=True)
class ScannerIdle(Fault):
    """Nobody commanded the scanner to run."""

    kind: ClassVar[str] = "idle"
    wired: ClassVar[bool] = False

    @property
    def place(self) -> str:
        """The scanner's mode."""
        return MODE

    @property
    def words(self) -> str:
        """In which mode it is."""
        return "the scanner is idle: nothing commanded it to run"

    def check(self, layout: Layout) -> None:
        """Can be on every bench with a scanner."""


@dataclass(frozen=True)
class ScanListAs(Fault):
    """The scanner holds another scan list than planned."""

    entries: tuple[ScanEntry, ...] = field(metadata=SCAN_LIST)
    kind: ClassVar[str] = "scan list"
    wired: ClassVar[bool] = False

    def __post_init__(self) -> None:
        object.__setattr__(self, "entries", tuple(self.entries))

    @property
    def place(self) -> str:
        """The scanner's memory."""
        return "scan list"

    @property
    def words(self) -> str:
        """What the list says."""
        listed = ", ".join(str(entry.address) for entry in self.entries) or "nobody"
        return f"the scan list in the scanner is another one (nodes {listed})"

    def check(self, layout: Layout) -> None:
        """Can be on every bench with a scanner."""
