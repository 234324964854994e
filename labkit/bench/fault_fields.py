"""The fields of faults as a lab writes them: which there are, what they hold, what they name."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields as dataclass_fields
from typing import Any, Final

from labkit.bench.codec import Catalogue
from labkit.bench.conductors import Conductors
from labkit.bench.faults import Fault, swapped
from labkit.bench.json_fields import is_needed
from labkit.bench.layout import LEFT_END, RIGHT_END, Layout

SWAPPED: Final = "swapped"
"""A kind of fault for labs alone: two conductors exchanged at a connector."""
_WHOLE: Final = (
    "address", "rate", "input_bytes", "output_bytes", "entry", "code", "function", "start",
)  # fmt: skip
_NUMBERS: Final = ("ohm", "ampere", "metres", "every_s", "open_s", "ms")


def fields_of(catalogue: Catalogue, kind: str) -> dict[str, bool]:
    """The fields of a fault beside its kind, each with whether it must be given."""
    if kind == SWAPPED:
        return {"connector": True, "a": False, "b": False}
    return {item.name: is_needed(item) for item in dataclass_fields(catalogue.faults[kind])}


def value(field: str, text: str) -> Any:
    """What a field of a fault holds. Raises `ValueError`."""
    if field in _WHOLE:
        return int(text)
    if field in _NUMBERS:
        return float(text)
    if field == "terminals":
        return [int(part) for part in text.split(",")]
    return text


def no_such(fields: Mapping[str, Any], layout: Layout) -> tuple[str, list[str]] | None:
    """A field that names what is not on this bench, and the names that are."""
    labels = [wire.label for wire in layout.conductors.wires]
    known = {
        "connector": [*layout.connectors],
        "device": [*layout.devices],
        "end": [LEFT_END, RIGHT_END],
        **dict.fromkeys(("wire", "a", "b"), labels),
    }
    for name, names in known.items():
        if name in fields and fields[name] not in names:
            return name, names
    return None


def pair_swapped(fields: Mapping[str, Any], conductors: Conductors) -> Fault:
    """Conductors `a` and `b` exchanged at `connector`; the signal pair where none is named."""
    first, second = conductors.pair
    a = conductors.named(fields.get("a", second.label))
    b = conductors.named(fields.get("b", first.label))
    return swapped(str(fields["connector"]), a, b, conductors)
