"""Reading the kind `quantity`: a number with a unit."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any

from pydantic import Field

from labkit.lab.definition import Prepared, Preparer
from labkit.lab.expression import Value
from labkit.lab.reading.field_reader import FieldReader
from labkit.lab.reading.fields import ExerciseFields, SlipFields, Text
from labkit.lab.reading.tolerance import Tolerance, tolerance_written
from labkit.lab.stream import Stream


class QuantityFields(ExerciseFields):
    """`answer` and `slips` count `unit`s; `tolerance` is a number of units or a percentage.

    An answer that is rounded rightly to `decimals` is accepted whatever the tolerance.
    """

    answer: Text
    unit: str
    tolerance: str = "1 %"
    decimals: Annotated[int, Field(ge=0, le=9)] = 2
    slips: list[SlipFields] = Field(default_factory=list)


class QuantityReader:
    """Reads a `quantity` exercise."""

    fields = QuantityFields

    def read(self, fields: QuantityFields, reader: FieldReader) -> Preparer:
        """The preparer of this exercise."""
        unit = reader.unit(fields.unit, "unit")
        answer = reader.formula(fields.answer, "answer")
        tolerance = read_tolerance(fields.tolerance, fields.decimals, reader)
        slips = [
            (
                slip.id,
                reader.formula(slip.answer, "slips", index, "answer"),
                reader.prose(slip.tell, "slips", index, "tell"),
            )
            for index, slip in enumerate(fields.slips)
        ]
        check_slip_ids([slip.id for slip in fields.slips], reader)

        def prepare(values: Mapping[str, Value], _stream: Stream) -> Prepared:
            value = answer.number(values)
            key: dict[str, Any] = {
                "value": value,
                "tolerance": tolerance(value),
                "decimals": fields.decimals,
            }
            return Prepared({"unit": unit.symbol}, key, late={"slips": lambda: worked_out(values)})

        def worked_out(values: Mapping[str, Value]) -> list[dict[str, Any]]:
            return [
                {"id": name, "value": formula.number(values), "tell": tell.render(values)}
                for name, formula, tell in slips
            ]

        return prepare


def read_tolerance(text: str, decimals: int, reader: FieldReader, *path: str | int) -> Tolerance:
    """How far off an answer may be, from the `tolerance` written among the fields at `path`."""
    allowed = tolerance_written(text, reader, *path, "tolerance")
    # Who rounds rightly to the decimals that are asked for is never wrong.
    half_a_digit = 0.5 / 10**decimals
    return lambda value: max(allowed(value), half_a_digit)


def check_slip_ids(ids: list[str], reader: FieldReader, *path: str | int) -> None:
    """Refuse a slip's id that is there twice among the `slips` of the fields at `path`."""
    for index, name in enumerate(ids):
        if name in ids[:index]:
            raise reader.error(
                f"the slip '{name}' is there twice.",
                "Give each its own id.",
                *(*path, "slips", index, "id"),
            )
