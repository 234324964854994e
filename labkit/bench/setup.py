"""The bench as planned: the network, what its devices are, and the scanner with its scan list."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

from labkit.bench.layout import Layout
from labkit.bench.station_on_bus import Equipment
from labkit.fieldbus.devicenet.connections import ConnectionKind
from labkit.fieldbus.devicenet.network import Network
from labkit.fieldbus.devicenet.scanlist import ScanEntry
from labkit.fieldbus.errors import PlanError


@dataclass(frozen=True)
class Setup:
    """What was planned. Every device needs a node address; `scanner` names one of them.

    `equipment` not given: one input byte, polled. `scan_list` not given: every device but the
    scanner, as its equipment is. `scan_every_ms` is the time from one scan to the next. Without
    `live_plugs` no connector is pulled or put back while the network is live.
    """

    plan: Network
    scanner: str
    equipment: Mapping[str, Equipment] = field(default_factory=dict)
    scan_list: tuple[ScanEntry, ...] | None = None
    scan_every_ms: float = 20.0
    live_plugs: bool = True

    def __post_init__(self) -> None:
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
        if self.scan_list is None:
            object.__setattr__(self, "scan_list", tuple(self._everybody()))
        object.__setattr__(self, "scan_list", tuple(self.scan_list or ()))

    @cached_property
    def layout(self) -> Layout:
        """Connectors and pieces of the plan."""
        return Layout(self.plan)

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
            )
        except (KeyError, TypeError, AttributeError) as error:
            raise PlanError(f"This is no set-up of a bench: {error}.") from error


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
    return {
        "vendor": equipment.vendor,
        "serial": equipment.serial,
        "input_bytes": equipment.input_bytes,
        "output_bytes": equipment.output_bytes,
        "kind": equipment.kind.value,
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
