"""Reading the kind `whole_plan`: what the plan is made for."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from pydantic import Field

from labkit.doors.installed import plans_for
from labkit.doors.plans import Site, SiteDevice, SitePiece
from labkit.doors.prepared import Prepared, Preparer
from labkit.fieldbus.errors import PlanError
from labkit.kinds.common.byte_areas import names_of, numbers_of
from labkit.kinds.common.of_family import say_family
from labkit.kinds.whole_plan.data import WholePlanAsk
from labkit.lab.reading.field_reader import FieldReader
from labkit.lab.reading.fields import ExerciseFields, Strict, Text
from labkit.language.expression import Formula, Value
from labkit.language.problems import definition_error
from labkit.language.stream import Stream

MOST_DEVICES = 10
"""More would not fit a page, and take a bench long to build."""


class PieceFields(Strict):
    """A piece of the trunk's way."""

    length: Text = Field(description="A formula: metres.")
    cables: list[str] = Field(
        min_length=1, max_length=3, description="The cables it may be laid in: thick, thin."
    )


class WholePlanFields(ExerciseFields):
    """Lists of one length about the devices, in trunk order; what is at hand."""

    pieces: list[PieceFields] = Field(
        min_length=1, max_length=4, description="The trunk from left to right."
    )
    devices: Text = Field(description="A formula: names, from left to right.")
    scanner: Text = Field(description="Prose: which of them is the scanner.")
    at: Text = Field(description="A formula: the tap of each, m from the left end.")
    way: Text = Field(description="A formula: metres from each tap to its device.")
    current: Text = Field(description="A formula: what each draws, A.")
    inputs: Text = Field(description="A formula: input bytes of each; the scanner's 0.")
    outputs: Text = Field(description="A formula: output bytes of each; the scanner's 0.")
    writes: Text | None = Field(
        default=None,
        description="A formula: the first byte the program writes for each. Without it one device "
        "follows the other.",
    )
    reads: Text | None = Field(
        default=None,
        description="A formula: the first byte the program reads of each. Without it one device "
        "follows the other.",
    )
    drops: Text = Field(description="A formula: the lengths of drop cable at hand, m.")
    supplies: Text = Field(description="A formula: the supplies at hand, A.")
    rates: Text | None = Field(
        default=None, description="A formula: the data rates that may be chosen."
    )
    free: Text | None = Field(
        default=None, description="A formula: node addresses that stay free, such as [63]."
    )


class WholePlanReader:
    """Reads a `whole_plan` exercise."""

    fields = WholePlanFields

    def read(self, fields: WholePlanFields, reader: FieldReader) -> Preparer:
        """The preparer of this exercise."""
        plans = reader.of_family(plans_for)
        formulas = {
            name: reader.formula(text, name)
            for name in ("devices", "at", "way", "current", "inputs", "outputs", "writes", "reads",
                         "drops", "supplies", "rates", "free")
            if (text := getattr(fields, name)) is not None
        }  # fmt: skip
        scanner = reader.prose(fields.scanner, "scanner")
        lengths = [
            reader.formula(piece.length, "pieces", index, "length")
            for index, piece in enumerate(fields.pieces)
        ]
        for index, piece in enumerate(fields.pieces):
            for cable in piece.cables:
                if cable not in plans.cables:
                    known = ", ".join(plans.cables)
                    raise reader.error(
                        f"there is no cable '{cable}'.", f"Choose of {known}.", "pieces", index,
                        "cables",
                    )  # fmt: skip
        place = reader.place("devices")

        def prepare(values: Mapping[str, Value], _stream: Stream) -> Prepared:
            names = names_of(formulas["devices"], values)
            if not 2 <= len(names) <= MOST_DEVICES:
                raise definition_error(place, f"a whole plan has 2 to {MOST_DEVICES} devices.")
            columns = _columns(formulas, values, len(names))
            site = Site(
                tuple(
                    SitePiece(_metres(length, values), tuple(piece.cables))
                    for length, piece in zip(lengths, fields.pieces, strict=True)
                ),
                tuple(
                    SiteDevice(name, *row)
                    for name, row in zip(names, zip(*columns, strict=True), strict=True)
                ),
                scanner.render(values),
                _whole_list(formulas, "rates", values, plans.rates),
                _numbers(formulas["drops"], values),
                _numbers(formulas["supplies"], values),
                _whole_list(formulas, "free", values, ()),
            )
            if site.scanner not in names:
                raise definition_error(scanner.place, f"'{site.scanner}' is none of the devices.")
            try:
                plans.good_plan(site)
            except PlanError as error:
                raise definition_error(place, str(error)) from error
            ask: WholePlanAsk = {"site": site.to_json()}
            say_family(ask, reader.family)
            return Prepared(ask, {})

        return prepare


def _columns(
    formulas: Mapping[str, Formula], values: Mapping[str, Value], count: int
) -> list[tuple[Any, ...]]:
    columns: list[tuple[Any, ...]] = [
        _numbers(formulas[name], values, count) for name in ("at", "way", "current")
    ]
    inputs, outputs = (
        tuple(numbers_of(formulas[name], values, count)) for name in ("inputs", "outputs")
    )
    writes = _starts(formulas, "writes", values, outputs)
    return [*columns, inputs, outputs, writes, _starts(formulas, "reads", values, inputs)]


def _starts(
    formulas: Mapping[str, Formula], name: str, values: Mapping[str, Value], sizes: tuple[int, ...]
) -> tuple[int, ...]:
    """First bytes: as they are given, or one device after the other."""
    if name in formulas:
        return tuple(numbers_of(formulas[name], values, len(sizes)))
    return tuple(sum(sizes[:number]) for number in range(len(sizes)))


def _metres(formula: Formula, values: Mapping[str, Value]) -> float:
    return _number(formula, formula.evaluate(values))


def _numbers(
    formula: Formula, values: Mapping[str, Value], count: int | None = None
) -> tuple[float, ...]:
    found = formula.evaluate(values)
    if not isinstance(found, list | tuple) or not found or count not in (None, len(found)):
        raise definition_error(
            formula.place,
            f"'{formula.text}' does not give a list of {count or 'some'} numbers.",
            "One for each device belongs here." if count else "",
        )
    return tuple(_number(formula, each) for each in found)


def _number(formula: Formula, found: Any) -> float:
    fit = isinstance(found, int | float) and not isinstance(found, bool) and math.isfinite(found)
    if not fit or found < 0:
        raise definition_error(formula.place, f"'{formula.text}' gives {found!r:.60}, no length.")
    return found  # type: ignore[no-any-return]


def _whole_list(
    formulas: Mapping[str, Formula],
    name: str,
    values: Mapping[str, Value],
    otherwise: Any,
) -> tuple[int, ...]:
    if name not in formulas:
        return tuple(otherwise)
    found = formulas[name].evaluate(values)
    items = found if isinstance(found, list | tuple) else [found]
    return tuple(_whole(formulas[name], each) for each in items)


def _whole(formula: Formula, found: Any) -> int:
    """A whole number."""
    if isinstance(found, bool) or not isinstance(found, int):
        raise definition_error(formula.place, f"'{formula.text}' gives {found!r:.60}.")
    return found
