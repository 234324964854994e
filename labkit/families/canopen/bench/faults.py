"""What can be set or stored wrongly on a CANopen bus."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar, Final

from labkit.bench.faults import AtDevice, Fault
from labkit.bench.layout import Layout
from labkit.families.canopen.bench.trunk import RATES
from labkit.fieldbus.canopen.heartbeat import LONGEST_MS
from labkit.fieldbus.canopen.node_ids import node_id
from labkit.fieldbus.canopen.pdo import PDO_BYTES
from labkit.fieldbus.checked import whole
from labkit.fieldbus.errors import PlanError

LIST: Final = "list of the manager"
"""The place of a node that the manager's list leaves out."""


def list_place(device: str) -> str:
    """The place of a device that the manager's list leaves out."""
    return f"{LIST}, {device}"


@dataclass(frozen=True)
class AddressSet(AtDevice):
    """A node set to another node-ID than planned."""

    address: int
    kind: ClassVar[str] = "address set"
    wired: ClassVar[bool] = False

    def __post_init__(self) -> None:
        node_id(self.address, f"the node-ID of {self.device}")

    @property
    def words(self) -> str:
        """Which node, which node-ID."""
        return f"node-ID {self.address} is set at {self.device}"


@dataclass(frozen=True)
class RateSet(AtDevice):
    """A node set to another bit rate than the bus's, kbit/s."""

    rate: int
    kind: ClassVar[str] = "rate set"
    wired: ClassVar[bool] = False

    def __post_init__(self) -> None:
        if type(self.rate) is not int or self.rate not in RATES:
            known = ", ".join(str(rate) for rate in sorted(RATES))
            raise PlanError(f"{self.device} cannot be set to {self.rate!r} kbit/s; {known}.")

    @property
    def words(self) -> str:
        """Which node, which rate."""
        return f"{self.rate} kbit/s is set at {self.device}"


@dataclass(frozen=True)
class HeartbeatSet(AtDevice):
    """A node whose producer heartbeat time (0x1017) is another than planned, ms; 0 for none."""

    ms: int
    kind: ClassVar[str] = "heartbeat set"
    wired: ClassVar[bool] = False

    def __post_init__(self) -> None:
        whole(self.ms, "the producer time", 0, LONGEST_MS, "16 bits hold it, in ms")

    @property
    def words(self) -> str:
        """Which node, which time."""
        if not self.ms:
            return f"{self.device} sends no heartbeat (0x1017 is 0)"
        return f"{self.device} sends a heartbeat every {self.ms} ms (0x1017)"


@dataclass(frozen=True)
class MappingSet(AtDevice):
    """A node with other bytes mapped into its two PDOs than planned."""

    input_bytes: int
    output_bytes: int
    kind: ClassVar[str] = "mapping set"
    wired: ClassVar[bool] = False

    def __post_init__(self) -> None:
        for value in (self.input_bytes, self.output_bytes):
            whole(value, "the number of mapped bytes", 0, PDO_BYTES, "one PDO carries them")

    @property
    def words(self) -> str:
        """Which node, what is mapped."""
        mapped = "1 byte is" if self.input_bytes == 1 else f"{self.input_bytes} bytes are"
        return (
            f"{mapped} mapped into transmit PDO 1 of {self.device} and "
            f"{self.output_bytes} into its receive PDO 1"
        )


@dataclass(frozen=True)
class OtherProduct(AtDevice):
    """A similar device in the place of the planned one: its product code (0x1018) is another."""

    code: int
    kind: ClassVar[str] = "other product"
    wired: ClassVar[bool] = False

    def __post_init__(self) -> None:
        whole(self.code, "the product code", 1, 0xFFFF_FFFF, "32 bits hold it")

    @property
    def words(self) -> str:
        """Which device, which code."""
        return f"a similar product, of product code {self.code}, is in the place of {self.device}"


@dataclass(frozen=True)
class NotListed(Fault):
    """The manager's list leaves a planned device out."""

    device: str
    kind: ClassVar[str] = "not listed"
    wired: ClassVar[bool] = False

    @property
    def place(self) -> str:
        """The manager's memory."""
        return list_place(self.device)

    @property
    def words(self) -> str:
        """Who is missing."""
        return f"the list of the manager leaves {self.device} out"

    def check(self, layout: Layout) -> None:
        """The device must be there."""
        layout.device(self.device)
