"""A device's electronic data sheet in a plain open form of our own: sections of `key = value`.

Real ones of this trade hold much more and use other words; what a scan list needs of them is the
same: who the device is, and how many bits each kind of connection carries.
"""

from collections.abc import Mapping
from dataclasses import dataclass

from labkit.fieldbus.checked import whole
from labkit.fieldbus.devicenet.connections import ConnectionKind
from labkit.fieldbus.devicenet.identity import Identity
from labkit.fieldbus.devicenet.scanlist import ScanEntry
from labkit.fieldbus.errors import PlanError

_MOST_BITS = 255 * 8
"""A poll carries up to 255 bytes each way (reference page, public device manuals)."""
_TIMED = (ConnectionKind.CHANGE_OF_STATE, ConnectionKind.CYCLIC)


@dataclass(frozen=True, slots=True)
class Sizes:
    """Bits that a connection brings in from the device, and takes out to it."""

    input_bits: int
    output_bits: int = 0

    def __post_init__(self) -> None:
        whole(self.input_bits, "the input bits", 0, _MOST_BITS)
        whole(self.output_bits, "the output bits", 0, _MOST_BITS)

    @property
    def bytes_in_and_out(self) -> tuple[int, int]:
        """Whole bytes, as a scan list counts them."""
        return -(-self.input_bits // 8), -(-self.output_bits // 8)


@dataclass(frozen=True, slots=True)
class DeviceSheet:
    """What a sheet says of a product: its name, who it is, and what each connection carries."""

    name: str
    identity: Identity
    connections: Mapping[ConnectionKind, Sizes]

    def __post_init__(self) -> None:
        if not self.connections:
            raise PlanError(f"the data sheet of {self.name} names no connection; give it one.")

    def sizes(self, kind: ConnectionKind) -> Sizes:
        """What one kind of connection carries; `PlanError` where the device cannot do it."""
        found = self.connections.get(kind)
        if found is None:
            known = ", ".join(each.value for each in self.connections)
            raise PlanError(f"{self.name} cannot do {kind.value}; it can do {known}.")
        return found

    def entry(
        self, address: int, kind: ConnectionKind, interval_ms: float | None = None
    ) -> ScanEntry:
        """The scan list entry by this sheet; timed kinds need their interval in ms."""
        produced, consumed = self.sizes(kind).bytes_in_and_out
        timed = interval_ms if kind in _TIMED else None
        return ScanEntry(address, kind, produced, consumed, timed)

    def to_text(self) -> str:
        """The sheet as text: a section of the device, then one for each connection."""
        major, minor = self.identity.revision
        lines = [
            "[device]",
            f"name = {self.name}",
            f"maker = {self.identity.vendor}",
            f"type = {self.identity.device_type}",
            f"code = {self.identity.product_code}",
            f"revision = {major}.{minor}",
        ]
        for kind, sizes in self.connections.items():
            lines += [f"[{kind.value}]", f"input bits = {sizes.input_bits}"]
            if sizes.output_bits:
                lines.append(f"output bits = {sizes.output_bits}")
        return "\n".join(lines)
