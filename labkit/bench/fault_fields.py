"""The fields of faults as a lab writes them: which there are, what they hold, what they name."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import fields as dataclass_fields
from typing import Any, Final

from labkit.bench.codec import Catalogue
from labkit.bench.faults import Fault, swapped
from labkit.bench.json_fields import is_needed
from labkit.bench.layout import LEFT_END, RIGHT_END
from labkit.bench.setup import Setup

SWAPPED: Final = "swapped"
"""A kind of fault for labs alone: two conductors exchanged at a connector."""
_WHOLE: Final = (
    "address", "rate", "input_bytes", "output_bytes", "entry", "code", "function", "start",
)  # fmt: skip
_NUMBERS: Final = ("ohm", "ampere", "metres", "every_s", "open_s", "ms")


def value(field: str, text: str) -> Any:
    """What a field of a fault holds. Raises `ValueError`."""
    if field in _WHOLE:
        return int(text)
    if field in _NUMBERS:
        return float(text)
    if field == "terminals":
        return [int(part) for part in text.split(",")]
    return text


class FaultFields:
    """What a lab may name of a family whose faults are those of its catalogue.

    Beside the catalogue's own kinds there is `swapped`: conductors `a` and `b`, of which nothing
    said they are the signal pair, exchanged at `connector`.
    """

    def __init__(self, catalogue: Catalogue) -> None:
        self._catalogue = catalogue
        self.fault_kinds: Collection[str] = (*catalogue.faults, SWAPPED)
        self.costs: Mapping[str, float] = catalogue.costs

    def fields_of(self, kind: str) -> dict[str, bool]:
        """The fields of a fault beside its kind, each with whether it must be given."""
        if kind == SWAPPED:
            return {"connector": True, "a": False, "b": False}
        faults = self._catalogue.faults
        return {item.name: is_needed(item) for item in dataclass_fields(faults[kind])}

    def value(self, field: str, text: str) -> Any:
        """What a field of a fault holds. Raises `ValueError`."""
        return value(field, text)

    def no_such(self, fields: Mapping[str, Any], setup: Setup) -> tuple[str, list[str]] | None:
        """A field that names what is not on this bench, and the names that are."""
        layout = setup.layout
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

    def fault_of(self, fields: Mapping[str, Any], setup: Any) -> Fault:  # noqa: ARG002
        """The fault that `kind` and its other fields name. Raises `PlanError`."""
        if fields.get("kind") != SWAPPED:
            return self._catalogue.fault_from_json(dict(fields))
        conductors = self._catalogue.conductors
        first, second = conductors.pair
        a = conductors.named(fields.get("a", second.label))
        b = conductors.named(fields.get("b", first.label))
        return swapped(str(fields["connector"]), a, b, conductors)
