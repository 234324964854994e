"""Exercise kinds, the checking half: pure Python that also runs at the trainee's laptop."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal, Protocol, cast, runtime_checkable

from labkit.lab import plugins
from labkit.lab.verdict import Verdict

Json = Any


@dataclass(frozen=True, slots=True)
class Caveat:
    """What a kind has to say of one draw to the lab's author, in a sentence.

    "twins": several answers fit all that can be found out; "unseen": something that is asked for
    cannot be found out, `assessed_only` where it can be in practice.
    """

    sort: Literal["twins", "unseen"]
    text: str
    assessed_only: bool = False


class Check(Protocol):
    """How a kind checks an answer. `ask` and `key` are what the kind's reader prepared.

    A kind whose answers a person must mark returns `verdict.awaiting(...)` from `check`, and its
    `key` holds {"rubric": [{"id", "text", "marks_share"}], "model": str}; the shares add up to 1.

    For paper a kind may have two more methods: see `labkit.lab.paper`. A kind whose answer has to
    be found out may have `caveats(ask, key) -> list[Caveat]`, which proof-reading asks. A kind that
    shows examples of an answer has `examples(ask) -> list[Json]`, each as it is shown, or as the
    answer that it makes: proof-reading tries them, for trainees do. A kind that is seen in person
    has `not_ready(ask, answer) -> list[str]`: the rubric's items (ids) that the trainee did not say
    to be ready. A kind whose verdicts may have `directions` has `tells_direction(ask) -> bool`, and
    may have `solved(ask, key) -> str`: the exercise with its answer as Markdown, to be an example.
    A kind whose answer is a place may have `places(ask) -> list[str]`, all that could be answered,
    and `right_places(ask, key) -> frozenset[str]`: proof-reading looks whether a story tells it.
    A kind of many answers may have `asks_back(ask, answer) -> list[str]`: a sentence for each part
    that is filled in and cannot be read, told at assessed labs too.
    """

    def unreadable(self, ask: dict[str, Any], answer: Json) -> str:
        """Why the answer cannot be read, told without a word on its worth; "" if it can."""

    def check(self, ask: dict[str, Any], key: dict[str, Any], answer: Json) -> Verdict:
        """The verdict on any JSON value: what cannot be read is said so, never raised."""

    def shown(self, ask: dict[str, Any], answer: Json) -> str:
        """The answer as a report shows it."""

    def right_answer(self, ask: dict[str, Any], key: dict[str, Any]) -> Json:
        """An answer that earns all the marks; where a person marks, the author's model answer.

        The verdict on a model answer awaits the person like any other.
        """

    def slip_answers(self, ask: dict[str, Any], key: dict[str, Any]) -> dict[str, Json]:
        """For each known mistake, the wrong answer it leads to."""


@runtime_checkable
class JudgesCells(Protocol):
    """The check of an exercise of many small answers; in practice a page marks each of them."""

    def states(
        self, ask: dict[str, Any], key: dict[str, Any], answer: Json
    ) -> Mapping[str, Literal["right", "wrong", "unreadable", "empty"]]:
        """How each cell of an answer stands, by its name."""


def check_for(kind: str) -> Check:
    """The check of an exercise kind. Raises `KeyError` for a kind that is not installed."""
    return cast(Check, plugins.load(plugins.CHECKS, kind)())


def not_readable(check: Check, ask: dict[str, Any], answer: Json) -> str:
    """What of an answer cannot be read, all or some of it, without a word on its worth; "" if none.

    An assessed trainee is told it at once: what nobody can read is not to be marked wrong later.
    """
    sentence = check.unreadable(ask, answer)
    ask_back = getattr(check, "asks_back", None)
    if sentence or not ask_back:
        return sentence
    parts = ask_back(ask, answer)
    return "\n".join([*parts, "The rest can be read."]) if parts else ""


def tells_direction(check: Check, ask: dict[str, Any]) -> bool:
    """Whether a verdict on this exercise may tell on which side the right answer lies."""
    told = getattr(check, "tells_direction", None)
    return bool(told and told(ask))
