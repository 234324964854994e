"""Reading the kind `quantity`: a number with a unit."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from decimal import Decimal
from typing import Annotated, Any, Final

from pydantic import Field

from labkit.lab.definition import Prepared, Preparer
from labkit.lab.expression import Value
from labkit.lab.quantity import QuantityError, read_number
from labkit.lab.reading.field_reader import FieldReader
from labkit.lab.reading.fields import ExerciseFields, SlipFields, Text
from labkit.lab.stream import Stream

MAX_TOLERANCE: Final = 10**9
_TOLERANCE: Final = re.compile(r"([\d.,]+)\s*(%?)")

# From the right value, in the exercise's unit, to how far off an answer may be.
Tolerance = Callable[[float], float]


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
        tolerance = _tolerance(fields, reader)
        slips = [
            (
                slip.id,
                reader.formula(slip.answer, "slips", index, "answer"),
                reader.prose(slip.tell, "slips", index, "tell"),
            )
            for index, slip in enumerate(fields.slips)
        ]
        _check_ids([slip.id for slip in fields.slips], reader)

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


def _tolerance(fields: QuantityFields, reader: FieldReader) -> Tolerance:
    text = fields.tolerance
    match = _TOLERANCE.fullmatch(text.strip())
    try:
        amount = read_number(match[1]) if match else Decimal(-1)
    except QuantityError:
        amount = Decimal(-1)
    if match is None or not 0 <= amount <= MAX_TOLERANCE:
        raise reader.error(
            f"'{text}' is not a tolerance.",
            "Write a number of units, such as 0.5, or a share, such as 2 %.",
            "tolerance",
        )
    size = float(amount)
    # Who rounds rightly to the decimals that are asked for is never wrong.
    half_a_digit = 0.5 / 10**fields.decimals
    if match[2]:
        return lambda value: max(abs(value) * size / 100, half_a_digit)
    return lambda _value: max(size, half_a_digit)


def _check_ids(ids: list[str], reader: FieldReader) -> None:
    for index, name in enumerate(ids):
        if name in ids[:index]:
            raise reader.error(
                f"the slip '{name}' is there twice.", "Give each its own id.", "slips", index, "id"
            )
