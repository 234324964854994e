"""What DeviceNet's traffic depends on: what each device is, how it is set, what is scanned."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

from labkit.bench.json_fields import as_json
from labkit.fieldbus.devicenet.connections import ConnectionKind
from labkit.fieldbus.devicenet.identity import Identity
from labkit.fieldbus.devicenet.scanlist import ScanEntry
from labkit.fieldbus.errors import PlanError


@dataclass(frozen=True, slots=True)
class Equipment:
    """What a device is, whatever address it is set to: identity and I/O sizes in bytes.

    `kind` is the connection that it is made for. Vendor id, device type, product code and serial
    number are invented. With a product code the scanner knows which product stands there by plan,
    and takes no other one. One that `follows_rate` has no rate switch: after power-up it listens,
    silent, until it heard a whole frame of others, and takes their rate until its power goes.
    One with `address_by_message` has no address switches: it keeps what a message told it.
    """

    vendor: int
    serial: int
    input_bytes: int = 1
    output_bytes: int = 0
    kind: ConnectionKind = ConnectionKind.POLL
    device_type: int = 0
    product_code: int = 0
    follows_rate: bool = False
    address_by_message: bool = False

    @property
    def identity(self) -> Identity:
        """What its identity object tells. Raises `PlanError` for numbers that cannot be."""
        return Identity(self.vendor, self.device_type, self.product_code, serial=self.serial)


@dataclass(frozen=True, slots=True)
class BusDevice:
    """One device as it stands on the bus now.

    `address` 0 to 63 and `rate` in kbit/s as its switches are set, which may differ from the plan.
    `dead`: its electronics do nothing, whatever its supply. `babbling`: it sends one frame after
    another without being asked. `powered`: it has between 11 and 25 V, the right way round. Its
    outputs go off when the scanner is idle unless it `holds_in_idle`, and when their connection is
    lost unless it `holds` them (object class 9, attributes 5 to 8: all 0, so off, unless set).
    """

    name: str
    address: int
    rate: int
    equipment: Equipment
    powered: bool = True
    dead: bool = False
    babbling: bool = False
    holds: bool = False
    holds_in_idle: bool = False


@dataclass(frozen=True, slots=True)
class Master:
    """The scanner's name on the bench and the scan list that it holds.

    `idle`: nobody commanded it to run. `commanded` are the node addresses whose outputs the
    controller's program wants on, all of them; other outputs it wants off. `products` say, by node
    address, which product the scanner takes there; where none is named it takes any.
    """

    name: str
    scan_list: tuple[ScanEntry, ...]
    scan_every_ms: float = 20.0
    idle: bool = False
    commanded: frozenset[int] = frozenset()
    products: tuple[tuple[int, Identity], ...] = ()


def entry_for(address: int, equipment: Equipment) -> ScanEntry:
    """The scan list entry that a device needs."""
    timed = equipment.kind in (ConnectionKind.CHANGE_OF_STATE, ConnectionKind.CYCLIC)
    return ScanEntry(
        address,
        equipment.kind,
        equipment.input_bytes,
        0 if equipment.kind is ConnectionKind.BIT_STROBE else equipment.output_bytes,
        250.0 if timed else None,
    )


def equipment_to_json(equipment: Equipment) -> dict[str, Any]:
    """An `Equipment` as plain JSON."""
    # Left out where nothing is said of it: set-ups that were dealt before stay the same text.
    product = {"device_type": equipment.device_type, "product_code": equipment.product_code}
    return {
        "vendor": equipment.vendor,
        "serial": equipment.serial,
        "input_bytes": equipment.input_bytes,
        "output_bytes": equipment.output_bytes,
        "kind": equipment.kind.value,
        **(product if equipment.product_code else {}),
        **({"follows_rate": True} if equipment.follows_rate else {}),
        **({"address_by_message": True} if equipment.address_by_message else {}),
    }


def equipment_from_json(data: Mapping[str, Any]) -> Equipment:
    """Read an `Equipment`."""
    return Equipment(**{**data, "kind": connection_kind(data["kind"])})


def entry_to_json(entry: ScanEntry) -> dict[str, Any]:
    """A scan list entry as plain JSON."""
    return {
        "address": entry.address,
        "kind": entry.kind.value,
        "input_bytes": entry.input_bytes,
        "output_bytes": entry.output_bytes,
        "interval_ms": entry.interval_ms,
        "acknowledged": entry.acknowledged,
    }


def entry_from_json(data: Mapping[str, Any]) -> ScanEntry:
    """Read a scan list entry."""
    return ScanEntry(**{**data, "kind": connection_kind(data["kind"])})


def connection_kind(value: object) -> ConnectionKind:
    """A connection kind by its words; `PlanError` names them."""
    for kind in ConnectionKind:
        if kind.value == value:
            return kind
    kinds = ", ".join(kind.value for kind in ConnectionKind)
    raise PlanError(f"There is no connection kind {value!r}; the kinds are {kinds}.")


def _scan_list(data: Any) -> tuple[ScanEntry, ...] | None:
    return None if data is None else tuple(entry_from_json(entry) for entry in data)


SCAN_LIST: Final = as_json(
    lambda entries: None if entries is None else [entry_to_json(entry) for entry in entries],
    _scan_list,
)
"""For a field that holds a scan list, or None."""
