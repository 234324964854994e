"""Are the scenarios equally hard, by the lab's own count?"""

from __future__ import annotations

from dataclasses import dataclass, field
from statistics import median
from typing import ClassVar

from labkit.lab.definition import Lab
from labkit.proofing.findings import Finding, Severity, Share
from labkit.proofing.sample import Drawn


@dataclass(frozen=True, slots=True)
class Spread:
    """Lowest, middle and highest difficulty over the draws."""

    low: float
    middle: float
    high: float


@dataclass(frozen=True, kw_only=True)
class OutsideBand(Finding):
    """Some scenarios are harder or easier than the lab allows."""

    id: ClassVar[str] = "outside-band"
    band: tuple[float, float]
    low: float
    middle: float
    high: float
    draws: Share

    @property
    def sentence(self) -> str:
        """The spread against the band."""
        return (
            f"the difficulty goes from {self.low:g} to {self.high:g} (half of the draws are below "
            f"{self.middle:g}); {self.draws} lie outside the band {self.band[0]:g} to "
            f"{self.band[1]:g}, such as seed {self.seed}."
        )

    @property
    def mend(self) -> str:
        """A rule keeps the draws inside."""
        return "Keep such draws out with a rule in 'valid', or widen the band."


@dataclass(frozen=True, kw_only=True)
class NoDifficulty(Finding):
    """The lab does not say how hard its scenarios are."""

    id: ClassVar[str] = "no-difficulty"

    @property
    def severity(self) -> Severity:
        """Nothing is wrong; it is only not known."""
        return Severity.NOTE

    @property
    def sentence(self) -> str:
        """Why it is told."""
        return "no difficulty is stated, so nothing shows whether the draws are equally hard."

    @property
    def mend(self) -> str:
        """How to state one."""
        return "Write 'difficulty: {formula: …, band: [low, high]}' in the header."


@dataclass(slots=True)
class Evenness:
    """Watches the difficulty over the draws."""

    lab: Lab
    _values: list[tuple[float, str]] = field(default_factory=list)

    def see(self, drawn: Drawn) -> None:
        """Take one draw in. A formula without a value is told by `Trials`."""
        if drawn.difficulty is not None:
            self._values.append((drawn.difficulty, drawn.scenario.seed))

    def add(self, later: Evenness) -> None:
        """Add what later draws gave."""
        self._values += later._values

    @property
    def spread(self) -> Spread | None:
        """The spread; None where no difficulty is stated."""
        values = [value for value, _ in self._values]
        return Spread(min(values), median(values), max(values)) if values else None

    def findings(self) -> list[Finding]:
        """Draws outside the band; no difficulty at all."""
        stated, spread = self.lab.difficulty, self.spread
        if stated is None:
            return [NoDifficulty(place=self.lab.place)]
        if spread is None or stated.band is None:
            return []
        low, high = stated.band
        outside = [(value, seed) for value, seed in self._values if not low <= value <= high]
        if not outside:
            return []
        farthest = max(outside, key=lambda item: max(low - item[0], item[0] - high))
        return [
            OutsideBand(
                place=stated.formula.place.at("difficulty"),
                band=stated.band,
                low=spread.low,
                middle=spread.middle,
                high=spread.high,
                seed=farthest[1],
                draws=Share(len(outside), len(self._values)),
            )
        ]
