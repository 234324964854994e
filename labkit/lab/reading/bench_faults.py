"""A fault of the virtual bench from the fields that a lab gives it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any, Final

from labkit.bench.codec import fault_from_json
from labkit.bench.conductors import Wire
from labkit.bench.faults import KINDS, Fault, ScanListAs, swapped
from labkit.bench.setup import Setup
from labkit.fieldbus.errors import PlanError

SWAPPED: Final = "swapped"
SCAN_LIST: Final = "scan list"
FAULT_KINDS: Final = (*KINDS, SWAPPED)
"""The kinds of faults that a lab may name."""


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
            a, b = Wire.named(rest.pop("a")), Wire.named(rest.pop("b"))
            return swapped(str(rest.pop("connector")), a, b)
        except KeyError as missing:
            raise PlanError(f"a swap needs the field {missing}.") from missing
    if kind == SCAN_LIST and "entries" not in rest:
        return _scan_list(rest, setup)
    return fault_from_json({"kind": kind, **rest})


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
