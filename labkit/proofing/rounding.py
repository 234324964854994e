"""Is somebody who calculates rightly and rounds rightly ever marked wrong?"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import ClassVar, Final, cast

from labkit.kinds.common.number_data import RightNumber
from labkit.kinds.common.span import span_of
from labkit.lab.definition import Lab
from labkit.proofing.counting import Cases, add_all, add_case
from labkit.proofing.findings import Finding, Severity, Share
from labkit.proofing.sample import Drawn, Tried, formula_at, number_and_rest, right_value

FIGURES: Final = 3
"""Significant figures that people in the trade write (common practice, no source)."""
_DECIMALS_IF_NOT_ASKED: Final = 2


@dataclass(frozen=True, kw_only=True)
class RoundingRejected(Finding):
    """The right value, rightly rounded, is marked wrong."""

    id: ClassVar[str] = "rounding-rejected"
    value: float
    rounded: str
    to: str
    asked: bool
    draws: Share

    @property
    def severity(self) -> Severity:
        """The decimals that are asked for must be enough; three figures are only usual."""
        return Severity.MUST if self.asked else Severity.LOOK

    @property
    def sentence(self) -> str:
        """The value and its rounding in a draw that shows it."""
        return (
            f"the right value, rounded to {self.to}, is marked wrong in {self.draws}: with seed "
            f"{self.seed} {self.value:.10g} is right and '{self.rounded}' is not."
        )

    @property
    def mend(self) -> str:
        """Say how to round, or allow for it."""
        return (
            "Make the tolerance at least half of the last figure, or say in the question how many "
            "decimals you want."
        )


@dataclass(slots=True)
class _Seen:
    draws: int = 0
    rejected: dict[tuple[str, bool], Cases[tuple[Tried, float, str]]] = field(default_factory=dict)

    def add(self, later: _Seen) -> None:
        self.draws += later.draws
        add_all(self.rejected, later.rejected)


@dataclass(slots=True)
class Rounding:
    """Watches rounded answers over the draws."""

    lab: Lab
    _seen: dict[str, _Seen] = field(default_factory=dict)

    def see(self, drawn: Drawn) -> None:
        """Take one draw in."""
        for tried in drawn.tried:
            value = right_value(tried)
            if value is None or not tried.verdict.right:
                continue
            seen = self._seen.setdefault(tried.exercise.id, _Seen())
            seen.draws += 1
            for typed, to, asked in _rounded(tried, value):
                if not tried.verdict_on(typed).right:
                    add_case(seen.rejected, (to, asked), (tried, value, typed))

    def add(self, later: Rounding) -> None:
        """Add what later draws gave."""
        add_all(self._seen, later._seen)

    def findings(self) -> list[Finding]:
        """Roundings that are refused."""
        found: list[Finding] = []
        for exercise in self.lab.exercises:
            seen = self._seen.get(exercise.id, _Seen())
            formula = formula_at(exercise, "answer")
            for (to, asked), cases in seen.rejected.items():
                tried, value, typed = cases.first
                found.append(
                    RoundingRejected(
                        place=exercise.place_of("tolerance")
                        if "tolerance" in exercise.data
                        else formula.place
                        if formula
                        else exercise.place,
                        exercise=exercise.id,
                        value=value,
                        rounded=typed,
                        to=to,
                        asked=asked,
                        seed=tried.scenario.seed,
                        draws=Share(cases.count, seen.draws),
                    )
                )
        return found


def _rounded(tried: Tried, value: float) -> list[tuple[str, str, bool]]:
    """The value as people round it: as typed, in words, and whether the exercise asks for it."""
    parts = number_and_rest(tried.right)
    assert parts is not None
    asked = tried.key.get("decimals")
    decimals = asked if isinstance(asked, int) else _DECIMALS_IF_NOT_ASKED
    rounded = []
    key = cast("RightNumber", tried.key)
    span = span_of(key) if {"value", "tolerance"} <= key.keys() else None
    if span and span.rule_at:
        # Who rounds a least to the nearest number breaks its rule, and is told so.
        text = span.at_decimals(value, decimals)
        return [(f"{text}{parts[1]}", f"{decimals} decimals to the safe side", True)]
    if isinstance(asked, int):
        rounded.append((f"{value:.{asked}f}{parts[1]}", f"{asked} decimals as asked", True))
    # A value that is exact anyway (a sum of whole metres) nobody rounds to three figures.
    exact = abs(value - round(value, decimals)) <= 1e-9 * max(1.0, abs(value))
    if not exact and not _says_how(tried):
        figures = float(f"{value:.{FIGURES}g}")
        rounded.append((f"{figures:.12g}{parts[1]}", f"{FIGURES} significant figures", False))
    return rounded


def _says_how(tried: Tried) -> bool:
    question = tried.exercise.question.text.lower()
    return "decimal" in question or "round" in question or "figure" in question
