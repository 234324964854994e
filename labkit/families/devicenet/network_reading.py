"""The network family `devicenet`: a trunk, taps with one device a drop, one supply."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any, Final, Literal

from pydantic import Field

from labkit.doors.network import Drawn, NetworkPart, NetworkRecipe
from labkit.families.devicenet.bench_functions import BENCH_FUNCTIONS
from labkit.families.devicenet.function_units import FUNCTION_UNITS
from labkit.families.devicenet.identity_functions import IDENTITY_FUNCTIONS
from labkit.families.devicenet.plan_functions import PLAN_FUNCTIONS
from labkit.families.devicenet.power_functions import POWER_FUNCTIONS
from labkit.families.devicenet.stuffing_functions import STUFFING_FUNCTIONS
from labkit.families.devicenet.timing_functions import TIMING_FUNCTIONS
from labkit.fieldbus.devicenet.cable import (
    CABLES,
    DataSheet,
)
from labkit.fieldbus.devicenet.drawing import draw_in_bands, draw_network
from labkit.fieldbus.devicenet.drawing_boxes import Picture
from labkit.fieldbus.devicenet.drawing_parts import (
    PART_KINDS,
    draw_parts,
    draw_parts_in_bands,
    parts_of,
)
from labkit.fieldbus.devicenet.network import Device, Drop, Network, Segment, Supply, Tap
from labkit.fieldbus.devicenet.reading import USUALLY_SHOWN
from labkit.fieldbus.diagram import NARROW, WIDTH
from labkit.fieldbus.errors import PlanError
from labkit.lab.reading.field_reader import FieldReader
from labkit.lab.reading.fields import Strict, Text, check_fields
from labkit.language.expression import Formula, Value
from labkit.language.problems import Place, definition_error


class SegmentFields(Strict):
    """A piece of trunk: `cable` and `length` in m."""

    cable: Text
    length: Text


class TapFields(Strict):
    """Lists of the same length: position in m, drop in m, device name, current in A.

    `address`, the node addresses, may be left out. Several nodes at a drop's end: their names and
    currents as lists. `branches`: for each tap a list of `[length, device, current]`, cables that
    go on from the drop's end.
    """

    at: Text
    drop: Text
    device: Text
    current: Text
    address: Text | None = None
    branches: Text | None = None


class SupplyFields(Strict):
    """Where the supply stands, in m from the left end, and the most that it gives, in A."""

    at: Text
    rating: Text | None = None


class SuppliesFields(Strict):
    """Several supplies: lists of positions in m and, if wanted, of names, of V and of the A that
    each gives at most."""

    at: Text
    name: Text | None = None
    voltage: Text | None = None
    rating: Text | None = None


class DataSheetFields(Strict):
    """What a cable's data sheet says: Ω/km of one conductor at 20 °C."""

    power: Text | None = None
    signal: Text | None = None


class DeviceNetFields(Strict):
    """The header's `network:` group. Every field is a formula, but for what the picture leaves out.

    `picture leaves out` is for what an exercise asks: the data rate, the current of all devices.
    """

    family: str
    rate: Text
    trunk: list[SegmentFields]
    taps: TapFields
    supply: SupplyFields | None = None
    supplies: SuppliesFields | None = None
    breaks: Text | None = None
    data_sheet: dict[str, DataSheetFields] = Field(alias="data sheet", default_factory=dict)
    picture_leaves_out: list[Literal["rate", "total"]] = Field(
        alias="picture leaves out", default_factory=list
    )


_FUNCTIONS: Final[Mapping[str, Any]] = MappingProxyType(
    {
        **{name: name for name in CABLES},
        **BENCH_FUNCTIONS,
        **IDENTITY_FUNCTIONS,
        **PLAN_FUNCTIONS,
        **POWER_FUNCTIONS,
        **STUFFING_FUNCTIONS,
        **TIMING_FUNCTIONS,
    }
)


class DeviceNetFamily:
    """The family's entry point."""

    functions = _FUNCTIONS
    units = FUNCTION_UNITS

    def recipe(self, fields: Mapping[str, Any], reader: FieldReader) -> NetworkRecipe:  # noqa: ARG002
        """Read the header's `network:` group. Raises `DefinitionError`."""
        group: DeviceNetFields = check_fields(
            DeviceNetFields, reader.fields.inside("network"), "network → "
        )

        def read(text: str, *path: str | int) -> Formula:
            return reader.formula(text, "network", *path)

        return DeviceNetRecipe(
            rate=read(group.rate, "rate"),
            trunk=tuple(
                (
                    read(segment.cable, "trunk", index, "cable"),
                    read(segment.length, "trunk", index, "length"),
                )
                for index, segment in enumerate(group.trunk)
            ),
            taps={
                name: read(text, "taps", name)
                for name, text in group.taps.model_dump(exclude_none=True).items()
            },
            supply={
                name: read(text, "supply", name)
                for name, text in group.supply.model_dump(exclude_none=True).items()
            }
            if group.supply
            else {},
            supplies={
                name: read(text, "supplies", name)
                for name, text in group.supplies.model_dump(exclude_none=True).items()
            }
            if group.supplies
            else {},
            breaks=read(group.breaks, "breaks") if group.breaks is not None else None,
            sheets={
                cable: {
                    name: read(text, "data sheet", cable, name)
                    for name, text in sheet.model_dump(exclude_none=True).items()
                }
                for cable, sheet in group.data_sheet.items()
            },
            left_out=frozenset(group.picture_leaves_out),
            place=reader.place("network"),
        )


@dataclass(frozen=True, slots=True)
class DeviceNetRecipe:
    """The formulas that a network is made from."""

    rate: Formula
    trunk: Sequence[tuple[Formula, Formula]]
    taps: Mapping[str, Formula]
    supply: Mapping[str, Formula]
    supplies: Mapping[str, Formula]
    breaks: Formula | None
    sheets: Mapping[str, Mapping[str, Formula]]
    left_out: frozenset[str]
    place: Place

    @property
    def names(self) -> frozenset[str]:
        """The names that the formulas use."""
        trunk = (formula for pair in self.trunk for formula in pair)
        formulas = (self.rate, *trunk, *self.taps.values(), *self.supply.values())
        formulas += (*self.supplies.values(), *((self.breaks,) if self.breaks else ()))
        formulas += tuple(formula for sheet in self.sheets.values() for formula in sheet.values())
        return frozenset().union(*(formula.names for formula in formulas))

    def build(self, values: Mapping[str, Value]) -> Network:
        """The network of a scenario. Raises `DefinitionError` when it cannot be built."""
        try:
            return Network(
                data_rate=self.rate.evaluate(values),
                segments=tuple(
                    Segment(cable.evaluate(values), length.evaluate(values))
                    for cable, length in self.trunk
                ),
                taps=tuple(self._taps(values)),
                supplies=(*self._supply(values), *self._supplies(values)),
                section_breaks=tuple(_list(self.breaks, values)) if self.breaks else (),
                data_sheets=tuple(self._sheets(values)),
            )
        except PlanError as error:
            raise definition_error(self.place, str(error)) from error

    def _sheets(self, values: Mapping[str, Value]) -> Iterator[DataSheet]:
        for cable, sheet in self.sheets.items():
            # To a millionth of an ohm per km: the binary rest would stand in a printed working.
            figures = {
                name: round(formula.number(values) / 1000, 9) for name, formula in sheet.items()
            }
            yield DataSheet(cable, **figures)

    def _supply(self, values: Mapping[str, Value]) -> tuple[Supply, ...]:
        if not self.supply:
            return ()
        rating = self.supply.get("rating")
        return (
            Supply(
                self.supply["at"].number(values), rating=rating.number(values) if rating else None
            ),
        )

    def _supplies(self, values: Mapping[str, Value]) -> tuple[Supply, ...]:
        if not self.supplies:
            return ()
        columns = self._columns("supplies", self.supplies, values)
        rows = (dict(zip(columns, row, strict=True)) for row in zip(*columns.values(), strict=True))
        return tuple(Supply(row.pop("at"), **row) for row in rows)

    def _columns(
        self, what: str, formulas: Mapping[str, Formula], values: Mapping[str, Value]
    ) -> dict[str, list[Any]]:
        """The lists of a group of the header, all of one length."""
        columns = {name: _list(formula, values) for name, formula in formulas.items()}
        sizes = {name: len(column) for name, column in columns.items()}
        if len(set(sizes.values())) > 1:
            counts = ", ".join(f"{name} {size}" for name, size in sizes.items())
            raise definition_error(
                formulas["at"].place.at(f"network → {what}"),
                f"the lists differ in length ({counts}).",
                "Give each tap a position, a drop, a device and a current."
                if what == "taps"
                else "Give each supply a position and a name.",
            )
        return columns

    def _taps(self, values: Mapping[str, Value]) -> list[Tap]:
        columns = self._columns("taps", self.taps, values)
        count = len(columns["at"])
        addresses = columns.get("address", [None] * count)
        branches = columns.get("branches", [()] * count)
        place = self.taps.get("branches", self.taps["device"]).place
        return [
            Tap(at, Drop(drop, _devices(name, amperes, address, place), _branches(more, place)))
            for at, drop, name, amperes, address, more in zip(
                columns["at"],
                columns["drop"],
                columns["device"],
                columns["current"],
                addresses,
                branches,
                strict=True,
            )
        ]

    def draw(self, network: Network, *, narrow: bool = False) -> str:
        """The network as SVG: lengths, devices, currents; a supply only where the plan has it."""
        return draw_network(network, show=self._shown(), width=NARROW if narrow else WIDTH)

    def draw_for_paper(self, network: Network) -> tuple[str, ...]:
        """The same in rows, each an SVG, with letters that can be read on paper."""
        return draw_in_bands(network, show=self._shown())

    @property
    def part_kinds(self) -> tuple[str, ...]:
        """What can be pointed at in its drawing."""
        return PART_KINDS

    def parts(self, network: Network) -> list[NetworkPart]:
        """The parts of the drawing, called as in the plan. Raises `PlanError`."""
        found = parts_of(network, show=self._shown())
        return [NetworkPart(part.id, part.kind, part.words) for part in found]

    def draw_parts(self, network: Network, kinds: Collection[str], width: float) -> Drawn:
        """The drawing `width` px wide, and where parts of these kinds are."""
        return _drawn(draw_parts(network, kinds, show=self._shown(), width=width))

    def draw_parts_for_paper(self, network: Network, kinds: Collection[str]) -> list[Drawn]:
        """The same in rows."""
        return [_drawn(row) for row in draw_parts_in_bands(network, kinds, show=self._shown())]

    def _shown(self) -> list[str]:
        return [word for word in USUALLY_SHOWN if word not in self.left_out]

    def facts(self, network: Network) -> str:
        """Rate, trunk and devices in one line."""
        trunk = " + ".join(f"{part.length:g} m {part.cable}" for part in network.segments)
        rate = "" if "rate" in self.left_out else f"{network.data_rate} kbit/s, "
        return f"{rate}{trunk}, {len(network.devices)} devices"


def _drawn(picture: Picture) -> Drawn:
    return Drawn(picture.svg, picture.width, picture.height, picture.boxes)


def _list(formula: Formula, values: Mapping[str, Value]) -> list[Any]:
    found = formula.evaluate(values)
    if not isinstance(found, list | tuple):
        raise definition_error(formula.place, f"'{formula.text}' does not give a list.")
    return list(found)


def _devices(name: Any, amperes: Any, address: Any, place: Place) -> tuple[Device, ...]:
    """One device, or those of lists."""
    if not isinstance(name, list | tuple):
        return (Device(name, amperes, address),)
    addresses = [None] * len(name) if address is None else address
    rows = [name, amperes, addresses]
    if not all(isinstance(row, list | tuple) and len(row) == len(name) for row in rows):
        raise definition_error(
            place,
            f"{len(name)} devices at one drop need a list of as many currents.",
            "Write, for instance, device ['a', 'b'] and current [0.2, 0.3].",
        )
    return tuple(Device(*row) for row in zip(*rows, strict=True))


def _branches(rows: Any, place: Place) -> tuple[Drop, ...]:
    """The branches at a drop's end, from [length, device, current] each."""
    fit = isinstance(rows, list | tuple) and all(
        isinstance(row, list | tuple) and len(row) == 3 for row in rows
    )
    if not fit:
        raise definition_error(
            place,
            "the branches of a tap are a list of [length, device, current], or an empty list.",
            "Write, for instance, [[], [[2, 'filler scale', 0.2]], []].",
        )
    return tuple(
        Drop(length, _devices(name, amperes, None, place)) for length, name, amperes in rows
    )
