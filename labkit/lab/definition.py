"""A lab as it stands after reading: data, formulas and prose, all known to fit together."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from decimal import Decimal
from enum import StrEnum
from typing import Any, Final

from labkit.doors.network import NetworkRecipe
from labkit.doors.prepared import Preparer
from labkit.language.expression import Formula, Language, Prose
from labkit.language.problems import Place
from labkit.language.tables import Row, Table

NETWORK: Final = "network"
"""The name that formulas know a scenario's network by."""


@dataclass(frozen=True, slots=True)
class Span:
    """An even grid of numbers from `first` to `last` in steps of `step`, both ends included."""

    first: Decimal
    last: Decimal
    step: Decimal

    @property
    def size(self) -> int:
        """How many numbers the grid has."""
        return int((self.last - self.first) / self.step) + 1

    def item(self, index: int) -> int | float:
        """The number at `index`, exact in decimal before it becomes a float."""
        value = self.first + index * self.step
        return int(value) if value == int(value) and not self._fractional else float(value)

    @property
    def _fractional(self) -> bool:
        return any(part != part.to_integral_value() for part in (self.first, self.step))


@dataclass(frozen=True, slots=True)
class Listing:
    """The values named one by one in the definition."""

    values: tuple[int | float | str, ...]

    @property
    def size(self) -> int:
        """How many values there are to choose from."""
        return len(self.values)

    def item(self, index: int) -> int | float | str:
        """The value at `index`."""
        return self.values[index]


@dataclass(frozen=True, slots=True, eq=False)
class Rows:
    """Rows of a table, each with its fields by name.

    `names` are the table's and those that chose among its rows.
    """

    rows: tuple[Row, ...]
    names: frozenset[str]

    @property
    def size(self) -> int:
        """How many rows there are to choose from."""
        return len(self.rows)

    def item(self, index: int) -> Row:
        """The row at `index`."""
        return self.rows[index]


@dataclass(frozen=True, slots=True)
class Parameter:
    """One drawn name: what it is drawn from, and how many (None: a single value)."""

    name: str
    place: Place
    choices: Span | Listing | Rows
    count: Formula | None = None
    different: bool = False

    @property
    def names(self) -> frozenset[str]:
        """The names that must be there before it can be drawn."""
        rows = self.choices.names if isinstance(self.choices, Rows) else frozenset()
        return rows | (self.count.names if self.count else frozenset())


@dataclass(frozen=True, slots=True)
class Rule:
    """What makes a scenario valid, and why."""

    formula: Formula
    because: str


@dataclass(frozen=True, slots=True)
class Constant:
    """A value that formulas know by a name, and the publication that it comes from."""

    name: str
    value: int | float
    source: str
    place: Place


@dataclass(frozen=True, slots=True)
class Scene:
    """A name of the scenery and the words that texts have for it."""

    name: str
    text: str
    place: Place


@dataclass(frozen=True, slots=True)
class Difficulty:
    """How hard a scenario is, as the lab's own formula counts it, and where that should lie."""

    formula: Formula
    band: tuple[float, float] | None = None


@dataclass(frozen=True, slots=True)
class Accepted:
    """A finding of proof-reading that the author lets stand, by its id, and why.

    `exercise` is "" for the lab as a whole. `of` names the slip, name or value that the finding is
    of; "" lets all of them stand.
    """

    finding: str
    because: str
    place: Place
    exercise: str = ""
    of: str = ""


class Noticed(StrEnum):
    """What reading notices of a lab that takes something from another.

    The value is the finding's id in proof.
    """

    caution_left_out = "caution-left-out"
    caution_kept = "caution-kept"
    section_by_heading = "section-by-heading"
    section_nearly_known = "section-nearly-known"
    taken = "taken-from"
    rule_not_taken = "rule-not-taken"
    another_version = "taken-of-another-version"


@dataclass(frozen=True, slots=True)
class Remark:
    """What reading noticed and let pass, for proof and the list of labs to tell."""

    what: Noticed
    place: Place
    sentence: str
    mend: str


@dataclass(frozen=True, slots=True)
class Hint:
    """A hint and what asking for it costs, in marks."""

    text: Prose
    costs: float


@dataclass(frozen=True, slots=True)
class Taken:
    """Where an exercise was taken from: the other lab's id and version, and the exercise there."""

    lab: str
    version: str
    exercise: str


@dataclass(frozen=True, slots=True)
class Exercise:
    """One question of a lab.

    `texts` are all formulas and prose of its block; `data` its fields as written; `where` tells
    the place of the field at a path; `taken` whence it is, where it is another lab's; `topic` what
    it practises, "" where it names none.
    """

    id: str
    kind: str
    title: Prose
    question: Prose
    marks: float
    hints: tuple[Hint, ...]
    working: Prose
    prepare: Preparer
    place: Place
    texts: tuple[Formula | Prose, ...] = ()
    data: Mapping[str, Any] = field(default_factory=dict, compare=False, repr=False)
    where: Callable[[tuple[str | int, ...]], Place] | None = field(
        default=None, compare=False, repr=False
    )
    accepted: tuple[Accepted, ...] = ()
    taken: Taken | None = None
    topic: str = ""

    def place_of(self, *path: str | int) -> Place:
        """Where the field at `path` stands; the exercise's own place if that is not known."""
        return self.where(path) if self.where else self.place


@dataclass(frozen=True, slots=True)
class Picture:
    """The place in the text where the scenario's network is drawn."""

    place: Place


@dataclass(frozen=True, slots=True)
class Lab:
    """A lab definition, read and checked.

    `digest` is the SHA-256 of its text; where it extends other labs (`extends`, the nearest
    first) or has exercises of others (`takes_from`), of all their texts. `texts` are the header's
    formulas, `accepted` what the header accepts, `remarks` what reading noticed. Where it has
    pictures or tables they are in the digest too, and `text_digest` is that without them. `orders`
    has, by name, what must be worked out before it, as far as it was asked for.
    """

    id: str
    version: str
    title: str
    summary: str
    minutes: int
    digest: str
    language: Language
    parameters: tuple[Parameter, ...]
    derived: Mapping[str, Formula]
    network: NetworkRecipe | None
    rules: tuple[Rule, ...]
    body: tuple[Prose | Exercise | Picture, ...]
    place: Place
    constants: Mapping[str, Constant] = field(default_factory=dict)
    difficulty: Difficulty | None = None
    texts: tuple[Formula, ...] = ()
    extends: tuple[str, ...] = ()
    takes_from: tuple[str, ...] = ()
    accepted: tuple[Accepted, ...] = ()
    orders: dict[str, tuple[str, ...]] = field(default_factory=dict, compare=False, repr=False)
    remarks: tuple[Remark, ...] = ()
    scenery: tuple[Scene, ...] = ()
    text_digest: str = ""
    tables: Mapping[str, Table] = field(default_factory=dict, repr=False)

    def known_by(self, digest: str) -> Lab | None:
        """The lab as it is known by a digest; None where that is not one of its own.

        What was dealt before pictures were carried is known by its texts alone.
        """
        if digest == self.digest:
            return self
        return replace(self, digest=digest) if digest and digest == self.text_digest else None

    @property
    def exercises(self) -> Sequence[Exercise]:
        """The exercises in the order of the text."""
        return [part for part in self.body if isinstance(part, Exercise)]

    @property
    def constant_values(self) -> dict[str, int | float]:
        """The constants by name, as formulas use them."""
        return {name: constant.value for name, constant in self.constants.items()}

    @property
    def table_rows(self) -> dict[str, list[Row]]:
        """The rows of the tables by the tables' names, as formulas use them."""
        return {name: list(table.rows) for name, table in self.tables.items() if table.rows}

    @property
    def marks(self) -> float:
        """The marks of all exercises together."""
        return sum(exercise.marks for exercise in self.exercises)
