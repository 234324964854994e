"""Reading what a person marks by: criteria, each worth some of the exercise's marks."""

from __future__ import annotations

import math
from collections.abc import Sequence

from pydantic import Field

from labkit.kinds.common.rubric import RubricKey
from labkit.lab.reading.field_reader import FieldReader
from labkit.lab.reading.fields import ExerciseFields, Id, Marks, Strict, Text


class CriterionFields(Strict):
    """What earns marks, and how many of the exercise's."""

    id: Id = Field(description="Small letters, digits and '-'.")
    text: Text = Field(description="What you look for in the answer.")
    marks: Marks = Field(description="What it is worth; all together make the exercise's marks.")


def shares(
    marks: Sequence[float], fields: ExerciseFields, reader: FieldReader, field: str
) -> list[float]:
    """The share of each; raises `DefinitionError` unless they add up to the exercise's marks."""
    total = math.fsum(marks)
    if not math.isclose(total, fields.marks, rel_tol=1e-9):
        raise reader.error(
            f"the marks add up to {total:g}, but the exercise has {fields.marks:g}.",
            "Change the ones or the other.",
            field,
        )
    return [one / total for one in marks]


def rubric_key(
    ids: Sequence[str], texts: Sequence[str], parts: Sequence[float], model: str
) -> RubricKey:
    """The `key` of an exercise that a person marks."""
    return {
        "rubric": [
            {"id": name, "text": text, "marks_share": share}
            for name, text, share in zip(ids, texts, parts, strict=True)
        ],
        "model": model,
    }
