"""A lab as it stands after reading: data, formulas and prose, all known to fit together."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any, Final, Protocol

from labkit.language.expression import Formula, Language, Prose, Value
from labkit.language.problems import Place
from labkit.language.stream import Stream

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


@dataclass(frozen=True, slots=True)
class Parameter:
    """One drawn name: what it is drawn from, and how many (None: a single value)."""

    name: str
    place: Place
    choices: Span | Listing
    count: Formula | None = None
    different: bool = False


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


class NetworkRecipe(Protocol):
    """How a lab's network is made from its names; a network family's reader returns one."""

    @property
    def names(self) -> frozenset[str]:
        """The names that its formulas use."""

    def build(self, values: Mapping[str, Value]) -> Any:
        """The network, as an object of the family's own. Raises `DefinitionError`."""

    def draw(self, network: Any) -> str:
        """The network as an SVG picture without answers in it."""

    def facts(self, network: Any) -> str:
        """One line that tells the network apart, with its numbers."""


class Prepared:
    """An exercise for one scenario: `ask` is for the trainee, `key` is for the checker.

    Both are plain JSON data. Nothing of `key` may ever be in `ask`. `late` are parts of the key
    that only a wrong answer needs: each is worked out when it is first read. Where an assessed
    trainee needs more than `ask` because the workbook must not know `key` (readings taken
    beforehand), `assessed` makes it; the task file adds it to `ask`.
    """

    __slots__ = ("_key", "_late", "ask", "assessed")

    def __init__(
        self,
        ask: dict[str, Any],
        key: dict[str, Any],
        *,
        late: Mapping[str, Callable[[], Any]] | None = None,
        assessed: Callable[[], dict[str, Any]] | None = None,
    ) -> None:
        self.ask = ask
        self._key = key
        self._late = late
        self.assessed = assessed

    @property
    def early_key(self) -> dict[str, Any]:
        """The key without its late parts."""
        return self._key

    @property
    def key(self) -> dict[str, Any]:
        """The whole key."""
        late = {name: part() for name, part in (self._late or {}).items()}
        return {**self._key, **late} if late else self._key

    @property
    def key_as_needed(self) -> dict[str, Any]:
        """The key for a check, whose late parts are worked out when the check reads them.

        Not for writing to a file: what was not read is not in it.
        """
        return _LateKey(self._key, self._late) if self._late else self._key


class _LateKey(dict[str, Any]):
    def __init__(self, key: dict[str, Any], late: Mapping[str, Callable[[], Any]]) -> None:
        super().__init__(key)
        self._late = late

    def __missing__(self, name: str) -> Any:
        self[name] = value = self._late[name]()
        return value

    def __contains__(self, name: object) -> bool:
        return super().__contains__(name) or name in self._late

    def __iter__(self) -> Iterator[str]:
        # With this and `keys`, a copy such as {**key} has the late parts too.
        return iter(self.keys())

    def keys(self) -> Any:
        """The names of all parts, late ones too."""
        return dict.fromkeys([*super().keys(), *self._late]).keys()

    def get(self, name: str, default: Any = None) -> Any:
        """The part `name`, late or not; `default` where there is none."""
        try:
            return self[name]
        except KeyError:
            return default


Preparer = Callable[[Mapping[str, Value], Stream], Prepared]


@dataclass(frozen=True, slots=True)
class Hint:
    """A hint and what asking for it costs, in marks."""

    text: Prose
    costs: float


@dataclass(frozen=True, slots=True)
class Exercise:
    """One question of a lab.

    `texts` are all formulas and prose of its block; `data` its fields as written; `where` tells
    the place of the field at a path.
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
    first), of all their texts. `texts` are the header's formulas, `accepted` what the header
    accepts.
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
    accepted: tuple[Accepted, ...] = ()

    @property
    def exercises(self) -> Sequence[Exercise]:
        """The exercises in the order of the text."""
        return [part for part in self.body if isinstance(part, Exercise)]

    @property
    def constant_values(self) -> dict[str, int | float]:
        """The constants by name, as formulas use them."""
        return {name: constant.value for name, constant in self.constants.items()}

    @property
    def marks(self) -> float:
        """The marks of all exercises together."""
        return sum(exercise.marks for exercise in self.exercises)
