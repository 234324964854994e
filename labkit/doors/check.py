"""How a kind checks answers: what every check has, and the powers that some have beside.

All of it is pure Python: it also runs at the trainee's laptop. `ask` and `key` are what the kind's
reader prepared; an answer is any JSON value.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal, Protocol, TypedDict, runtime_checkable

from labkit.doors.verdict import Verdict

Json = Any
Ask = Any
Key = Any
"""JSON objects, of the types in the `data.py` of the kind."""


@dataclass(frozen=True, slots=True)
class Caveat:
    """What a kind has to say of one draw to the lab's author, in a sentence.

    "twins": several answers fit all that can be found out; "unseen": something that is asked for
    cannot be found out, `assessed_only` where it can be in practice.
    """

    sort: Literal["twins", "unseen"]
    text: str
    assessed_only: bool = False


@dataclass(frozen=True, slots=True)
class Option:
    """One thing that a trainee could take, and whether their answer took it.

    `name` means the same in every draw; `text` is what this trainee read. `told` is what it shows
    where it is taken wrongly, or right and left out; `typed` is what was written, where that may
    differ. Options of one `group` are listed together. One that is not `listed` is told of only
    where somebody took it.
    """

    name: str
    text: str
    right: bool
    taken: bool
    told: str = ""
    typed: str = ""
    group: str = ""
    listed: bool = True


class Check(Protocol):
    """How a kind checks an answer.

    A kind whose answers a person must mark returns `verdict.awaiting(...)` from `check`, and its
    `key` holds {"rubric": [{"id", "text", "marks_share"}], "model": str}; the shares add up to 1.
    """

    def unreadable(self, ask: Ask, answer: Json) -> str:
        """Why the answer cannot be read, told without a word on its worth; "" if it can."""

    def check(self, ask: Ask, key: Key, answer: Json) -> Verdict:
        """The verdict on any JSON value: what cannot be read is said so, never raised."""

    def shown(self, ask: Ask, answer: Json) -> str:
        """The answer as a report shows it."""

    def right_answer(self, ask: Ask, key: Key) -> Json:
        """An answer that earns all the marks; where a person marks, the author's model answer.

        The verdict on a model answer awaits the person like any other.
        """

    def slip_answers(self, ask: Ask, key: Key) -> dict[str, Json]:
        """For each known mistake, the wrong answer it leads to."""


@runtime_checkable
class JudgesWithoutWords(Protocol):
    """A kind whose words on a wrong answer take most of the time.

    Proof-reading has them worked out in its first draws only.
    """

    def judged(self, ask: Ask, key: Key, answer: Json) -> Verdict:
        """As `check`, but for what it tells of an answer that can be read."""


@runtime_checkable
class AsksBack(Protocol):
    """A kind of many answers."""

    def asks_back(self, ask: Ask, answer: Json) -> list[str]:
        """A sentence for each part that is filled in and cannot be read; at assessed labs too."""


@runtime_checkable
class NumberInSpan(Protocol):
    """A kind whose answer is one number, right where it lies in a span: many are compared at once.

    `check` says the same.
    """

    def number(self, ask: Ask, answer: Json) -> float:
        """The number that is written; not a number (NaN) where none can be right as written."""

    def span(self, ask: Ask, key: Key) -> tuple[float, float]:
        """The least and the most that is right."""


@runtime_checkable
class TellsDirection(Protocol):
    """A kind whose verdicts may have `directions`."""

    def tells_direction(self, ask: Ask) -> bool:
        """Whether verdicts on this exercise may."""


@runtime_checkable
class HasStates(Protocol):
    """A form of small answers; in practice a page marks each of them."""

    def states(self, ask: Ask, key: Key, answer: Json) -> Mapping[str, str] | None:
        """How each part stands, by its name."""


@runtime_checkable
class ShowsExamples(Protocol):
    """A kind that shows examples of an answer."""

    def examples(self, ask: Ask) -> list[Json]:
        """Each as it is shown, or as the answer it makes: proof-reading tries them."""


@runtime_checkable
class Solves(Protocol):
    """A kind whose worked examples are more than its question and the right answer."""

    def solved(self, ask: Ask, key: Key) -> str:
        """The exercise with its answer, as Markdown."""


@runtime_checkable
class HasCaveats(Protocol):
    """A kind whose answer has to be found out."""

    def caveats(self, ask: Ask, key: Key) -> list[Caveat]:
        """What proof-reading tells of this draw."""


@runtime_checkable
class FoundInText(Protocol):
    """A kind whose answer may stand in a text word for word: proof-reading looks for it."""

    def found_in(self, ask: Ask, key: Key, text: str) -> str:
        """The right answer as a text gives it away; "" where it does not."""


@runtime_checkable
class KnowsBlindShare(Protocol):
    """A kind that knows how far chance gets: proof-reading tells it beside a guess."""

    def blind(self, ask: Ask) -> float:
        """The share of the answers put down blindly that are right in full."""


@dataclass(frozen=True, slots=True)
class BlindGuess:
    """What somebody puts down who knows nothing: `way` tells it, "ticking every box".

    `as_shown` is what only takes things as they are shown: right in no draw.
    """

    way: str
    answer: Json
    as_shown: bool = False


@runtime_checkable
class GuessedBlindly(Protocol):
    """A kind that knows how one answers without knowing: proof-reading tells what that earns."""

    def guesses(self, ask: Ask) -> list[BlindGuess]:
        """All such answers. A way means the same in every draw where it is told alike."""


@runtime_checkable
class AnswersByNames(Protocol):
    """A kind whose answer is in letters that are dealt anew in each draw, one answer being right.

    Proof-reading guesses by the author's names, which mean the same in every draw; a dealt class
    is compared by them.
    """

    def by_names(self, ask: Ask, key: Key, answer: Json) -> Json:
        """An answer by the author's names; the same answer gives the same."""

    def from_names(self, ask: Ask, key: Key, names: Json) -> Json:
        """The answer of these names in this draw."""


@runtime_checkable
class HasOptions(Protocol):
    """A kind of whose answers it can be counted who took what: a class's analysis shows it."""

    def options(self, ask: Ask, key: Key, answer: Json) -> list[Option]:
        """All that this trainee could take, each name once. The answer can be read.

        A right answer takes what is right and nothing else.
        """


@runtime_checkable
class AsksForPlace(Protocol):
    """A kind whose answer is a place: proof-reading looks whether a story tells it."""

    def places(self, ask: Ask) -> list[str]:
        """All that could be answered."""

    def right_places(self, ask: Ask, key: Key) -> frozenset[str]:
        """Those that are right."""


@runtime_checkable
class SeenInPerson(Protocol):
    """A kind that an instructor must see in person, answered or not."""

    def not_ready(self, ask: Ask, answer: Json) -> list[str]:
        """The rubric's items (ids) that the trainee did not say to be ready."""


@runtime_checkable
class HeldAgainstPlan(Protocol):
    """A kind whose answers may hold what was heard on a real network."""

    def against_plan(self, ask: Ask, answer: Json) -> Agreements | None:
        """What of it agrees with the plan, line by line; None where nothing was heard."""

    def listener(self, ask: Ask) -> Listener | None:
        """Begins to listen to the real network; None where none is asked about."""


class Listener(Protocol):
    """Listens to a log or to a network, with the plan at hand. All raise `PlanError`."""

    @property
    def on_can(self) -> bool:
        """Whether an interface to a CAN bus hears this network live."""

    def feed(self, piece: bytes) -> None:
        """The next piece of what is heard, in the form of a log."""

    def end(self) -> None:
        """A log was read to its end; what comes live has none."""

    def told(self, name: str) -> Agreements:
        """What was heard by now, held against the plan."""


class Agreements(TypedDict):
    """What was heard, held against the plan; `problem` says why there are no lines."""

    name: str
    summary: str
    lines: list[AgreementLine]
    remarks: list[str]
    problem: str


class AgreementLine(TypedDict):
    """A line; `state` is "agrees", "differs" or "cannot be told from this log"."""

    what: str
    planned: str
    heard: str
    state: str


@runtime_checkable
class Warns(Protocol):
    """A kind whose work can hurt somebody: whoever shows it shows its caution."""

    def caution(self, ask: Ask) -> str:
        """What the author warns of, as Markdown; "" for nothing."""


@runtime_checkable
class KeepsSteps(Protocol):
    """A kind whose answers hold steps that can be looked back at."""

    def looked_back(self, ask: Ask, key: Key, answer: Json) -> list[str]:
        """What each step told, and a good path, as lines of text. Takes seconds."""


@runtime_checkable
class Replays(Protocol):
    """A kind whose steps can be carried over to another draw, and played there for a class."""

    def carried_over(self, ask: Ask, key: Key, steps: Sequence[Json], other: Ask) -> list[Json]:
        """What was found out by the steps, in order, as it is in the other draw; [] for nothing."""

    def to_replay(self, ask: Ask, key: Key, ways: Sequence[Json]) -> dict[str, Json]:
        """What the kind's pages are asked to play: lists of what was carried over, in a draw."""


def not_readable(check: Check, ask: dict[str, Any], answer: Json) -> str:
    """What of an answer cannot be read, all or some of it, without a word on its worth; "" if none.

    An assessed trainee is told it at once: what nobody can read is not to be marked wrong later.
    """
    sentence = check.unreadable(ask, answer)
    if sentence or not isinstance(check, AsksBack):
        return sentence
    parts = check.asks_back(ask, answer)
    return "\n".join([*parts, "The rest can be read."]) if parts else ""


def tells_direction(check: Check, ask: dict[str, Any]) -> bool:
    """Whether a verdict on this exercise may tell on which side the right answer lies."""
    return isinstance(check, TellsDirection) and check.tells_direction(ask)
