"""Does the story of an exercise name the very place that is to be found?

A kind whose answer is a place has `places(ask)`, every place that could be answered, and
`right_places(ask, key)`. What a title or a question names in every draw, such as the supply, tells
nothing: so a text is held against what the same text would tell of other draws' places. A text
that names several places counts for each in part.
"""

from __future__ import annotations

import math
import re
from collections import Counter
from dataclasses import dataclass, field
from functools import lru_cache
from typing import ClassVar, Final

from labkit.doors.check import AsksForPlace
from labkit.lab.definition import Lab
from labkit.language.problems import Place
from labkit.proofing.counting import add_all
from labkit.proofing.findings import Finding, Severity, Share
from labkit.proofing.sample import Drawn, Tried

LOOK_OVER_CHANCE: Final = 0.20
"""A text that names the right place in so much more of the draws than by chance tells it."""
_BEFOREHAND: Final = ("the title", "the question")


@dataclass(frozen=True, kw_only=True)
class TellsPlace(Finding):
    """A title or a question names the place that is asked for."""

    id: ClassVar[str] = "tells-place"
    usual: ClassVar[Severity] = Severity.LOOK
    """Where to begin may be told on purpose."""
    what: str
    named: str
    draws: Share
    chance: float

    @property
    def sentence(self) -> str:
        """Which text, which place, in how many draws."""
        return (
            f"{self.what[0].upper()}{self.what[1:]} names the place that is to be found in "
            f"{self.draws}, where chance would in {100 * self.chance:.0f} %: with seed {self.seed} "
            f"it is '{self.named}'."
        )

    @property
    def mend(self) -> str:
        """Say what is seen, not where it comes from."""
        return "Let the story tell what somebody saw, and let the place be found."


@dataclass(slots=True)
class _Text:
    """What one text named over the draws."""

    place: Place
    draws: int = 0
    hits: float = 0.0
    hit_draws: int = 0
    first: tuple[str, str] = ("", "")
    named: dict[str, float] = field(default_factory=dict)
    right: Counter[str] = field(default_factory=Counter)

    def see(self, text: str, tried: Tried, places: tuple[str, ...], right: frozenset[str]) -> None:
        named = set(_any_of(places).findall(text))
        self.draws += 1
        self.right.update(right)
        for name in named:
            self.named[name] = self.named.get(name, 0.0) + 1 / len(named)
        hit = named & right
        if hit:
            self.hits += len(hit) / len(named)
            self.hit_draws += 1
            self.first = self.first if self.first[0] else (tried.scenario.seed, min(hit))

    def add(self, later: _Text) -> None:
        """Add what later draws gave."""
        self.draws += later.draws
        self.hits += later.hits
        self.hit_draws += later.hit_draws
        self.first = self.first if self.first[0] else later.first
        self.right.update(later.right)
        for name, share in later.named.items():
            self.named[name] = self.named.get(name, 0.0) + share

    @property
    def chance(self) -> float:
        """Share of the draws in which the text would name the right place of another draw."""
        both = math.fsum(self.named.get(name, 0.0) * count for name, count in self.right.items())
        return min(both / self.draws**2, 1.0)


@dataclass(slots=True)
class Places:
    """Watches the titles and questions of exercises that ask for a place."""

    lab: Lab
    _texts: dict[tuple[str, str], _Text] = field(default_factory=dict)

    def see(self, drawn: Drawn) -> None:
        """Take one draw in."""
        asked = {
            tried.exercise.id: (tried, *_places_of(check, tried))
            for tried in drawn.tried
            if isinstance(check := tried.check, AsksForPlace)
        }
        for text in drawn.texts:
            if text.exercise in asked and text.what in _BEFOREHAND:
                seen = self._texts.setdefault((text.exercise, text.what), _Text(text.place))
                seen.see(text.text, *asked[text.exercise])

    def add(self, later: Places) -> None:
        """Add what later draws gave."""
        add_all(self._texts, later._texts)

    def findings(self) -> list[Finding]:
        """Texts that tell the place."""
        return [
            TellsPlace(
                place=seen.place,
                exercise=exercise,
                seed=seen.first[0],
                what=what,
                named=seen.first[1],
                draws=Share(seen.hit_draws, seen.draws),
                chance=seen.chance,
            )
            for (exercise, what), seen in self._texts.items()
            if seen.hits / seen.draws - seen.chance > LOOK_OVER_CHANCE
        ]


def _places_of(check: AsksForPlace, tried: Tried) -> tuple[tuple[str, ...], frozenset[str]]:
    return tuple(check.places(tried.ask)), check.right_places(tried.ask, tried.key)


@lru_cache(maxsize=64)
def _any_of(places: tuple[str, ...]) -> re.Pattern[str]:
    # The longest first: "supply" stands in "power tap of supply, left" too.
    longest = sorted(places, key=len, reverse=True)
    return re.compile(rf"(?<!\w)(?:{'|'.join(map(re.escape, longest))})(?!\w)")
