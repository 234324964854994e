"""The network family `canopen`: a bus with nodes on stubs, terminators, a cable."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any, Final, Literal

from pydantic import Field

from labkit.doors.network import NetworkRecipe
from labkit.families.canopen.bus_functions import BUS_FUNCTIONS
from labkit.families.canopen.drawing import draw_bus, draw_in_bands
from labkit.families.canopen.function_units import FUNCTION_UNITS
from labkit.families.canopen.message_functions import MESSAGE_FUNCTIONS
from labkit.fieldbus.canopen.network import Bus, BusNode
from labkit.fieldbus.diagram import NARROW, WIDTH
from labkit.fieldbus.errors import PlanError
from labkit.lab.reading.field_reader import FieldReader
from labkit.lab.reading.fields import Strict, Text, check_fields
from labkit.language.expression import Formula, Value
from labkit.language.problems import Place, definition_error

Names = Mapping[str, Value]
Formulas = Mapping[str, Formula]
_ALONE: Final = ("rate", "length", "terminators")


class NodesFields(Strict):
    """Lists of the same length: position in m, stub in m (0: in the bus), name, node-ID."""

    at: Text
    stub: Text
    name: Text
    id: Text | None = None


class CableFields(Strict):
    """A conductor: `milliohms` of each metre, its `section` in mm²."""

    milliohms: Text
    section: Text


class CanopenFields(Strict):
    """The header's `network:` group. Formulas, but for what the picture leaves out."""

    family: str
    rate: Text
    length: Text
    nodes: NodesFields
    terminators: Text | None = None
    cable: CableFields | None = None
    picture_leaves_out: list[Literal["rate", "ids", "terminators"]] = Field(
        alias="picture leaves out", default_factory=list
    )


class CanopenFamily:
    """The family's entry point."""

    functions: Mapping[str, Any] = MappingProxyType({**BUS_FUNCTIONS, **MESSAGE_FUNCTIONS})
    units = FUNCTION_UNITS

    def recipe(self, fields: Mapping[str, Any], reader: FieldReader) -> NetworkRecipe:  # noqa: ARG002
        """Read the header's `network:` group. Raises `DefinitionError`."""
        group: CanopenFields = check_fields(
            CanopenFields, reader.fields.inside("network"), "network → "
        )

        def read(part: Strict | None, name: str) -> Formulas:
            written = part.model_dump(exclude_none=True) if part else {}
            return {
                key: reader.formula(text, "network", name, key) for key, text in written.items()
            }

        alone = {
            name: reader.formula(text, "network", name)
            for name in _ALONE
            if (text := getattr(group, name)) is not None
        }
        return CanopenRecipe(
            alone,
            read(group.nodes, "nodes"),
            read(group.cable, "cable"),
            frozenset(group.picture_leaves_out),
            reader.place("network"),
        )


@dataclass(frozen=True, slots=True)
class CanopenRecipe:
    """The formulas that a bus is made from."""

    alone: Formulas
    nodes: Formulas
    cable: Formulas
    left_out: frozenset[str]
    place: Place

    @property
    def names(self) -> frozenset[str]:
        """The names that the formulas use."""
        groups = (self.alone, self.nodes, self.cable)
        formulas = (formula for group in groups for formula in group.values())
        return frozenset[str]().union(*(formula.names for formula in formulas))

    def build(self, values: Names) -> Bus:
        """The bus of a scenario. Raises `DefinitionError` when it cannot be built."""
        cable = {name: formula.number(values) for name, formula in self.cable.items()}
        ends = self.alone.get("terminators")
        try:
            return Bus(
                self.alone["length"].number(values),
                self.alone["rate"].number(values),
                tuple(self._nodes(values)),
                tuple(_list(ends, values)) if ends else (),
                cable.get("milliohms"),
                cable.get("section"),
            )
        except PlanError as error:
            raise definition_error(self.place, str(error)) from error

    def _nodes(self, values: Names) -> Iterator[BusNode]:
        columns = {name: _list(formula, values) for name, formula in self.nodes.items()}
        sizes = {name: len(column) for name, column in columns.items()}
        if len(set(sizes.values())) > 1:
            counts = ", ".join(f"{name} {size}" for name, size in sizes.items())
            raise definition_error(
                self.nodes["at"].place.at("network → nodes"),
                f"the lists differ in length ({counts}).",
                "Give each node a position, a stub and a name.",
            )
        ids = columns.get("id", [None] * sizes["at"])
        rows = zip(columns["name"], columns["at"], columns["stub"], ids, strict=True)
        for name, at, stub, number in rows:
            yield BusNode(name, at, stub, number)

    def draw(self, network: Bus, *, narrow: bool = False) -> str:
        """The bus as SVG, as it is planned, without what the lab leaves out."""
        return draw_bus(network, leave_out=self.left_out, width=NARROW if narrow else WIDTH)

    def draw_for_paper(self, network: Bus) -> tuple[str, ...]:
        """The same in rows, each an SVG, with letters that can be read on paper."""
        return draw_in_bands(network, leave_out=self.left_out)

    def facts(self, network: Bus) -> str:
        """Rate, length and nodes in one line."""
        rate = "" if "rate" in self.left_out else f"{network.bit_rate_kbps:g} kbit/s, "
        return f"{rate}bus {network.length:g} m, {len(network.nodes)} nodes"


def _list(formula: Formula, values: Names) -> list[Any]:
    found = formula.evaluate(values)
    if not isinstance(found, list | tuple):
        raise definition_error(formula.place, f"'{formula.text}' does not give a list.")
    return list(found)
