"""Has every exercise a solution in every draw, and does the right answer depend on the draw?"""

from __future__ import annotations

import json
from collections import Counter
from dataclasses import dataclass, field
from typing import Any, ClassVar, Final

from labkit.lab.definition import Exercise, Lab
from labkit.proofing.counting import Cases, add_all, both
from labkit.proofing.findings import Finding, Severity, Share, shown, shown_values
from labkit.proofing.sample import Drawn, Tried, declared, drawn_values, formula_at

FEW_SCENARIOS: Final = 40
"""Fewer different scenarios than this among the draws are told."""
FEW_ANSWERS: Final = 10
ENOUGH_DRAWS: Final = 200
"""Fewer different right answers than this are told, once there were so many draws."""


@dataclass(frozen=True, kw_only=True)
class NoSolution(Finding):
    """The kind's own right answer does not earn full marks."""

    id: ClassVar[str] = "no-solution"
    acceptable: ClassVar[bool] = False
    answer: str
    verdict: str
    credit: float
    values: dict[str, Any]
    draws: Share

    @property
    def sentence(self) -> str:
        """Which answer fails, what the check says, and a draw that shows it."""
        return (
            f"there is no solution in {self.draws}: the right answer '{self.answer}' earns "
            f"{100 * self.credit:.0f} % and is told '{self.verdict}' Such as seed {self.seed} "
            f"({shown_values(self.values)})."
        )

    @property
    def mend(self) -> str:
        """A rule, or another formula."""
        return "Keep such draws out with a rule in 'valid', or mend the exercise's formulas."


@dataclass(frozen=True, kw_only=True)
class SameAnswer(Finding):
    """The right answer is the same for everybody."""

    id: ClassVar[str] = "same-answer"
    answer: str
    by_formula: bool
    draws: int

    @property
    def severity(self) -> Severity:
        """A formula is there to give everybody their own answer."""
        return Severity.MUST if self.by_formula else Severity.LOOK

    @property
    def sentence(self) -> str:
        """The one answer."""
        return (
            f"the right answer is '{self.answer}' in all {self.draws} draws: whoever asks a "
            "neighbour has it."
        )

    @property
    def mend(self) -> str:
        """Let it hang on a drawn name; what must be mended does not go away by leaving it so."""
        if self.by_formula:
            return (
                "Let the answer hang on a drawn name; if everybody is to get it, accept this with "
                "a reason under 'accepted:'."
            )
        return "Let the answer hang on a drawn name; if everybody is to get it, leave it so."


@dataclass(frozen=True, kw_only=True)
class FewScenarios(Finding):
    """There are not enough different draws for a class."""

    id: ClassVar[str] = "few-scenarios"
    different: int
    draws: int
    drawn: bool = True

    @property
    def severity(self) -> Severity:
        """One scenario is no lab of one's own; a few are enough for a few."""
        return Severity.MUST if self.different == 1 else Severity.LOOK

    @property
    def sentence(self) -> str:
        """How many there are."""
        if not self.drawn:
            return "nothing is drawn, so everybody has the same numbers and the same answers."
        return (
            f"{self.draws} draws gave only {self.different} different scenario"
            f"{'' if self.different == 1 else 's'}: a larger class cannot be dealt one each "
            f"(told below {FEW_SCENARIOS})."
        )

    @property
    def mend(self) -> str:
        """Draw more; at a real bench there may be nothing to draw."""
        if not self.drawn:
            return (
                "Write what is drawn under 'draw:'. If everybody is to do the same, such as at a "
                "real bench, accept this with a reason under 'accepted:'."
            )
        return "Draw more names, from wider ranges or in smaller steps."


@dataclass(frozen=True, kw_only=True)
class FewAnswers(Finding):
    """The right answer differs from draw to draw, but there are few of them."""

    id: ClassVar[str] = "few-answers"
    usual: ClassVar[Severity] = Severity.NOTE
    """Some questions have few answers by their nature."""
    different: int
    commonest: str
    share: Share

    @property
    def sentence(self) -> str:
        """How many there are, and how often the commonest comes."""
        return (
            f"{self.share.of} draws gave only {self.different} different right answers (told below "
            f"{FEW_ANSWERS}): in a class many have the same, and '{self.commonest}' is right in "
            f"{self.share}."
        )

    @property
    def mend(self) -> str:
        """More of them, or none is needed."""
        return (
            "If it is meant to have few, leave it so; otherwise let the answer hang on more that "
            "is drawn."
        )


@dataclass(slots=True)
class _Seen:
    draws: int = 0
    unsolved: Cases[Tried] | None = None
    answers: Counter[str] = field(default_factory=Counter)
    wrong_somewhere: set[str] = field(default_factory=set)
    awaits: bool = False

    def add(self, later: _Seen) -> None:
        self.draws += later.draws
        self.unsolved = both(self.unsolved, later.unsolved)
        self.answers.update(later.answers)
        self.wrong_somewhere |= later.wrong_somewhere
        self.awaits = self.awaits or later.awaits


@dataclass(slots=True)
class Solutions:
    """Watches right answers over the draws."""

    lab: Lab
    _seen: dict[str, _Seen] = field(default_factory=dict)
    _fingerprints: set[str] = field(default_factory=set)
    _draws: int = 0

    def see(self, drawn: Drawn) -> None:
        """Take one draw in."""
        self._draws += 1
        self._fingerprints.add(drawn.scenario.fingerprint)
        for tried in drawn.tried:
            seen = self._seen.setdefault(tried.exercise.id, _Seen())
            seen.draws += 1
            if tried.verdict.awaits:
                seen.awaits = True
                continue
            if not tried.verdict.right:
                seen.unsolved = both(seen.unsolved, Cases(tried))
            seen.answers[_told(tried)] += 1
            seen.wrong_somewhere.update(tried.slips)

    def add(self, later: Solutions) -> None:
        """Add what later draws gave."""
        self._draws += later._draws
        self._fingerprints |= later._fingerprints
        add_all(self._seen, later._seen)

    @property
    def different(self) -> int:
        """How many different scenarios the draws gave."""
        return len(self._fingerprints)

    def findings(self) -> list[Finding]:
        """Exercises without solution, answers that never change, too few scenarios."""
        found: list[Finding] = []
        different = self.different
        few = different < FEW_SCENARIOS and self._draws >= FEW_SCENARIOS
        # Where a person marks all that is done, at a bench, everybody may do the same.
        if few and not all(seen.awaits for seen in self._seen.values()):
            found.append(
                FewScenarios(
                    place=self.lab.place.at("draw"),
                    different=different,
                    draws=self._draws,
                    drawn=bool(self.lab.parameters),
                )
            )
        for exercise in self.lab.exercises:
            seen = self._seen.get(exercise.id)
            if seen is None:
                continue
            if seen.unsolved:
                found.append(_no_solution(exercise, seen.unsolved, seen.draws))
            elif not seen.awaits and different > 1 and seen.draws > 1:
                found += _same(exercise, seen) or _few(exercise, seen)
        return found


def _told(tried: Tried) -> str:
    return tried.check.shown(tried.ask, tried.right) or json.dumps(tried.right, sort_keys=True)


def _no_solution(exercise: Exercise, unsolved: Cases[Tried], draws: int) -> NoSolution:
    first = unsolved.first
    return NoSolution(
        place=exercise.place,
        exercise=exercise.id,
        answer=shown(_told(first)),
        verdict=shown(first.verdict.message),
        credit=first.verdict.credit,
        seed=first.scenario.seed,
        values=drawn_values(first.scenario, exercise),
        draws=Share(unsolved.count, draws),
    )


def _few(exercise: Exercise, seen: _Seen) -> list[FewAnswers]:
    """Too few answers to differ in a class; of options there are always few."""
    few = 1 < len(seen.answers) < FEW_ANSWERS
    if not few or seen.draws < ENOUGH_DRAWS or declared(exercise, "options"):
        return []
    commonest, count = min(seen.answers.items(), key=lambda item: (-item[1], item[0]))
    formula = formula_at(exercise, "answer")
    return [
        FewAnswers(
            place=formula.place if formula else exercise.place,
            exercise=exercise.id,
            different=len(seen.answers),
            commonest=shown(commonest),
            share=Share(count, seen.draws),
        )
    ]


def _same(exercise: Exercise, seen: _Seen) -> list[SameAnswer]:
    options = declared(exercise, "options")
    always = [name for name in options if name not in seen.wrong_somewhere]
    if len(seen.answers) > 1 and not (options and always):
        return []
    formula = formula_at(exercise, "answer")
    return [
        SameAnswer(
            place=formula.place if formula else exercise.place,
            exercise=exercise.id,
            answer=shown(always[0] if always else next(iter(seen.answers))),
            by_formula=formula is not None and not options,
            draws=seen.draws,
        )
    ]
