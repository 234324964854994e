"""Do the numbers of a text agree with one another as they are printed?

Whoever works a sum out again from the numbers on the page must get the number on the page.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import ClassVar

from labkit.lab.definition import Exercise, Lab
from labkit.lab.draw import Scenario
from labkit.language.expression import Prose
from labkit.language.problems import DefinitionError, Place
from labkit.proofing.counting import Cases, add_all, add_case
from labkit.proofing.findings import Finding, Share, shown
from labkit.proofing.printed_claims import claims
from labkit.proofing.printed_sums import sums
from labkit.proofing.sample import Drawn


@dataclass(frozen=True, kw_only=True)
class SumAsPrinted(Finding):
    """A printed sum that its own printed numbers do not give."""

    id: ClassVar[str] = "sum-as-printed"
    text: str
    gives: str
    bare: tuple[str, ...]
    draws: Share

    @property
    def sentence(self) -> str:
        """The sum, and what its numbers give."""
        return (
            f"'{self.text}' does not add up as printed: its numbers give {self.gives}. So in "
            f"{self.draws}, such as seed {self.seed}."
        )

    @property
    def mend(self) -> str:
        """The units that are missing; or more digits, or steps that are rounded."""
        if self.bare:
            bare = " and ".join(self.bare)
            return f"Write its unit behind every number: there is none behind {bare}."
        return (
            "Print more digits of what goes in, or work on with the rounded number; and let the "
            "tolerance take both ways."
        )


@dataclass(frozen=True, kw_only=True)
class ClaimAsPrinted(Finding):
    """A verdict in words, or a comparison, that the printed numbers beside it deny."""

    id: ClassVar[str] = "claim-as-printed"
    text: str
    draws: Share

    @property
    def sentence(self) -> str:
        """What is claimed."""
        return (
            f"'{self.text}' is not true of the numbers in it. So in {self.draws}, such as seed "
            f"{self.seed}."
        )

    @property
    def mend(self) -> str:
        """Work the word out."""
        return "Let a formula choose the word, or keep such draws out with a rule in 'valid'."


@dataclass(frozen=True, slots=True)
class _Case:
    seed: str
    text: str
    gives: str = ""
    bare: tuple[str, ...] = ()


_Where = tuple[str, Place]


@dataclass(slots=True)
class AsPrinted:
    """Works out again, in every text of every draw, what it prints."""

    lab: Lab
    _draws: int = 0
    _sums: dict[_Where, Cases[_Case]] = field(default_factory=dict)
    _claims: dict[_Where, Cases[_Case]] = field(default_factory=dict)

    def see(self, drawn: Drawn) -> None:
        """Take one draw in."""
        self._draws += 1
        for exercise, prose in _texts(self.lab):
            self._see(drawn.scenario, exercise, prose)

    def add(self, later: AsPrinted) -> None:
        """Add what later draws gave."""
        self._draws += later._draws
        add_all(self._sums, later._sums)
        add_all(self._claims, later._claims)

    def findings(self) -> list[Finding]:
        """Each text that is at odds with itself, once for its sums and once for its claims."""
        return [
            *(
                SumAsPrinted(
                    place=place,
                    exercise=exercise,
                    seed=cases.first.seed,
                    text=cases.first.text,
                    gives=cases.first.gives,
                    bare=cases.first.bare,
                    draws=Share(cases.count, self._draws),
                )
                for (exercise, place), cases in self._sums.items()
            ),
            *(
                ClaimAsPrinted(
                    place=place,
                    exercise=exercise,
                    seed=cases.first.seed,
                    text=cases.first.text,
                    draws=Share(cases.count, self._draws),
                )
                for (exercise, place), cases in self._claims.items()
            ),
        ]

    def _see(self, scenario: Scenario, exercise: str, prose: Prose) -> None:
        try:
            text = prose.render(scenario.names)
        except DefinitionError:
            return  # told elsewhere; or a text of a row, which knows more names than the scenario
        where = (exercise, prose.place)
        for found in sums(text):
            if not found.holds:
                gives = f"{found.values[0]:.6g}"
                case = _Case(scenario.seed, shown(found.text), gives, found.bare)
                add_case(self._sums, where, case)
                break
        for claim in claims(text):
            if not claim.holds:
                add_case(self._claims, where, _Case(scenario.seed, claim.text))
                break


def _texts(lab: Lab) -> Iterator[tuple[str, Prose]]:
    """The texts with a sum or a comparison in them, and whose exercise they belong to."""
    yield from (("", part) for part in lab.body if isinstance(part, Prose) and _may(part))
    for exercise in lab.exercises:
        for part in _prose(exercise):
            if _may(part):
                yield exercise.id, part


def _prose(exercise: Exercise) -> Iterator[Prose]:
    return (text for text in exercise.texts if isinstance(text, Prose))


def _may(prose: Prose) -> bool:
    return any(sign in prose.text for sign in ("=", "<", ">", "≤", "≥", " of "))
