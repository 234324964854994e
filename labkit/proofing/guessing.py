"""How far does one get without calculating: by one answer for every draw, or by halving?"""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from math import sqrt
from statistics import quantiles
from typing import ClassVar, Final

from labkit.doors.check import AnswersByNames, Json, KnowsBlindShare
from labkit.lab.definition import Exercise, Lab
from labkit.language.expression import Prose
from labkit.proofing.blindly import blind_findings
from labkit.proofing.findings import Finding, Severity, Share, shown
from labkit.proofing.halving import found_by_halving
from labkit.proofing.recognised import recognised
from labkit.proofing.sample import (
    Drawn,
    Kept,
    formula_at,
    names_of,
    needed,
    number_and_rest,
    options_of,
)

LOOK_SHARE: Final = 0.40
MUST_SHARE: Final = 0.50
"""A guess that is right in more than these shares of the draws is told (no options to choose)."""
_FEW: Final = 100
LOOK_OVER_CHANCE: Final = 0.30
MUST_OPTION: Final = 0.80
"""Among options: so much more than chance is told; beyond the second share it must be mended."""

_KEPT: Final = 400
_LOOKS: Final = ((16, 0.25), (80, 0.6))
"""After so many draws a guess is given up unless it earns that part of what would be told: of those
that are told, one in three hundred is lost at each look (binomial distribution)."""
_CANDIDATES: Final = 24
_BEST: Final = 3
_NAMES: Final = 4

Guess = Callable[[Kept], bool]


@dataclass(frozen=True, kw_only=True)
class Guessable(Finding):
    """One answer, or one simple way, is right in too many draws."""

    id: ClassVar[str] = "guessable"
    way: str
    options: int
    draws: Share
    drawn: bool = True
    number: bool = True
    blind: float = 0.0

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
            gives = f"{100 * self.blind:.2g} %" if self.blind else "next to nothing"
            chance = f"blind choice gives {gives}, told above {100 * LOOK_SHARE:.0f} %"
        return f"without any calculation, {self.way} earns full marks in {self.draws} ({chance})."

    @property
    def mend(self) -> str:
        """Spread the answers, where they can be."""
        if not self.drawn:
            return (
                "Let the answer hang on a drawn name; if everybody is to get the same, accept this "
                "with a reason under 'accepted:'."
            )
        if self.options:
            return "Draw so that each option is right about equally often, and write them alike."
        if not self.number:
            return (
                "Draw from more cases, each about as often, so that the answer differs more; where "
                "many answers are right, leave fewer of them open."
            )
        return "Widen the ranges, so that the answer moves more from draw to draw."


@dataclass(slots=True)
class Guessing:
    """Keeps draws, and at the end tries guesses on them."""

    lab: Lab
    _kept: dict[str, list[Kept]] = field(default_factory=dict)

    def see(self, drawn: Drawn) -> None:
        """Take one draw in; the first few hundred are enough for shares."""
        for tried in drawn.tried:
            kept = self._kept.setdefault(tried.exercise.id, [])
            if len(kept) < _KEPT and not tried.verdict.awaits and tried.verdict.right:
                kept.append(Kept.of(tried))

    def add(self, later: Guessing) -> None:
        """Add what later draws gave."""
        for name, kept in later._kept.items():
            mine = self._kept.setdefault(name, [])
            mine += kept[: _KEPT - len(mine)]

    def findings(self) -> list[Finding]:
        """The best guess at each exercise, where it is too good."""
        visible = _visible(self.lab)
        found: list[Finding] = []
        for exercise in self.lab.exercises:
            kept = self._kept.get(exercise.id, [])
            if len(kept) < 2:
                continue
            if halved := found_by_halving(exercise, kept):
                found.append(halved)
            found += blind_findings(exercise, kept)
            options = len(options_of(kept[0].ask))
            limit = 1 / options + LOOK_OVER_CHANCE if options else LOOK_SHARE
            best = _best(_ways(exercise, kept, visible), kept, limit)
            if best and _is_over(best[1], limit):
                found.append(
                    Guessable(
                        place=exercise.place,
                        exercise=exercise.id,
                        way=best[0],
                        options=options,
                        draws=best[1],
                        drawn=_hangs_on_draw(self.lab, exercise),
                        number=number_and_rest(kept[0].right) is not None,
                        blind=_blind(kept[0]),
                    )
                )
        return found


def _is_over(draws: Share, limit: float) -> bool:
    """Whether a guess is right too often; of few draws what chance hardly gives: two deviations."""
    few = draws.of < _FEW
    return draws.part > limit + (2 * sqrt(limit * (1 - limit) / draws.of) if few else 0.0)


def _blind(tried: Kept) -> float:
    """The share that chance alone gets right; 0 where the kind does not say."""
    return tried.check.blind(tried.ask) if isinstance(tried.check, KnowsBlindShare) else 0.0


def _hangs_on_draw(lab: Lab, exercise: Exercise) -> bool:
    """Whether anything drawn is in the answer's formula, or in the exercise where it has none."""
    formula = formula_at(exercise, "answer")
    names = formula.names if formula else names_of(exercise.texts)
    return not needed(lab, names).isdisjoint(parameter.name for parameter in lab.parameters)


def _ways(exercise: Exercise, kept: list[Kept], visible: frozenset[str]) -> dict[str, Guess]:
    ways = {**_options_ways(kept), **_fixed_ways(kept), **_named_ways(kept)}
    if formula_at(exercise, "answer") is None:
        ways |= _share_ways(kept, visible)
    return ways


def _best(ways: dict[str, Guess], kept: list[Kept], limit: float) -> tuple[str, Share] | None:
    """The best way to guess, with the draws it gets right; None where none comes near `limit`.

    Checks are slow and most guesses are hopeless: those are given up after a few draws.
    """
    right = Counter(dict.fromkeys(ways, 0))
    start = 0
    for end, part in (*_LOOKS, (len(kept), 0.0)):
        for way in right:
            right[way] += sum(1 for one in kept[start:end] if ways[way](one))
        start = max(start, min(end, len(kept)))
        hopeful = {way: count for way, count in right.items() if count >= part * limit * start}
        right = Counter(dict(Counter(hopeful).most_common(_BEST if end >= _LOOKS[-1][0] else None)))
    if not right:
        return None
    way, count = right.most_common(1)[0]
    return way, Share(count, len(kept))


def _fixed_ways(kept: list[Kept]) -> dict[str, Guess]:
    """Every trainee gives the same answer."""
    return {
        f"answering '{shown(_told(kept[0], answer))}' always": _fixed(answer)
        for answer in _spread(kept)
    }


def _fixed(answer: Json) -> Guess:
    return lambda tried: tried.verdict_on(answer).right


def _named_ways(kept: list[Kept]) -> dict[str, Guess]:
    """Every trainee gives the same answer, whatever the letters: the commonest ones.

    Only such as can be known again: what an author calls an option, nobody reads.
    """
    named: Counter[str] = Counter()
    first = kept[: _LOOKS[0][0]]
    for tried in first:
        if isinstance(tried.check, AnswersByNames):
            names = tried.check.by_names(*tried.made(), tried.right)
            named[json.dumps(names)] += 1
    found = [json.loads(text) for text, _ in named.most_common(_CANDIDATES // 2)]
    if found and (known := recognised(first)) is not None:
        found = [names for names in found if known.issuperset(names)]
    return {
        f"choosing {', '.join(map(repr, names)) or 'none of them'} always": _by_names(names)
        for names in found
    }


def _by_names(names: Json) -> Guess:
    def guess(tried: Kept) -> bool:
        check = tried.check
        if not isinstance(check, AnswersByNames):
            return False
        return tried.verdict_on(check.from_names(*tried.made(), names)).right

    return guess


def _told(tried: Kept, answer: Json) -> str:
    """A letter stays a letter here: its text changes from draw to draw."""
    return answer if isinstance(answer, str) else tried.check.shown(tried.ask, answer)


def _spread(kept: list[Kept]) -> Iterator[Json]:
    """Right answers to try: the commonest, and numbers from all over their range."""
    written = Counter(json.dumps(tried.right, sort_keys=True) for tried in kept)
    yield from (json.loads(text) for text, _ in written.most_common(_CANDIDATES // 2))
    numbers = [parts for parts in (number_and_rest(tried.right) for tried in kept) if parts]
    if len(numbers) == len(kept) and len(written) > _CANDIDATES // 2:
        ordered = sorted(numbers)
        step = max(1, len(ordered) // (_CANDIDATES // 2))
        yield from (f"{number:.12g}{rest}" for number, rest in ordered[::step])


def _options_ways(kept: list[Kept]) -> dict[str, Guess]:
    """The longest text; the shortest."""
    if not options_of(kept[0].ask):
        return {}
    return {
        "choosing the longest option": _by_length(longest=True),
        "choosing the shortest option": _by_length(longest=False),
    }


def _by_length(*, longest: bool) -> Guess:
    def guess(tried: Kept) -> bool:
        lengths = {name: len(text) for name, text in options_of(tried.ask).items()}
        extreme = (max if longest else min)(lengths.values(), default=0)
        alike = [name for name, length in lengths.items() if length == extreme]
        return len(alike) == 1 and tried.verdict_on(alike[0]).right

    return guess


def _share_ways(kept: list[Kept], visible: frozenset[str]) -> dict[str, Guess]:
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


def _ratio(tried: Kept, name: str) -> float | None:
    value = tried.scenario.names[name]
    parts = number_and_rest(tried.right)
    if parts is None or isinstance(value, bool) or not isinstance(value, int | float) or not value:
        return None
    return parts[0] / value


def _unsteady(ratios: list[float]) -> float:
    low, middle, high = quantiles(ratios, n=4)
    return (high - low) / abs(middle) if middle else float("inf")


def _share_of(name: str, part: float) -> Guess:
    def guess(tried: Kept) -> bool:
        typed = tried.typed(part * tried.scenario.names[name])
        return typed is not None and tried.verdict_on(typed).right

    return guess


def _visible(lab: Lab) -> frozenset[str]:
    """The names that the trainee reads before answering."""
    texts = [part for part in lab.body if isinstance(part, Prose)]
    texts += [exercise.question for exercise in lab.exercises]
    return frozenset().union(*(text.names for text in texts)) - {"network", *lab.constants}
