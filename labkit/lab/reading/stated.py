"""Reading `sources:` and `difficulty:` — what a lab states about its values and its scenarios."""

from __future__ import annotations

from labkit.lab.definition import Constant, Difficulty
from labkit.lab.quantity import QuantityError, read_number
from labkit.lab.reading.field_reader import FieldReader
from labkit.lab.reading.fields import DifficultyFields, SourceFields


def read_constant(name: str, fields: SourceFields, reader: FieldReader) -> Constant:
    """Read one value with its source. Raises `DefinitionError` when it is not a number."""
    path = ("sources", name)
    try:
        value = read_number(fields.value)
    except QuantityError as error:
        raise reader.error(str(error), "", *path, "value") from error
    whole = value == value.to_integral_value()
    return Constant(
        name, int(value) if whole else float(value), fields.source.strip(), reader.place(*path)
    )


def read_difficulty(fields: DifficultyFields, reader: FieldReader) -> Difficulty:
    """Read how hard a scenario is. Raises `DefinitionError`."""
    formula = reader.formula(fields.formula, "difficulty", "formula")
    band = (fields.band[0], fields.band[1]) if fields.band else None
    return Difficulty(formula, band)
