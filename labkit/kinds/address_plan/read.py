"""Reading the kind `address_plan`: a node address for each device of a list."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Final

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

ANY: Final = range(65_536)
"""What a range may reach over: addresses of at most 16 bits."""


class RangeFields(Strict):
    """The lowest and the highest address of a range of the lab's own."""

    first: Text = Field(alias="from", description="A formula: the lowest address.")
    last: Text = Field(alias="to", description="A formula: the highest address.")


class TakenFields(Strict):
    """An address, or a list of them, that something else already has."""

    address: Text = Field(
        description="A formula that gives an address, or a list of them: [240, 241]."
    )
    by: Text = Field(description="Who has it.")


class AddressPlanFields(ExerciseFields):
    """`devices` gives a list of names; `taken` and `free` are addresses nobody else may have.

    `addresses` is a range of the lab's own, in place of that of its family.
    """

    devices: Text = Field(description="A formula that gives a list of names.")
    taken: list[TakenFields] = Field(
        default_factory=list, description="Addresses that something else already has."
    )
    free: Text | None = Field(
        default=None, description="A formula: an address, or a list of them, that is to stay free."
    )
    addresses: RangeFields | None = Field(
        default=None, description="A range of your own. That of the network if you say nothing."
    )


class AddressPlanReader:
    """Reads an `address_plan` exercise."""

    fields = AddressPlanFields

    def read(self, fields: AddressPlanFields, reader: FieldReader) -> Preparer:
        """The preparer of this exercise."""
        range_of = _range_of(fields.addresses, reader)
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
            allowed = range_of(values)
            names = _names(devices, values)
            kept_free = _addresses(free, values, allowed) if free else []
            owners = {
                str(address): by.render(values)
                for formula, by in taken
                for address in _addresses(formula, values, allowed)
            }
            spare = len(allowed) - len({*kept_free, *(int(address) for address in owners)})
            if len(names) > spare:
                raise definition_error(
                    devices.place, f"{len(names)} devices cannot share {spare} free addresses."
                )
            ask: AddressPlanAsk = {"devices": names, "limit": allowed[-1]}
            if fields.addresses:
                ask["lowest"] = allowed[0]
            else:
                say_family(ask, reader.family)
            key: AddressPlanKey = {"taken": owners, "free": kept_free}
            return Prepared(ask, key)

        return prepare


def _range_of(
    own: RangeFields | None, reader: FieldReader
) -> Callable[[Mapping[str, Value]], range]:
    """What gives the addresses of a draw: the lab's own range, or the one of its family."""
    if own is None:
        of_family = reader.of_family(nodes_for).addresses
        return lambda _: of_family
    ends = [
        reader.formula(own.first, "addresses", "from"),
        reader.formula(own.last, "addresses", "to"),
    ]

    def drawn(values: Mapping[str, Value]) -> range:
        first, last = (_node_address(end, end.evaluate(values), ANY) for end in ends)
        if first > last:
            raise definition_error(
                ends[1].place, f"{last} is below {first}.", "Exchange 'from' and 'to'."
            )
        return range(first, last + 1)

    return drawn


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
    span = f"from {allowed[0]} to {allowed[-1]}"
    if isinstance(value, bool) or not isinstance(value, int):
        wrong = "which is not a node address"
    elif value not in allowed:
        wrong = f"and the addresses here go {span}"
    else:
        return value
    raise definition_error(
        formula.place,
        f"'{formula.text}' gives {value!r}, {wrong}.",
        f"Write a whole number {span}.",
    )
