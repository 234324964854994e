"""What a kind's reader is given: the fields of one block, and the lab's language to read them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import TypeVar

from labkit.doors.family import FIRST_FAMILY
from labkit.doors.installed import NotOfferedError
from labkit.lab.reading.source import Fields
from labkit.language.expression import Formula, Language, Prose
from labkit.language.number import QuantityError
from labkit.language.problems import DefinitionError, Place, Problem
from labkit.language.quantity import Unit, unit_named

Part = TypeVar("Part")


@dataclass(frozen=True, slots=True)
class FieldReader:
    """Reads formulas, prose and units out of fields, so that each error carries its place.

    `texts` keeps every formula and prose that was read; `family` is that of the lab's network.
    """

    fields: Fields
    language: Language
    known: frozenset[str]
    label: str = ""
    texts: list[Formula | Prose] = field(default_factory=list)
    family: str = FIRST_FAMILY

    def place(self, *path: str | int) -> Place:
        """Where the field at `path` stands."""
        return self.fields.place(path, self.label)

    def formula(self, text: str, *path: str | int) -> Formula:
        """The formula written at `path`."""
        formula = self.language.formula(text, self.place(*path), self.known)
        self.texts.append(formula)
        return formula

    def prose(self, text: str, *path: str | int) -> Prose:
        """The prose written at `path`."""
        prose = self.language.prose(text, self.place(*path), self.known)
        self.texts.append(prose)
        return prose

    def unit(self, text: str, *path: str | int) -> Unit:
        """The unit written at `path`."""
        try:
            return unit_named(text)
        except QuantityError as error:
            raise self.error(str(error), "", *path) from error

    def of_family(self, part_for: Callable[[str], Part]) -> Part:
        """A part of the lab's family, as `labkit.doors.installed` finds it.

        Raises `DefinitionError` where the family leaves it out.
        """
        try:
            return part_for(self.family)
        except NotOfferedError as error:
            raise self.error(
                f"needs the {error.what} of a network family, and '{self.family}' has none.",
                "Ask something else of this network.",
                "kind",
            ) from error

    def error(self, message: str, mend: str, *path: str | int) -> DefinitionError:
        """An error at `path`."""
        return DefinitionError([Problem(self.place(*path), message, mend)])
