"""What is wrong in a lab definition, and where: file, line, field, and what would mend it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from labkit.errors import LabkitError
from labkit.language.near import near


@dataclass(frozen=True, slots=True)
class Place:
    """Where in a definition something stands: file name, line (from 1) and field."""

    file: str
    line: int
    field: str = ""

    def at(self, field: str) -> Place:
        """The same line, with another field name."""
        return Place(self.file, self.line, field)

    def __str__(self) -> str:
        field = f", field '{self.field}'" if self.field else ""
        return f"{self.file}, line {self.line}{field}"


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing wrong in a definition, with a mend."""

    place: Place
    message: str
    mend: str = ""

    def __str__(self) -> str:
        mend = f" {self.mend}" if self.mend else ""
        return f"{self.place}: {self.message}{mend}"


class DefinitionError(LabkitError, ValueError):
    """A lab definition that cannot be used; `problems` lists everything found."""

    def __init__(self, problems: Iterable[Problem]) -> None:
        self.problems = tuple(problems)
        super().__init__("\n".join(str(problem) for problem in self.problems))

    def __reduce__(self) -> tuple[type[DefinitionError], tuple[tuple[Problem, ...]]]:
        # An error of another process arrives with its problems, not with their text alone.
        return type(self), (self.problems,)


def definition_error(place: Place, message: str, mend: str = "") -> DefinitionError:
    """A `DefinitionError` of one problem."""
    return DefinitionError([Problem(place, message, mend)])


def nearest(name: str, known: Iterable[str]) -> str:
    """A sentence that offers the known name that is meant, or lists what is known."""
    names = sorted(known)
    close = near(name, names)
    if close:
        return f"Did you mean '{close}'?"
    if not names:
        return ""
    shown = ", ".join(names[:20])
    return f"Known here: {shown}{', …' if len(names) > 20 else ''}."
