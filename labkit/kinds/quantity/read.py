"""Reading the kind `quantity`: a number with a unit."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from pydantic import Field

from labkit.doors.prepared import Prepared, Preparer
from labkit.kinds.common.number_data import NumberAsk, Slip
from labkit.kinds.common.read_apart import check_ids
from labkit.kinds.common.read_number import NumberFields, read_number_key
from labkit.lab.reading.field_reader import FieldReader
from labkit.lab.reading.fields import ExerciseFields, SlipFields, Text
from labkit.language.expression import Value
from labkit.language.stream import Stream


class QuantityFields(ExerciseFields, NumberFields):
    """`answer`, its span and `slips` count `unit`s."""

    answer: Text = Field(
        description="The formula of the right answer, without {{ }}, such as 2 * length."
    )
    unit: str = Field(
        description="The unit that the formula counts, such as m or A; left empty for a mere "
        "number."
    )
    slips: list[SlipFields] = Field(
        default_factory=list,
        description="Known mistakes: what each would answer, and what to tell.",
    )


class QuantityReader:
    """Reads a `quantity` exercise."""

    fields = QuantityFields

    def read(self, fields: QuantityFields, reader: FieldReader) -> Preparer:
        """The preparer of this exercise."""
        unit = reader.unit(fields.unit, "unit")
        number = read_number_key(fields.answer, unit, fields, reader)
        slips = [
            (
                slip.id,
                reader.formula(slip.answer, "slips", index, "answer"),
                reader.prose(slip.tell, "slips", index, "tell"),
            )
            for index, slip in enumerate(fields.slips)
        ]
        check_ids([slip.id for slip in fields.slips], "slip", reader, "slips")

        def prepare(values: Mapping[str, Value], _stream: Stream) -> Prepared:
            late: dict[str, Callable[[], Any]] = {"slips": lambda: worked_out(values)}
            if number.limit is not None:
                late["breaks"] = lambda: number.broken(values)
            ask: NumberAsk = {"unit": unit.symbol, **number.form}
            return Prepared(ask, number.right(values), late=late)

        def worked_out(values: Mapping[str, Value]) -> list[Slip[float]]:
            return [
                {"id": name, "value": formula.number(values), "tell": tell.render(values)}
                for name, formula, tell in slips
            ]

        return prepare
