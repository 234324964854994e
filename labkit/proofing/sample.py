"""Draws of a lab with every exercise tried out: what the findings are drawn from."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Final

from labkit.doors.check import Check, HasStates, Json
from labkit.doors.installed import check_for
from labkit.doors.verdict import Verdict
from labkit.lab.definition import NETWORK, Exercise, Lab
from labkit.lab.draw import Scenario
from labkit.language.expression import Formula, Prose
from labkit.language.problems import Place

PROOF_SEED: Final = "proof-{}"
"""The seeds of the draws, counted from 1: 'labkit preview LAB --seed proof-17' shows the 17th."""
_WHOLE: Final = frozenset(PROOF_SEED.format(number) for number in range(1, 41))
"""The seeds of the draws of which everything is kept."""
_NUMBER: Final = re.compile(r"\s*([+-]?\d+(?:\.\d+)?(?:[eE][+-]?\d+)?)(.*)", re.DOTALL)


@dataclass(frozen=True, slots=True)
class Tried:
    """One exercise in one draw: its right answer and its slips' answers, each checked."""

    exercise: Exercise
    scenario: Scenario
    check: Check
    ask: dict[str, Any]
    key: dict[str, Any]
    right: Json
    verdict: Verdict
    slips: Mapping[str, Json]
    slip_verdicts: Mapping[str, Verdict]

    def verdict_on(self, answer: Json) -> Verdict:
        """The verdict on any answer."""
        return self.check.check(self.ask, self.key, answer)

    def typed(self, value: float) -> str | None:
        """A number written as the right answer is; None where that is no number."""
        return typed_as(self.right, value)


@dataclass(slots=True)
class Kept:
    """What is kept of an exercise that was tried out.

    `prepared` is its ask and its key; where they are not kept, they are made when needed.
    """

    exercise: Exercise
    scenario: Scenario
    right: Json
    slips: tuple[str, ...]
    prepared: tuple[dict[str, Any], dict[str, Any]] | None = None

    @staticmethod
    def of(tried: Tried) -> Kept:
        """Of the first draws all is kept, for most guesses are tried on these alone."""
        whole = tried.scenario.seed in _WHOLE
        return Kept(
            tried.exercise,
            tried.scenario,
            tried.right,
            (*tried.slips,),
            (tried.ask, tried.key) if whole else None,
        )

    @property
    def check(self) -> Check:
        """The kind's check."""
        return check_for(self.exercise.kind)

    @property
    def ask(self) -> dict[str, Any]:
        """What the trainee sees."""
        return self.made()[0]

    def verdict_on(self, answer: Json) -> Verdict:
        """The verdict on any answer."""
        return self.check.check(*self.made(), answer)

    def states_of(self, answer: Json) -> Mapping[str, str] | None:
        """How each part of a form stands, by its name; None where the kind does not say."""
        check = self.check
        return check.states(*self.made(), answer) if isinstance(check, HasStates) else None

    def typed(self, value: float) -> str | None:
        """A number written as the right answer is; None where that is no number."""
        return typed_as(self.right, value)

    def made(self) -> tuple[dict[str, Any], dict[str, Any]]:
        """The ask and the key, made where they are not kept."""
        if self.prepared is None:
            made = self.scenario.prepare(self.exercise)
            self.prepared = made.ask, made.key_as_needed
        return self.prepared


@dataclass(frozen=True, slots=True)
class Shown:
    """A text that the trainee sees before answering, as it reads in one draw.

    `offered` texts are those to choose from or to fill in around: to their own exercise they give
    nothing away, but they may to another.
    """

    place: Place
    what: str
    exercise: str
    text: str
    offered: bool = False


@dataclass(frozen=True, slots=True)
class Drawn:
    """One draw: the scenario, its exercises, its texts, and its difficulty.

    To work that out took so many seconds, with all names known.
    """

    scenario: Scenario
    tried: tuple[Tried, ...]
    texts: tuple[Shown, ...]
    difficulty: float | None = None
    difficulty_took: float = 0.0


def number_and_rest(answer: Json) -> tuple[float, str] | None:
    """A written answer taken apart into its number and what follows; None if it is no such."""
    match = _NUMBER.fullmatch(answer) if isinstance(answer, str) else None
    return (float(match[1]), match[2]) if match else None


def typed_as(right: Json, value: float) -> str | None:
    """A number written as the answer `right` is, with its unit; None where that is no number."""
    parts = number_and_rest(right)
    return None if parts is None else f"{value:.12g}{parts[1]}"


def offered_texts(ask: Any) -> Iterator[str]:
    """What the fields of an exercise show besides its question: every `text` in `ask`."""
    if isinstance(ask, dict):
        for name, value in ask.items():
            if name == "text" and isinstance(value, str):
                yield value
            else:
                yield from offered_texts(value)
    elif isinstance(ask, list):
        for value in ask:
            yield from offered_texts(value)


def options_of(ask: Mapping[str, Any]) -> dict[str, str]:
    """The texts of the options that an exercise offers, by the id that answers with them.

    Empty for a kind that offers none, or none of this shape.
    """
    options = ask.get("options")
    if not isinstance(options, list):
        return {}
    texts = {
        item["id"]: str(item["text"])
        for item in options
        if isinstance(item, dict) and isinstance(item.get("id"), str) and "text" in item
    }
    return texts if len(texts) == len(options) else {}


def formula_at(exercise: Exercise, *path: str | int) -> Formula | None:
    """The exercise's formula in the field at `path`."""
    field = exercise.place_of(*path).field
    return next(
        (
            text
            for text in exercise.texts
            if isinstance(text, Formula) and text.place.field == field
        ),
        None,
    )


def right_value(tried: Tried) -> float | None:
    """The unrounded number that the exercise's `answer` gives; None where it gives none."""
    formula = formula_at(tried.exercise, "answer")
    if formula is None or number_and_rest(tried.right) is None:
        return None
    value = formula.evaluate(tried.scenario.names)
    return float(value) if isinstance(value, int | float) else None


def declared(exercise: Exercise, group: str) -> dict[str, int]:
    """The ids in a list of the exercise's fields ("slips", "options"), with their places in it."""
    items = exercise.data.get(group)
    if not isinstance(items, list):
        return {}
    return {
        item["id"]: index
        for index, item in enumerate(items)
        if isinstance(item, dict) and isinstance(item.get("id"), str)
    }


def needed(lab: Lab, names: frozenset[str]) -> frozenset[str]:
    """`names` and every name that they are worked out from."""
    found: set[str] = set()
    pending = [*names]
    while pending:
        name = pending.pop()
        if name in found:
            continue
        found.add(name)
        if name in lab.derived:
            pending += lab.derived[name].names
        elif name == NETWORK and lab.network:
            pending += lab.network.names
    return frozenset(found)


def names_of(texts: tuple[Formula | Prose, ...]) -> frozenset[str]:
    """The names that the texts use."""
    return frozenset().union(*(text.names for text in texts))


def drawn_values(scenario: Scenario, exercise: Exercise) -> dict[str, Any]:
    """The drawn values that an exercise hangs on."""
    names = needed(scenario.lab, names_of(exercise.texts))
    return {name: value for name, value in scenario.drawn.items() if name in names}
