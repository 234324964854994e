"""Is the right answer to one exercise the right answer to another too?

Whoever has the one then has the other without working it out: one of them asks nothing.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import combinations
from typing import ClassVar, Final

from labkit.lab.definition import Lab
from labkit.proofing.counting import Cases, add_all, add_case
from labkit.proofing.findings import Finding, Severity, Share, shown
from labkit.proofing.sample import Drawn, Tried, number_and_rest, options_of

LOOK_SHARE: Final = 0.60
MUST_SHARE: Final = 0.90
"""An answer that is right at another exercise in more than these shares of the draws is told."""
_NEAR: Final = 0.10


@dataclass(frozen=True, kw_only=True)
class SameAsAnother(Finding):
    """The right answer to another exercise is right here too."""

    id: ClassVar[str] = "same-as-another"
    other: str
    answer: str
    draws: Share

    @property
    def of(self) -> str:
        """The other exercise."""
        return self.other

    @property
    def severity(self) -> Severity:
        """In all draws the one is no question of its own."""
        return Severity.MUST if self.draws.part > MUST_SHARE else Severity.LOOK

    @property
    def sentence(self) -> str:
        """Which two, how often, and a draw that shows it."""
        return (
            f"the right answer to '{self.other}' is right here too in {self.draws} (told above "
            f"{100 * LOOK_SHARE:.0f} %): with seed {self.seed} it is '{self.answer}'."
        )

    @property
    def mend(self) -> str:
        """Ask something else, or draw it apart."""
        return "Ask one of the two for something else, or draw values that set them apart."


@dataclass(slots=True)
class Copied:
    """Watches pairs of exercises over the draws."""

    lab: Lab
    _both: dict[tuple[str, str], int] = field(default_factory=dict)
    _alike: dict[tuple[str, str], Cases[Tried]] = field(default_factory=dict)
    _answers: dict[str, set[str]] = field(default_factory=dict)

    def see(self, drawn: Drawn) -> None:
        """Take one draw in."""
        known = [item for item in drawn.tried if item.verdict.right and not item.verdict.awaits]
        for item in known:
            self._answers.setdefault(item.exercise.id, set()).add(_said(item))
        for one, other in combinations(known, 2):
            pair = (one.exercise.id, other.exercise.id)
            self._both[pair] = self._both.get(pair, 0) + 1
            if _alike(one, other):
                add_case(self._alike, pair, other)

    def add(self, later: Copied) -> None:
        """Add what later draws gave."""
        for pair, count in later._both.items():
            self._both[pair] = self._both.get(pair, 0) + count
        add_all(self._alike, later._alike)
        for name, answers in later._answers.items():
            self._answers.setdefault(name, set()).update(answers)

    def findings(self) -> list[Finding]:
        """The later exercise of each pair whose answers are alike too often."""
        return [*self._findings()]

    def _findings(self) -> Iterator[SameAsAnother]:
        exercises = {exercise.id: exercise for exercise in self.lab.exercises}
        for (one, other), cases in self._alike.items():
            draws = Share(cases.count, self._both[one, other])
            # An answer that never changes is told as such; two of them are alike by chance.
            if draws.part <= LOOK_SHARE or min(len(self._answers[n]) for n in (one, other)) < 2:
                continue
            yield SameAsAnother(
                place=exercises[other].place,
                exercise=other,
                other=one,
                answer=shown(cases.first.check.shown(cases.first.ask, cases.first.right)),
                seed=cases.first.scenario.seed,
                draws=draws,
            )


def _said(tried: Tried) -> str:
    """The answer as the trainee reads it: of an option its text, for its letter is drawn."""
    if isinstance(tried.right, str):
        return options_of(tried.ask).get(tried.right, tried.right)
    return json.dumps(tried.right, sort_keys=True)


def _alike(one: Tried, other: Tried) -> bool:
    if one.exercise.kind != other.exercise.kind:
        return False
    numbers = number_and_rest(one.right), number_and_rest(other.right)
    if numbers[0] is None or numbers[1] is None or options_of(one.ask):
        return _said(one) == _said(other)
    # Checks are slow: numbers that lie far apart need none.
    if abs(numbers[0][0] - numbers[1][0]) > _NEAR * abs(numbers[1][0]):
        return False
    return other.verdict_on(one.right).right or one.verdict_on(other.right).right
