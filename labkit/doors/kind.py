"""An exercise kind: one folder, one entry point, and what each of its parts must offer."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Protocol

from labkit.doors.prepared import Preparer


@dataclass(frozen=True, slots=True)
class Kind:
    """What an entry point of the group `labkit.kinds` names: where a kind's parts are.

    Each part is a class, as "package.module:Class". A part is loaded only where it is needed, so
    the module that holds this value imports none of them.
    """

    check: str
    """A `Check`: pure Python, for it also runs at the trainee's laptop."""
    read: str
    """A `KindReader`."""
    page: str
    """A subclass of `labkit.doors.page.ExercisePage`."""
    does: str = ""
    """What a trainee does, for an author who looks for a kind: "chooses one of several"."""


class KindReader(Protocol):
    """How the fields of a kind are read."""

    fields: type[Any]
    """A pydantic model, derived from `ExerciseFields` of `labkit.lab.reading.fields`."""

    def read(self, fields: Any, reader: Any) -> Preparer:
        """The function that prepares the exercise for a scenario. Raises `DefinitionError`.

        `reader` is the `FieldReader` of `labkit.lab.reading`.
        """
