"""How hard draws may be, and how much the answers of two workbooks have in common.

Both bounds come from sample draws of the lab whose seeds are always the same, so a lab has the same
bounds in every class, whoever is in it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Any, Final

from labkit.classroom.dealt import Bounds
from labkit.classroom.errors import ClassError
from labkit.doors.check import AnswersByNames, Check, FoundInText, SeenInPerson
from labkit.doors.installed import check_for
from labkit.lab.definition import Exercise, Lab
from labkit.lab.difficulty import window
from labkit.lab.draw import Scenario, find
from labkit.language.problems import DefinitionError

SAMPLE: Final = 100
"""So many draws show how hard a lab's scenarios are."""
PAIRS: Final = 40
"""So many pairs of draws show how often answers are equal by chance."""
LEAST_IN_WINDOW: Final = 0.05
"""A spread that fewer of the sample draws keep cannot be dealt in a reasonable time."""
USUAL_PAIRS: Final = 0.75


@dataclass(frozen=True, slots=True)
class Part:
    """One exercise of one workbook: what checks it, and its right answer.

    `named` is what a neighbour reads of an answer in letters, which are others here: the author's
    names, or words; "" for other kinds.
    """

    check: Check
    ask: dict[str, Any]
    key: dict[str, Any]
    answer: Any
    named: str

    def takes(self, other: Part) -> bool:
        """Whether the other's right answer is right here too."""
        if self.named and self.named == other.named:
            return True
        return self.check.check(self.ask, self.key, other.answer).right


AnswerSheet = tuple[Part, ...]


def answer_sheet(scenario: Scenario, exercises: Sequence[str]) -> AnswerSheet:
    """The right answers of some exercises with this scenario's numbers."""
    return tuple(
        _part(scenario, exercise) for exercise in scenario.lab.exercises if exercise.id in exercises
    )


def equal_answers(one: AnswerSheet, other: AnswerSheet) -> int:
    """In how many exercises a right answer of the one is right for the other, either way round."""
    return sum(_equal(*parts) for parts in zip(one, other, strict=True))


def difficulty_of(scenario: Scenario) -> float | None:
    """The lab's own count; None where it states none, or the formula gives no finite number."""
    found = scenario.difficulty
    return found if found is not None and math.isfinite(found) else None


def bounds_of(lab: Lab, spread: float | None = None, equal: int | None = None) -> Bounds:
    """The bounds of a lab. Raises `ClassError` when no draws could be found within them.

    `spread` is how far apart the difficulties may lie (default: a quarter of the lab's band, or,
    without a band, of what the sample draws span); the window lies where most draws are. `equal`
    is how many answers neighbours may share (default: what three of four pairs of draws keep).
    """
    sample = _sample(lab, SAMPLE if lab.difficulty else PAIRS + 1)
    low, high = _window(lab, sample, spread)
    copyable = _copyable(sample)
    sheets = [answer_sheet(scenario, copyable) for scenario in sample[: PAIRS + 1]]
    shared = [
        [_equal(*parts) for parts in zip(one, other, strict=True)]
        for one, other in pairwise(sheets)
    ]
    always = tuple(
        exercise
        for index, exercise in enumerate(copyable)
        if shared and all(pair[index] for pair in shared)
    )
    if equal is None:
        counts = sorted(sum(pair) for pair in shared)
        equal = counts[math.ceil(USUAL_PAIRS * len(counts)) - 1] if counts else 0
    return Bounds(low, high, equal, copyable, always)


def loosened(bounds: Bounds, spread: float | None, equal: int | None) -> Bounds:
    """Bounds of a class that is dealt in part, after another word in `class.yaml`.

    The difficulty's window grows on both sides, so that what is dealt stays in it; it never
    shrinks.
    """
    low, high = bounds.low, bounds.high
    if spread is not None and low is not None and high is not None and spread > high - low:
        more = (spread - (high - low)) / 2
        low, high = low - more, high + more
    return replace(bounds, low=low, high=high, equal=bounds.equal if equal is None else equal)


def _equal(one: Part, other: Part) -> bool:
    return one.takes(other) or other.takes(one)


def _part(scenario: Scenario, exercise: Exercise) -> Part:
    prepared = scenario.prepare(exercise)
    check, key = check_for(exercise.kind), prepared.key_as_needed
    answer = check.right_answer(prepared.ask, key)
    return Part(check, prepared.ask, key, answer, _named(check, prepared.ask, key, answer))


def _named(check: Check, ask: dict[str, Any], key: dict[str, Any], answer: Any) -> str:
    if isinstance(check, AnswersByNames):
        return " ".join(check.by_names(ask, key, answer))
    return check.shown(ask, answer) if isinstance(check, FoundInText) else ""


def _sample(lab: Lab, size: int) -> list[Scenario]:
    """The first draws whole, for their answers; of the others only how hard they are is asked."""
    found: list[Scenario] = []
    for number in range(2 * size):
        if len(found) == size:
            break
        try:
            scenario = find(lab, f"fair sample {number}")
            if len(found) <= PAIRS:
                scenario.work_out()
            elif lab.difficulty:
                scenario.work_out(lab.difficulty.formula.names)
            found.append(scenario)
        except DefinitionError:
            # Some draws of a lab may have no value for a formula; those are not dealt either.
            continue
    return found


def _copyable(sample: Sequence[Scenario]) -> tuple[str, ...]:
    """The exercises that are marked by calculation: what a person marks a person can compare."""
    if not sample:
        return ()
    first = sample[0]
    parts = {
        exercise.id: _part(first, exercise)
        for exercise in first.lab.exercises
        if not isinstance(check_for(exercise.kind), SeenInPerson)
    }
    return tuple(name for name, part in parts.items() if part.takes(part))


def _window(
    lab: Lab, sample: Sequence[Scenario], spread: float | None
) -> tuple[float | None, float | None]:
    """The ends of the difficulty that is dealt: as wide as the spread, where most draws are."""
    if lab.difficulty is None:
        return None, None
    found = [difficulty_of(scenario) for scenario in sample]
    values = [value for value in found if value is not None]
    dealt = window(values, lab.difficulty.band, spread)
    if dealt is None:
        raise ClassError(
            f"None of {len(sample)} draws of '{lab.id}' is as hard as its 'difficulty' says: "
            "'labkit proof' shows how hard they are."
        )
    if dealt.inside < LEAST_IN_WINDOW * len(sample):
        raise ClassError(
            f"'difficulty_spread: {dealt.high - dealt.low:g}' is too narrow for '{lab.id}': hardly "
            f"any draw keeps it. Its draws go from {min(values):g} to {max(values):g}; allow more "
            "in class.yaml."
        )
    return dealt.low, dealt.high
