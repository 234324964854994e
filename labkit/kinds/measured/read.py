"""Reading the kind `measured`: a value measured on the real bench.

What the parts allow is worked out from the formula for the nominal value: each part is set to the
lowest and to the highest value that its tolerance leaves it, in all combinations, and the smallest
and largest results are taken. This is exact wherever the formula only rises or only falls with
each part, as it does for parts in series and in parallel.
"""

from __future__ import annotations

from collections import ChainMap
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from itertools import product
from typing import Annotated, Final

from pydantic import Field

from labkit.doors.prepared import Prepared, Preparer
from labkit.kinds.common.read_apart import check_ids
from labkit.kinds.common.read_tolerance import Tolerance, tolerance_written
from labkit.kinds.measured.data import MeasuredAsk, MeasuredKey, MeterData, OutsideRange
from labkit.lab.reading.field_reader import FieldReader
from labkit.lab.reading.fields import ExerciseFields, Id, Name, Strict, Text
from labkit.language.expression import Formula, Value
from labkit.language.number import QuantityError, read_number
from labkit.language.problems import Place, definition_error
from labkit.language.stream import Stream

MAX_PARTS: Final = 6
MAX_SHARE: Final = 0.5
_EDGE: Final = 1e-9

Bounds = Callable[[Mapping[str, Value]], tuple[float, float, float]]
"""From names to the nominal, lowest and highest true value."""


class PartFields(Strict):
    """A real part: its nominal value, and its tolerance in its own units or in %."""

    value: Text
    tolerance: Text


class MeterFields(Strict):
    """A meter as its data sheet says it: % of the reading, and digits of the resolution."""

    id: Id = Field(description="Small letters, digits and '-'.")
    text: Text = Field(description="What the trainee knows it by.")
    of_reading: Text = Field(
        default="0 %", description="Per cent of the reading, as its data sheet says."
    )
    digits: Annotated[int, Field(ge=0, le=1_000)] = Field(
        default=0, description="Digits, as its data sheet says."
    )
    resolution: Text = Field(description="The step of its last digit, in the unit.")


class OutsideFields(Strict):
    """What a reading from `from` to `to` usually means; one of the two may be left open."""

    id: Id = Field(description="Small letters, digits and '-'.")
    low: Text | None = Field(default=None, alias="from", description="A formula: from here on.")
    high: Text | None = Field(default=None, alias="to", description="A formula: up to here.")
    tell: Text = Field(description="What such a reading usually means.")


class MeasuredFields(ExerciseFields):
    """`nominal` may use the names under `parts`; `low` and `high` may be given instead of parts."""

    unit: str = Field(description="The unit of the reading, such as ohm.")
    nominal: Text = Field(
        description="The formula of the expected reading; it may use the names of the parts."
    )
    parts: dict[Name, PartFields] = Field(
        default={},
        max_length=MAX_PARTS,
        description="A name a line: first: {value: 121, tolerance: 1 %}",
    )
    low: Text | None = Field(
        default=None, description="A formula, in place of parts: the lowest reading."
    )
    high: Text | None = Field(
        default=None, description="A formula, in place of parts: the highest reading."
    )
    meters: list[MeterFields] = Field(
        min_length=1, max_length=6, description="With several of them the trainee chooses theirs."
    )
    outside: list[OutsideFields] = Field(
        default=[], max_length=20, description="What readings out there usually mean."
    )
    caution: Text | None = Field(
        default=None,
        description="A caution that always stands there. Give one where the work can hurt "
        "somebody.",
    )


@dataclass(frozen=True, slots=True)
class _Range:
    id: str
    low: Formula | None
    high: Formula | None
    tell: Callable[[Mapping[str, Value]], str]

    def prepare(self, values: Mapping[str, Value]) -> OutsideRange:
        low = self.low.number(values) if self.low else None
        high = self.high.number(values) if self.high else None
        if self.low and low is not None and high is not None and low > high:
            raise definition_error(
                self.low.place, f"{low:g} is above 'to' ({high:g}).", "Exchange them."
            )
        return {"id": self.id, "low": low, "high": high, "tell": self.tell(values)}


class MeasuredReader:
    """Reads a `measured` exercise."""

    fields = MeasuredFields

    def read(self, fields: MeasuredFields, reader: FieldReader) -> Preparer:
        """The preparer of this exercise."""
        unit = reader.unit(fields.unit, "unit")
        bounds = _bounds(fields, reader)
        check_ids([meter.id for meter in fields.meters], "meter", reader, "meters")
        meters = {
            meter.id: _meter(meter, reader, "meters", index)
            for index, meter in enumerate(fields.meters)
        }
        names = [
            (meter.id, reader.prose(meter.text, "meters", index, "text"))
            for index, meter in enumerate(fields.meters)
        ]
        ranges = _ranges(fields, reader)
        caution = reader.prose(fields.caution, "caution") if fields.caution else None

        def prepare(values: Mapping[str, Value], _stream: Stream) -> Prepared:
            nominal, low, high = bounds(values)
            ask: MeasuredAsk = {
                "unit": unit.symbol,
                "meters": [{"id": name, "text": text.render(values)} for name, text in names],
                "caution": caution.render(values) if caution else "",
            }
            key: MeasuredKey = {
                "nominal": nominal,
                "low": low,
                "high": high,
                "meters": meters,
                "outside": [range_.prepare(values) for range_ in ranges],
            }
            return Prepared(ask, key)

        return prepare


def _bounds(fields: MeasuredFields, reader: FieldReader) -> Bounds:
    if (fields.low is None) != (fields.high is None):
        given, missing = ("low", "high") if fields.high is None else ("high", "low")
        raise reader.error(f"'{missing}' is missing.", "Give both, or neither.", given)
    if fields.low is not None and fields.high is not None:
        if fields.parts:
            raise reader.error(
                "the parts are there, and 'low' and 'high' too.", "Keep one of the two.", "parts"
            )
        return _given_bounds(
            reader.formula(fields.nominal, "nominal"),
            reader.formula(fields.low, "low"),
            reader.formula(fields.high, "high"),
        )
    if not fields.parts:
        raise reader.error(
            "it is not said what the real parts allow.",
            "Name the parts with their tolerances under 'parts', or give 'low' and 'high'.",
            "nominal",
        )
    return _bounds_of_parts(fields, reader)


def _given_bounds(nominal: Formula, low: Formula, high: Formula) -> Bounds:
    def bounds(values: Mapping[str, Value]) -> tuple[float, float, float]:
        middle, least, most = (formula.number(values) for formula in (nominal, low, high))
        if not least <= middle <= most:
            raise definition_error(
                nominal.place,
                f"{middle:g} is not between 'low' ({least:g}) and 'high' ({most:g}).",
                "Check the three formulas.",
            )
        return middle, least, most

    return bounds


def _bounds_of_parts(fields: MeasuredFields, reader: FieldReader) -> Bounds:
    parts: list[tuple[str, Formula, Tolerance]] = []
    for name, part in fields.parts.items():
        if name in reader.known or reader.language.taken(name):
            raise reader.error(
                f"'{name}' is a name of the lab already.", "Give the part another.", "parts", name
            )
        value = reader.formula(part.value, "parts", name, "value")
        parts.append(
            (name, value, tolerance_written(part.tolerance, reader, "parts", name, "tolerance"))
        )
    place = reader.place("nominal")
    nominal = reader.language.formula(fields.nominal, place, {*reader.known, *fields.parts})
    _every_part_counts(nominal, [name for name, _, _ in parts], reader)

    def bounds(values: Mapping[str, Value]) -> tuple[float, float, float]:
        middles = {name: formula.number(values) for name, formula, _ in parts}
        spreads = {name: tolerance(middles[name]) for name, _, tolerance in parts}
        ends = [(middles[name] - spreads[name], middles[name] + spreads[name]) for name in middles]
        corners = [
            nominal.number(_with(dict(zip(middles, corner, strict=True)), values))
            for corner in product(*ends)
        ]
        middle = nominal.number(_with(middles, values))
        return middle, *_around(middle, min(corners), max(corners), place)

    return bounds


def _with(parts: dict[str, float], values: Mapping[str, Value]) -> Mapping[str, Value]:
    # Not a copy: a scenario works its names out only when a formula asks for one.
    return ChainMap(parts, values)  # type: ignore[arg-type]


def _around(middle: float, low: float, high: float, place: Place) -> tuple[float, float]:
    if not low - _EDGE * abs(low) <= middle <= high + _EDGE * abs(high):
        raise definition_error(
            place,
            f"{middle:g} is not between what the parts' extremes give ({low:g} to {high:g}): the "
            "formula does not only rise or only fall with each part.",
            "Give 'low' and 'high' instead of 'parts'.",
        )
    return min(low, middle), max(high, middle)


def _every_part_counts(nominal: Formula, parts: list[str], reader: FieldReader) -> None:
    for name in parts:
        if name not in nominal.names:
            raise reader.error(
                f"'nominal' does not use the part '{name}'.", "Use it, or drop it.", "parts", name
            )


def _ranges(fields: MeasuredFields, reader: FieldReader) -> list[_Range]:
    check_ids([item.id for item in fields.outside], "range", reader, "outside")
    ranges = []
    for index, item in enumerate(fields.outside):
        path = ("outside", index)
        if item.low is None and item.high is None:
            raise reader.error(
                "it is not said which readings are meant.", "Add 'from', 'to' or both.", *path
            )
        low = reader.formula(item.low, *path, "from") if item.low is not None else None
        high = reader.formula(item.high, *path, "to") if item.high is not None else None
        ranges.append(_Range(item.id, low, high, reader.prose(item.tell, *path, "tell").render))
    return ranges


def _meter(meter: MeterFields, reader: FieldReader, *path: str | int) -> MeterData:
    if not meter.of_reading.strip().endswith("%"):
        raise reader.error(
            f"'{meter.of_reading}' is not a share.",
            "Write it in %, such as 0.5 %.",
            *path,
            "of_reading",
        )
    share = tolerance_written(meter.of_reading, reader, *path, "of_reading")(1.0)
    if share > MAX_SHARE:
        raise reader.error(
            f"{meter.of_reading} of the reading is no meter.",
            "Write 50 % at most.",
            *path,
            "of_reading",
        )
    return {
        "share": share,
        "digits": meter.digits,
        "resolution": _resolution(meter.resolution, reader, *path, "resolution"),
    }


def _resolution(text: str, reader: FieldReader, *path: str | int) -> float:
    try:
        value = float(read_number(text))
    except QuantityError as error:
        raise reader.error(str(error), "", *path) from error
    if not 1e-9 <= value <= 1e9:
        raise reader.error(
            f"'{text}' is not a resolution.",
            "Write the step of the meter's last digit, such as 0.1, in the exercise's unit.",
            *path,
        )
    return value
