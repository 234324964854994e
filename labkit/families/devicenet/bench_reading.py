"""How a lab's words become a bench of DeviceNet: what stands on it, and what is wrong with it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import fields as dataclass_fields
from dataclasses import replace
from typing import Any, Final

from labkit.bench.fault_fields import SWAPPED, value
from labkit.bench.faults import Fault, PlusJoined, swapped
from labkit.bench.json_fields import is_needed
from labkit.bench.layout import LEFT_END, RIGHT_END
from labkit.doors.family import DeviceOnBench
from labkit.families.devicenet.bench.catalogue import COSTS, EVERYTHING
from labkit.families.devicenet.bench.conductors import CONDUCTORS, WIRES
from labkit.families.devicenet.bench.equipment import Equipment, connection_kind
from labkit.families.devicenet.bench.faults import (
    HoldsInIdle,
    HoldsOutputs,
    OtherProduct,
    RateSet,
    ScanListAs,
    ScannerIdle,
)
from labkit.families.devicenet.bench.setup import Setup
from labkit.families.devicenet.node_addresses import addressed
from labkit.fieldbus.devicenet.cable import CABLES
from labkit.fieldbus.devicenet.identity import Identity
from labkit.fieldbus.devicenet.network import Network
from labkit.fieldbus.errors import PlanError

SCAN_LIST: Final = "scan list"


def fields_of(kind: str) -> dict[str, bool]:
    """The fields of a fault beside its kind, each with whether it must be given."""
    if kind == SWAPPED:
        return {"connector": True, "a": True, "b": True}
    if kind == SCAN_LIST:
        return {"entry": True, "input_bytes": False, "output_bytes": False}
    return {item.name: is_needed(item) for item in dataclass_fields(EVERYTHING.faults[kind])}


def no_such(fields: Mapping[str, Any], setup: Setup) -> tuple[str, list[str]] | None:
    """A field that names what is not on this bench, and the names that are; None without one."""
    layout = setup.layout
    known = {
        "connector": [*layout.connectors],
        "device": [*layout.devices],
        "supply": [*layout.supplies],
        "piece": [piece.id for piece in layout.pieces.values() if piece.runs],
        "end": [LEFT_END, RIGHT_END],
        "cable": [*CABLES],
        **{key: [wire.label for wire in WIRES] for key in ("wire", "a", "b")},
    }
    for name, names in known.items():
        if name in fields and fields[name] not in names:
            return name, names
    return None


def fault_of(fields: Mapping[str, Any], setup: Setup) -> Fault:
    """The fault that `kind` and its other fields name. Raises `PlanError`.

    Beside the bench's own kinds there are `swapped` (conductors `a` and `b` exchanged at
    `connector`) and, for `scan list`, the planned list without the node `entry`, or with other
    sizes for it.
    """
    kind = fields.get("kind")
    rest = {name: value for name, value in fields.items() if name != "kind"}
    if kind == SWAPPED:
        try:
            a, b = CONDUCTORS.named(rest.pop("a")), CONDUCTORS.named(rest.pop("b"))
            return swapped(str(rest.pop("connector")), a, b, CONDUCTORS)
        except KeyError as missing:
            raise PlanError(f"a swap needs the field {missing}.") from missing
    if kind == SCAN_LIST and "entries" not in rest:
        return _scan_list(rest, setup)
    fault = EVERYTHING.fault_from_json({"kind": kind, **rest})
    _require_outputs(fault, setup)
    _require_product(fault, setup)
    if isinstance(fault, RateSet):
        _require_rate_switch(fault.device, setup)
    if isinstance(fault, PlusJoined) and not setup.sections:
        raise PlanError("V+ is joined by mistake only where it can be. Write 'sections: yes'.")
    return fault


def _require_product(fault: Fault, setup: Setup) -> None:
    if not isinstance(fault, OtherProduct):
        return
    planned = setup.equipment[fault.device].product_code
    if not planned:
        raise PlanError(
            f"the scanner does not know which product {fault.device} is by plan. Give it one under "
            "'equipment': product: '[412, 7, 23]' (vendor id, device type, product code)."
        )
    if planned == fault.code:
        raise PlanError(f"{fault.device} has product code {planned} by plan; name another one.")


def _require_rate_switch(device: str, setup: Setup) -> None:
    if device in setup.equipment and setup.equipment[device].follows_rate:
        raise PlanError(f"{device} has no rate switch: it follows the rate. Name another device.")


def _require_outputs(fault: Fault, setup: Setup) -> None:
    if not isinstance(fault, ScannerIdle | HoldsOutputs | HoldsInIdle):
        return
    if not setup.outputs:
        raise PlanError(
            f"A fault of kind '{fault.kind}' shows at outputs alone. Write 'outputs: yes' in this "
            "exercise, so that they can be commanded on the bench."
        )
    if isinstance(fault, HoldsOutputs | HoldsInIdle) and fault.device not in setup.with_outputs:
        names = ", ".join(setup.with_outputs) or "none"
        raise PlanError(
            f"{fault.device} has no outputs that it could hold. Name a device with output bytes: "
            f"{names}."
        )


def _scan_list(fields: dict[str, Any], setup: Setup) -> Fault:
    address = fields.get("entry")
    entries = list(setup.entries)
    index = next((n for n, entry in enumerate(entries) if entry.address == address), None)
    if index is None:
        known = ", ".join(str(entry.address) for entry in entries)
        raise PlanError(
            f"the scan list has no entry for node {address}. 'entry' gives the node address of the "
            f"entry to leave out or change: one of {known}."
        )
    sizes = {name: fields[name] for name in ("input_bytes", "output_bytes") if name in fields}
    if sizes:
        entries[index] = replace(entries[index], **sizes)
    else:
        del entries[index]
    return ScanListAs(tuple(entries))


def _product(device: DeviceOnBench) -> dict[str, int]:
    """Vendor id and, where the lab says it, which product the device is. Raises `PlanError`."""
    if not device.product:
        return {"vendor": 900}
    if len(device.product) != 3 or not device.product[-1]:
        raise PlanError(
            f"the product of {device.name} is vendor id, device type and product code, the last "
            "one above 0: write product: '[412, 7, 23]'."
        )
    vendor, device_type, code = device.product
    Identity(vendor, device_type, code)
    return {"vendor": vendor, "device_type": device_type, "product_code": code}


class DeviceNetBenchReading:
    """See `labkit.doors.family.BenchReading`."""

    fault_kinds = (*EVERYTHING.faults, SWAPPED)
    costs = COSTS
    fields_of = staticmethod(fields_of)
    no_such = staticmethod(no_such)
    fault_of = staticmethod(fault_of)
    value = staticmethod(value)

    def device_names(self, plan: Any) -> list[str] | None:
        """The devices of a plan; None for what is no DeviceNet network."""
        return [device.name for device in plan.devices] if isinstance(plan, Network) else None

    def require_connection(self, words: str) -> None:
        """Raise `PlanError` for what is no connection."""
        connection_kind(words)

    def setup(
        self,
        plan: Any,
        scanner: str,
        devices: Sequence[DeviceOnBench] = (),
        usual: tuple[int, int] | None = None,
        *,
        live_plugs: bool = True,
        outputs: bool = False,
        tap_fuse: float = 0.0,
        sections: bool = False,
    ) -> Setup:
        """The plan on a bench, with a node address for every device. Raises `PlanError`."""
        if not isinstance(plan, Network):
            raise PlanError("'plan' does not give a network.")
        placed = addressed(plan)
        found = dict(Setup(placed, scanner).equipment)
        if usual:
            # The identity stays that which a set-up gives to a device of which nothing is said.
            produced, consumed = usual
            found = {
                name: replace(made, input_bytes=produced, output_bytes=consumed)
                for name, made in found.items()
            }
        for number, device in enumerate(devices):
            found[device.name] = Equipment(
                serial=50_000 + number,
                input_bytes=device.input_bytes,
                output_bytes=device.output_bytes,
                kind=connection_kind(device.connection),
                follows_rate=device.follows_rate,
                address_by_message=device.address_by_message,
                **_product(device),
            )
        return Setup(
            placed,
            scanner,
            found,
            live_plugs=live_plugs,
            outputs=outputs,
            tap_fuse=tap_fuse,
            sections=sections,
        )
