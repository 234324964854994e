"""how far does one get without calculating: by one answer for every draw?"""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from statistics import quantiles
from typing import ClassVar, Final

from labkit.lab.definition import Exercise, Lab
from labkit.lab.expression import Prose
from labkit.lab.kinds import Json
from labkit.lab.proofing.findings import Finding, Severity, Share, shown
from labkit.lab.proofing.sample import (
    Drawn,
    Tried,
    declared,
    formula_at,
    number_and_rest,
    options_of,
)

LOOK_SHARE: Final = 0.40
MUST_SHARE: Final = 0.50
"""A guess that is right in more than these shares of the draws is told (no options to choose)."""
LOOK_OVER_CHANCE: Final = 0.30
MUST_OPTION: Final = 0.80
"""Among options: so much more than chance is told; beyond the second share it must be mended."""

_KEPT: Final = 400
_FIRST_LOOK: Final = 80
_CANDIDATES: Final = 24
_BEST: Final = 3
_NAMES: Final = 4

Guess = Callable[[Tried], bool]


@dataclass(frozen=True, kw_only=True)
class Guessable(Finding):
    """One answer, or one simple way, is right in too many draws."""

    id: ClassVar[str] = "guessable"
    way: str
    options: int
    draws: Share

    @property
    def severity(self) -> Severity:
        """From which share on it is no question any more."""
        limit = MUST_OPTION if self.options else MUST_SHARE
        return Severity.MUST if self.draws.part > limit else Severity.LOOK

    @property
    def sentence(self) -> str:
        """The way, its share, and what chance alone gives."""
        if self.options:
            chance = (
                f"blind choice among {self.options} options gives {100 / self.options:.0f} %, told "
                f"from {100 * (1 / self.options + LOOK_OVER_CHANCE):.0f} % on"
            )
        else:
            chance = f"blind choice gives next to nothing, told above {100 * LOOK_SHARE:.0f} %"
        return f"without any calculation, {self.way} earns full marks in {self.draws} ({chance})."

    @property
    def mend(self) -> str:
        """Spread the answers."""
        if self.options:
            return "Draw so that each option is right about equally often, and write them alike."
        return "Widen the ranges, so that the answer moves more from draw to draw."


@dataclass(slots=True)
class Guessing:
    """Keeps draws, and at the end tries guesses on them."""

    lab: Lab
    _kept: dict[str, list[Tried]] = field(default_factory=dict)

    def see(self, drawn: Drawn) -> None:
        """Take one draw in; the first few hundred are enough for shares."""
        for tried in drawn.tried:
            kept = self._kept.setdefault(tried.exercise.id, [])
            if len(kept) < _KEPT and not tried.verdict.awaits and tried.verdict.right:
                kept.append(tried)

    def findings(self) -> list[Finding]:
        """The best guess at each exercise, where it is too good."""
        visible = _visible(self.lab)
        found: list[Finding] = []
        for exercise in self.lab.exercises:
            kept = self._kept.get(exercise.id, [])
            if len(kept) < 2:
                continue
            options = len(options_of(kept[0]))
            way, count = _best(exercise, kept, visible)
            share = Share(count, len(kept))
            limit = 1 / options + LOOK_OVER_CHANCE if options else LOOK_SHARE
            if share.part > limit:
                found.append(
                    Guessable(
                        place=exercise.place,
                        exercise=exercise.id,
                        way=way,
                        options=options,
                        draws=share,
                    )
                )
        return found


def _best(exercise: Exercise, kept: list[Tried], visible: frozenset[str]) -> tuple[str, int]:
    """The best way to guess and how many of the draws it gets right."""
    ways = {**_options_ways(exercise, kept), **_fixed_ways(kept)}
    if formula_at(exercise, "answer") is None:
        ways |= _share_ways(kept, visible)
    first = kept[:_FIRST_LOOK]
    scores = Counter(
        {way: sum(1 for tried in first if guess(tried)) for way, guess in ways.items()}
    )
    best = [way for way, _ in scores.most_common(_BEST)]
    counts = {way: sum(1 for tried in kept if ways[way](tried)) for way in best}
    way = max(counts, key=lambda name: counts[name])
    return way, counts[way]


def _fixed_ways(kept: list[Tried]) -> dict[str, Guess]:
    """Every trainee gives the same answer."""
    return {
        f"answering '{shown(_told(kept[0], answer))}' always": _fixed(answer)
        for answer in _spread(kept)
    }


def _fixed(answer: Json) -> Guess:
    return lambda tried: tried.verdict_on(answer).right


def _told(tried: Tried, answer: Json) -> str:
    """A letter stays a letter here: its text changes from draw to draw."""
    return answer if isinstance(answer, str) else tried.check.shown(tried.ask, answer)


def _spread(kept: list[Tried]) -> Iterator[Json]:
    """Right answers to try: the commonest, and numbers from all over their range."""
    written = Counter(json.dumps(tried.right, sort_keys=True) for tried in kept)
    yield from (json.loads(text) for text, _ in written.most_common(_CANDIDATES // 2))
    numbers = [parts for parts in (number_and_rest(tried.right) for tried in kept) if parts]
    if len(numbers) == len(kept) and len(written) > _CANDIDATES // 2:
        ordered = sorted(numbers)
        step = max(1, len(ordered) // (_CANDIDATES // 2))
        yield from (f"{number:.12g}{rest}" for number, rest in ordered[::step])


def _options_ways(exercise: Exercise, kept: list[Tried]) -> dict[str, Guess]:
    """The same option whatever its letter; the longest text; the shortest."""
    ways: dict[str, Guess] = {}
    for name in declared(exercise, "options"):
        ways[f"choosing the option '{name}' always"] = _not_wrong(name)
    if options_of(kept[0]):
        ways["choosing the longest option"] = _by_length(longest=True)
        ways["choosing the shortest option"] = _by_length(longest=False)
    return ways


def _not_wrong(name: str) -> Guess:
    return lambda tried: name not in tried.slips


def _by_length(*, longest: bool) -> Guess:
    def guess(tried: Tried) -> bool:
        lengths = {name: len(text) for name, text in options_of(tried).items()}
        extreme = (max if longest else min)(lengths.values(), default=0)
        alike = [name for name, length in lengths.items() if length == extreme]
        return len(alike) == 1 and tried.verdict_on(alike[0]).right

    return guess


def _share_ways(kept: list[Tried], visible: frozenset[str]) -> dict[str, Guess]:
    """The same share of a number that the text shows: "0.7 of the trunk"."""
    ratios = {}
    for name in visible:
        found = [_ratio(tried, name) for tried in kept]
        known = [ratio for ratio in found if ratio is not None]
        if len(known) == len(kept):
            ratios[name] = known
    steadiest = sorted(ratios, key=lambda name: (_unsteady(ratios[name]), name))[:_NAMES]
    ways: dict[str, Guess] = {}
    for name in steadiest:
        for part in {round(cut, 2) for cut in quantiles(ratios[name], n=10)}:
            ways[f"answering {part:g} times '{name}'"] = _share_of(name, part)
    return ways


def _ratio(tried: Tried, name: str) -> float | None:
    value = tried.scenario.names[name]
    parts = number_and_rest(tried.right)
    if parts is None or isinstance(value, bool) or not isinstance(value, int | float) or not value:
        return None
    return parts[0] / value


def _unsteady(ratios: list[float]) -> float:
    low, middle, high = quantiles(ratios, n=4)
    return (high - low) / abs(middle) if middle else float("inf")


def _share_of(name: str, part: float) -> Guess:
    def guess(tried: Tried) -> bool:
        typed = tried.typed(part * tried.scenario.names[name])
        return typed is not None and tried.verdict_on(typed).right

    return guess


def _visible(lab: Lab) -> frozenset[str]:
    """The names that the trainee reads before answering."""
    texts = [part for part in lab.body if isinstance(part, Prose)]
    texts += [exercise.question for exercise in lab.exercises]
    return frozenset().union(*(text.names for text in texts)) - {"network", *lab.constants}
