"""What does halving earn in practice? "Too large" and "too small" are told for two answers only.

The trainee of this file knows nothing but the span in which right answers lie, that of the draws:
they answer with its middle as long as a side is told, and then guess on, evenly over what is left.
Of a form every number is halved at once, each in a span of its own.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from statistics import fmean
from typing import Any, ClassVar, Final

from labkit.doors.check import Json, tells_direction
from labkit.doors.verdict import Verdict
from labkit.lab.definition import Exercise
from labkit.proofing.findings import Finding, Severity
from labkit.proofing.sample import Kept, number_and_rest

NOTE_SHARE: Final = 0.50
"""A mean share of the marks above this is told."""
TRIES: Final = 12
"""So many answers are given: more than most have the patience for, fewer than halving takes."""
DIRECTIONS: Final = 2
"""So many answers are told their side; `labkit.answering.directions` holds to the same number."""

_DRAWS: Final = 40
"""Checks are slow: a share of some forty draws is known to 8 % (standard error)."""

_WILD: Final = 12_347.0
_Span = tuple[float, float]


@dataclass(frozen=True, kw_only=True)
class FoundByHalving(Finding):
    """Halving with the directions that are given earns too many marks."""

    id: ClassVar[str] = "found-by-halving"
    usual: ClassVar[Severity] = Severity.NOTE
    """A tolerance that is fair to a rounded answer is often wide enough for this."""
    share: float
    draws: int

    @property
    def sentence(self) -> str:
        """The share, and how it was come by."""
        return (
            f"in practice, halving with the {DIRECTIONS} directions that are told and guessing up "
            f"to {TRIES} answers earns {100 * self.share:.0f} % of the marks on average in "
            f"{self.draws} draws, without any calculation (told above {100 * NOTE_SHARE:.0f} %)."
        )

    @property
    def mend(self) -> str:
        """A smaller target in a wider field."""
        return (
            "Widen the ranges or make the tolerance smaller; where neither can be, ask for a step "
            "on the way as well."
        )


def found_by_halving(exercise: Exercise, kept: Sequence[Kept]) -> FoundByHalving | None:
    """The finding of one exercise; None where its kind tells no side, or halving earns little."""
    if not kept or not tells_direction(kept[0].check, kept[0].ask):
        return None
    spans = _spans(kept, _told_of(kept[0]))
    looked_at = kept[:_DRAWS]
    share = fmean(_Halving(one, spans).earned() for one in looked_at)
    if share <= NOTE_SHARE:
        return None
    place = exercise.place_of("kind")
    return FoundByHalving(
        place=place, exercise=exercise.id, share=round(share, 3), draws=len(looked_at)
    )


def _told_of(kept: Kept) -> frozenset[str]:
    """The names of the numbers whose side is told: of a form, not of each."""
    numbers = _numbers(kept.right)
    if kept.states_of(kept.right) is None:
        return frozenset(numbers)
    wild = {name: f"{_WILD * number + _WILD}{rest}" for name, (number, rest) in numbers.items()}
    return frozenset(name for name in wild if kept.verdict_on({name: wild[name]}).directions)


def _spans(kept: Sequence[Kept], names: frozenset[str]) -> dict[str, _Span]:
    """Between which numbers each of these parts of the right answers lies."""
    found: dict[str, list[float]] = {name: [] for name in names}
    for one in kept:
        for name, (number, _) in _numbers(one.right).items():
            if name in names:
                found[name].append(number)
    return {name: (min(numbers), max(numbers)) for name, numbers in found.items()}


def _numbers(answer: Json) -> dict[str, tuple[float, str]]:
    """The numbers of an answer by the name of their part, "" where it is one alone."""
    parts: Mapping[str, Any] = answer if isinstance(answer, dict) else {"": answer}
    found = {name: number_and_rest(part) for name, part in parts.items()}
    return {name: number for name, number in found.items() if number}


class _Halving:
    """One trainee at one draw of an exercise."""

    def __init__(self, kept: Kept, spans: Mapping[str, _Span]) -> None:
        self._kept = kept
        self._right = {name: n for name, n in _numbers(kept.right).items() if name in spans}
        self._spans = {name: spans[name] for name in self._right}
        self._given: dict[str, str] = {}
        self._found: set[str] = set()
        self._is_form = kept.states_of(kept.right) is not None

    def earned(self) -> float:
        """The share of the marks after all tries."""
        credit = 0.0
        told = 0
        guesses: dict[str, Iterator[float]] | None = None
        for number in range(TRIES):
            if guesses is None and told == number < DIRECTIONS:
                tried = {name: (low + high) / 2 for name, (low, high) in self._spans.items()}
            else:
                guesses = guesses or self._guesses(TRIES - number)
                tried = {name: next(points) for name, points in guesses.items()}
            verdict = self._try(tried)
            credit = max(credit, verdict.credit)
            if verdict.right:
                break
            if verdict.directions:
                told += 1
                self._narrow(tried)
        return credit

    def _guesses(self, count: int) -> dict[str, Iterator[float]]:
        return {
            name: iter([low + (high - low) * (at + 0.5) / count for at in range(count)])
            for name, (low, high) in self._spans.items()
        }

    def _try(self, tried: Mapping[str, float]) -> Verdict:
        """Give an answer in which what was found stays."""
        for name, value in tried.items():
            if name not in self._found:
                self._given[name] = self._written(name, value)
        answer = self._answer()
        verdict = self._kept.verdict_on(answer)
        states = self._kept.states_of(answer) or {}
        self._found = {name for name in self._given if states.get(name) == "right"}
        return verdict

    def _answer(self) -> Json:
        right = self._kept.right
        if not isinstance(right, dict):
            return self._given[""]
        # What else belongs to one number, such as the meter, is known; of a form nothing is.
        return {**({} if self._is_form else right), **self._given}

    def _written(self, name: str, value: float) -> str:
        """With the unit and as many decimals as the right answer has."""
        text = self._kept.right[name] if name else self._kept.right
        rest = self._right[name][1]
        number = text.removesuffix(rest).strip()
        decimals = len(number.partition(".")[2]) if "e" not in number.lower() else 12
        return f"{value:.{decimals}f}{rest}"

    def _narrow(self, tried: Mapping[str, float]) -> None:
        for name, value in tried.items():
            low, high = self._spans[name]
            above = value > self._right[name][0]
            self._spans[name] = (low, min(high, value)) if above else (max(low, value), high)
