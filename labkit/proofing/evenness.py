"""Are the scenarios equally hard, by the lab's own count?"""

from __future__ import annotations

from dataclasses import dataclass, field
from statistics import median
from typing import Any, ClassVar, Final

from labkit.lab.definition import Lab
from labkit.lab.difficulty import Window, window
from labkit.language.problems import Place
from labkit.proofing.findings import Finding, Severity, Share
from labkit.proofing.sample import Drawn

MANY_OUTSIDE: Final = 2 / 3
"""What is dealt of the difficulties is told where at least this share of the draws is not."""


@dataclass(frozen=True, slots=True)
class Spread:
    """Lowest, middle and highest difficulty over so many draws, and what a class is dealt of it.

    `place` is that of its formula. `dealt` is None where no draw lies in the lab's band. Working
    the difficulty out took `seconds`, once all its names were known.
    """

    place: Place
    low: float
    middle: float
    high: float
    draws: int
    dealt: Window | None
    seconds: float = field(default=0.0, compare=False)

    @property
    def turned_down(self) -> Share:
        """The draws that keep the rules, but no class is dealt, unless it allows a wider spread."""
        return Share(self.draws - (self.dealt.inside if self.dealt else 0), self.draws)

    @property
    def turns_many_down(self) -> bool:
        """Whether an author should know how many draws no class is dealt."""
        return self.dealt is not None and self.turned_down.part >= MANY_OUTSIDE

    @property
    def sentence(self) -> str:
        """What a class is dealt, and how many draws are turned down for it."""
        dealt = self.dealt
        which = f"a difficulty of {dealt.low:.3g} to {dealt.high:.3g}" if dealt else "nothing"
        return (
            f"a class is dealt {which}, where most draws lie, unless class.yaml allows more: "
            f"{self.turned_down} are turned down for it."
        )

    @property
    def mend(self) -> str:
        """Draws that are more alike."""
        return "To draw less for nothing, let fewer difficulties come up."

    def to_json(self) -> dict[str, Any]:
        """The spread as plain JSON data."""
        dealt = self.dealt
        return {
            "low": self.low,
            "middle": self.middle,
            "high": self.high,
            "dealt": {"low": dealt.low, "high": dealt.high} if dealt else None,
            "turned_down": self.turned_down.count,
        }


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
    usual: ClassVar[Severity] = Severity.NOTE
    """Nothing is wrong; it is only not known."""

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
    _seconds: float = 0.0

    def see(self, drawn: Drawn) -> None:
        """Take one draw in. A formula without a value is told by `Trials`."""
        if drawn.difficulty is not None:
            self._values.append((drawn.difficulty, drawn.scenario.seed))
        self._seconds += drawn.difficulty_took

    def add(self, later: Evenness) -> None:
        """Add what later draws gave."""
        self._values += later._values
        self._seconds += later._seconds

    @property
    def spread(self) -> Spread | None:
        """The spread; None where no difficulty is stated."""
        values = [value for value, _ in self._values]
        stated = self.lab.difficulty
        if stated is None or not values:
            return None
        dealt = window(values, stated.band)
        low, middle, high = min(values), median(values), max(values)
        return Spread(
            place=stated.formula.place,
            low=low,
            middle=middle,
            high=high,
            draws=len(values),
            dealt=dealt,
            seconds=self._seconds,
        )

    def findings(self) -> list[Finding]:
        """Draws outside the band; no difficulty at all."""
        stated, spread = self.lab.difficulty, self.spread
        if stated is None:
            # Where nothing is drawn, all are equally hard.
            return [NoDifficulty(place=self.lab.place)] if self.lab.parameters else []
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
