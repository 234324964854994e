"""Reading which numbers are right: near a value, from a least upwards, whole ones only.

The exercise kind `quantity` and the number cells of a table have the same fields for it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated, Final, Literal

from pydantic import Field

from labkit.kinds.common.number_data import NumberForm, RightNumber
from labkit.kinds.common.read_tolerance import Tolerance, tolerance_written
from labkit.lab.reading.field_reader import FieldReader
from labkit.lab.reading.fields import Strict, Text
from labkit.language.expression import Formula, Prose, Value
from labkit.language.number import THREE
from labkit.language.problems import definition_error
from labkit.language.quantity import Unit

Names = Mapping[str, Value]

_TOLERANCE: Final = "1 %"
_DECIMALS: Final = 2
_NOISE: Final = 1e-9


class NumberFields(Strict):
    """`tolerance` is a number of units or a percentage; `up to` or `down to` make it one-sided.

    An answer that is rounded rightly to `decimals` is accepted whatever the tolerance.
    """

    tolerance: str | None = Field(
        default=None,
        description="How far off may be right: a number in the unit, or in %. 1 % if you say "
        "nothing; with 'whole' nothing.",
    )
    decimals: Annotated[int | None, Field(ge=0, le=9)] = Field(
        default=None,
        description="Decimals of the answer that is shown; an answer rounded to so many is "
        "right. 2 if you say nothing.",
    )
    up_to: Text | None = Field(
        default=None,
        alias="up to",
        description="A formula: where the answer is the least that is right, the most that is "
        "still sensible.",
    )
    down_to: Text | None = Field(
        default=None,
        alias="down to",
        description="A formula: where the answer is the most that is right, the least that is "
        "still sensible.",
    )
    breaks: Text | None = Field(
        default=None, description="What is told to who breaks the rule of 'up to' or 'down to'."
    )
    whole: bool = Field(default=False, description="Only a whole number is right.")

    @property
    def one_sided_or_whole(self) -> str:
        """The first field here, as it is written, that only a number with a unit may have."""
        given = {"up to": self.up_to, "down to": self.down_to, "breaks": self.breaks}
        return next((name for name, text in given.items() if text), "whole" if self.whole else "")


@dataclass(frozen=True, slots=True)
class NumberFormulas:
    """Which numbers are right, as read from the fields; gives the parts of ask and key."""

    answer: Formula
    tolerance: Tolerance
    decimals: int
    whole: bool
    end: Literal["up_to", "down_to"]
    limit: Formula | None
    breaks: Prose | None

    @property
    def form(self) -> NumberForm:
        """What is asked for besides the unit, where it helps to read what is written."""
        if self.whole:
            return {"whole": True}
        return {"decimals": self.decimals} if self.decimals >= THREE else {}

    def right(self, names: Names) -> RightNumber:
        """The span. Raises `DefinitionError`: a part of a whole number, or an empty span."""
        value = self.answer.number(names)
        if self.whole:
            value = self._whole(value)
        right: RightNumber = {
            "value": value,
            "tolerance": self.tolerance(value),
            "decimals": self.decimals,
        }
        if self.limit is None:
            return right
        limit = self.limit.number(names)
        if (limit - value if self.end == "up_to" else value - limit) < -_NOISE:
            raise definition_error(
                self.limit.place,
                f"'{self.limit.text}' gives {limit:.10g}, on the wrong side of the answer, "
                f"{value:.10g}: no number would be right.",
                "Change the formula, or keep such draws out with a rule in 'valid'.",
            )
        right[self.end] = limit
        return right

    def broken(self, names: Names) -> str:
        """What to tell where the rule is broken, of a number with one."""
        return self.breaks.render(names) if self.breaks else ""

    def _whole(self, value: float) -> float:
        if abs(value - round(value)) > _NOISE * max(1.0, abs(value)):
            raise definition_error(
                self.answer.place,
                f"'{self.answer.text}' gives {value:.10g}, but a whole number is asked for.",
                "Round it in the formula: round(x), up by ceil(x), down by floor(x).",
            )
        return float(round(value))


def read_number_key(
    answer: str, unit: Unit, fields: NumberFields, reader: FieldReader, *path: str | int
) -> NumberFormulas:
    """The key of the number whose fields stand at `path`. Raises `DefinitionError`."""
    if fields.up_to is not None and fields.down_to is not None:
        raise reader.error(
            "an answer has one end that a rule sets, the least or the most.",
            "Keep 'up to' (the answer is the least) or 'down to' (it is the most).",
            *(*path, "down to"),
        )
    end, written = ("up to", fields.up_to) if fields.up_to else ("down to", fields.down_to)
    if written is None and fields.breaks is not None:
        raise reader.error(
            "is told when a one-sided answer breaks its rule.",
            "Add 'up to' or 'down to', or take it out.",
            *(*path, "breaks"),
        )
    if fields.whole and fields.decimals:
        raise reader.error("whole numbers have no decimals.", "Keep one.", *(*path, "decimals"))
    decimals = 0 if fields.whole else _DECIMALS if fields.decimals is None else fields.decimals
    formula = reader.formula(answer, *path, "answer")
    reader.check_unit(formula, unit, *path, "unit")
    return NumberFormulas(
        answer=formula,
        tolerance=_tolerance(fields, decimals, reader, *path),
        decimals=decimals,
        whole=fields.whole,
        end="up_to" if fields.up_to else "down_to",
        limit=None if written is None else reader.formula(written, *path, end),
        breaks=None if fields.breaks is None else reader.prose(fields.breaks, *path, "breaks"),
    )


def _tolerance(
    fields: NumberFields, decimals: int, reader: FieldReader, *path: str | int
) -> Tolerance:
    """How far off an answer may be."""
    written = fields.tolerance or ("0" if fields.whole else _TOLERANCE)
    allowed = tolerance_written(written, reader, *path, "tolerance")
    if fields.whole:
        return allowed
    # Who rounds rightly to the decimals that are asked for is never wrong.
    half_a_digit = 0.5 / 10**decimals
    return lambda value: max(allowed(value), half_a_digit)
