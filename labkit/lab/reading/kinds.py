"""Exercise kinds, the reading half: which fields a kind has, and how they become an exercise."""

from __future__ import annotations

from typing import Any, Protocol, cast

from labkit.lab import plugins
from labkit.lab.definition import Preparer
from labkit.lab.reading.field_reader import FieldReader
from labkit.lab.reading.fields import ExerciseFields


class KindReader(Protocol):
    """How the fields of a kind are read."""

    fields: type[ExerciseFields]

    def read(self, fields: Any, reader: FieldReader) -> Preparer:
        """The function that prepares the exercise for a scenario. Raises `DefinitionError`."""


def reader_for(kind: str) -> KindReader:
    """The reader of an exercise kind. Raises `KeyError` for a kind that is not installed."""
    return cast(KindReader, plugins.load(plugins.READERS, kind)())
