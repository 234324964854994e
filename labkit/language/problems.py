"""What is wrong in a lab definition, and where: file, line, field, and what would mend it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

from labkit.errors import LabkitError
from labkit.language.near import near

MOST_PROBLEMS: Final = 100
"""So many are told of one definition; the rest are counted."""
_LONGEST: Final = 2_000
_LONGEST_FIELD: Final = 300


@dataclass(frozen=True, slots=True)
class Place:
    """Where in a definition something stands: file name, line (from 1) and field."""

    file: str
    line: int
    field: str = ""

    def __post_init__(self) -> None:
        if len(self.field) > _LONGEST_FIELD:
            object.__setattr__(self, "field", _cut(self.field, _LONGEST_FIELD))

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

    def __post_init__(self) -> None:
        for name in ("message", "mend"):
            if len(getattr(self, name)) > _LONGEST:
                object.__setattr__(self, name, _cut(getattr(self, name), _LONGEST))

    def __str__(self) -> str:
        mend = f" {self.mend}" if self.mend else ""
        return f"{self.place}: {self.message}{mend}"


def _cut(text: str, longest: int) -> str:
    """Both ends of a text that is too long to be read: words stand round what was written."""
    half = longest // 2
    return f"{text[:half]} … {text[-half:]}"


def at_most(problems: Iterable[Problem]) -> tuple[Problem, ...]:
    """As many as can be read; of the others how many there are."""
    every = tuple(problems)
    told, more = every[:MOST_PROBLEMS], every[MOST_PROBLEMS:]
    if not more:
        return told
    rest = f"from here on there are {len(more)} more mistakes."
    return (*told, Problem(more[0].place, rest, "Mend those above first."))


class DefinitionError(LabkitError, ValueError):
    """A lab definition that cannot be used; `problems` lists everything found."""

    def __init__(self, problems: Iterable[Problem]) -> None:
        self.problems = at_most(problems)
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
