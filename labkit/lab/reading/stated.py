"""Reading `sources:`, `difficulty:` and `accepted:`: what a lab states about itself."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from labkit.lab.definition import Accepted, Constant, Difficulty
from labkit.lab.reading.field_reader import FieldReader
from labkit.lab.reading.fields import AcceptedFields, DifficultyFields, SourceFields
from labkit.language.problems import Place


def read_constant(name: str, fields: SourceFields, reader: FieldReader) -> Constant:
    """Read one value with its source. Raises `DefinitionError` when it is not a number."""
    path = ("sources", name)
    value = reader.number(fields.value, *path, "value")
    whole = value == value.to_integral_value()
    return Constant(
        name, int(value) if whole else float(value), fields.source.strip(), reader.place(*path)
    )


def read_difficulty(fields: DifficultyFields, reader: FieldReader) -> Difficulty:
    """Read how hard a scenario is. Raises `DefinitionError`."""
    formula = reader.formula(fields.formula, "difficulty", "formula")
    band = (fields.band[0], fields.band[1]) if fields.band else None
    return Difficulty(formula, band)


def read_accepted(
    items: Sequence[AcceptedFields], place: Callable[[int], Place], exercise: str = ""
) -> tuple[Accepted, ...]:
    """Read what may stand at `exercise`, or where each item says; `place` tells where one is.

    Whether there is such a finding only proof-reading can tell.
    """
    return tuple(
        Accepted(
            finding=item.finding.strip(),
            because=" ".join(item.because.split()),
            place=place(index),
            exercise=exercise or getattr(item, "exercise", ""),
            of=item.of.strip(),
        )
        for index, item in enumerate(items)
    )
