"""Reading the kind `address_plan`: a node address for each device of a list."""

from __future__ import annotations

from collections.abc import Mapping

from pydantic import Field

from labkit.doors.installed import nodes_for
from labkit.doors.prepared import Prepared, Preparer
from labkit.kinds.address_plan.data import AddressPlanAsk, AddressPlanKey
from labkit.kinds.common.of_family import say_family
from labkit.lab.reading.field_reader import FieldReader
from labkit.lab.reading.fields import ExerciseFields, Strict, Text
from labkit.language.expression import Formula, Value
from labkit.language.problems import definition_error
from labkit.language.stream import Stream


class TakenFields(Strict):
    """An address that something else already has."""

    address: Text
    by: Text


class AddressPlanFields(ExerciseFields):
    """`devices` gives a list of names; `taken` and `free` are addresses nobody else may have."""

    devices: Text
    taken: list[TakenFields] = Field(default_factory=list)
    free: Text | None = None


class AddressPlanReader:
    """Reads an `address_plan` exercise."""

    fields = AddressPlanFields

    def read(self, fields: AddressPlanFields, reader: FieldReader) -> Preparer:
        """The preparer of this exercise."""
        allowed = reader.of_family(nodes_for).addresses
        devices = reader.formula(fields.devices, "devices")
        free = reader.formula(fields.free, "free") if fields.free is not None else None
        taken = [
            (
                reader.formula(item.address, "taken", index, "address"),
                reader.prose(item.by, "taken", index, "by"),
            )
            for index, item in enumerate(fields.taken)
        ]

        def prepare(values: Mapping[str, Value], _stream: Stream) -> Prepared:
            names = _names(devices, values)
            kept_free = _addresses(free, values, allowed) if free else []
            owners = {
                str(_node_address(formula, formula.evaluate(values), allowed)): by.render(values)
                for formula, by in taken
            }
            spare = len(allowed) - len({*kept_free, *(int(address) for address in owners)})
            if len(names) > spare:
                raise definition_error(
                    devices.place, f"{len(names)} devices cannot share {spare} free addresses."
                )
            ask: AddressPlanAsk = {"devices": names, "limit": allowed[-1]}
            say_family(ask, reader.family)
            key: AddressPlanKey = {"taken": owners, "free": kept_free}
            return Prepared(ask, key)

        return prepare


def _names(formula: Formula, values: Mapping[str, Value]) -> list[str]:
    names = formula.evaluate(values)
    if (
        not isinstance(names, list | tuple)
        or not names
        or not all(isinstance(name, str) for name in names)
        or len(set(names)) < len(names)
    ):
        raise definition_error(
            formula.place, f"'{formula.text}' does not give a list of different names."
        )
    return list(names)


def _addresses(formula: Formula, values: Mapping[str, Value], allowed: range) -> list[int]:
    found = formula.evaluate(values)
    items = found if isinstance(found, list | tuple) else [found]
    return [_node_address(formula, item, allowed) for item in items]


def _node_address(formula: Formula, value: Value, allowed: range) -> int:
    if isinstance(value, bool) or not isinstance(value, int) or value not in allowed:
        raise definition_error(
            formula.place,
            f"'{formula.text}' gives {value!r}, which is not a node address.",
            f"Write a whole number from {allowed[0]} to {allowed[-1]}.",
        )
    return value
