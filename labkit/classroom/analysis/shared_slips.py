"""Pairs of trainees who make the same mistakes more often than chance has it.

Everybody has own numbers, so alike wrong answers are alike *mistakes*. For each exercise it is held
fixed who was wrong there and how often each mistake was made. If nobody worked together, the
mistakes are dealt to those who were wrong as cards are dealt: two of them share mistake s with the
probability c_s (c_s - 1) / (w (w - 1)), with c_s of the w who were wrong making it. A pair scores
-ln of that for every mistake it shares, so a rare one weighs more; the probability of its score or
a higher one follows exactly, by adding the exercises up one after the other.

Two who were taught the same wrong thing look just the same. This finds pairs to talk to, no more.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from labkit.classroom.analysis.intervals import holm
from labkit.classroom.analysis.table import MarkTable
from labkit.classroom.mark import Mark

# Scores are whole multiples of this, in nats, so that probabilities can be added up exactly.
_GRAIN: Final = 0.05
_ROWS: Final = 64

Mistakes = Sequence[str | None]
"""A trainee's mistake in each exercise; None where the answer was right or blank."""


@dataclass(frozen=True, slots=True)
class SharedMistakes:
    """Two trainees (as positions), the exercises where they made the same mistake, out of how many
    where both were wrong, the probability of that by chance, and the same adjusted by Holm's method
    for all pairs of the class."""

    first: int
    second: int
    exercises: tuple[int, ...]
    both_wrong: int
    probability: float
    adjusted: float


def mistakes(table: MarkTable) -> list[list[str | None]]:
    """Everybody's mistake in each exercise: the slip's id, or else what was written."""
    people = [{mark.exercise: mark for mark in result.marks} for result in table.results]
    return [[_mistake(person[exercise]) for exercise in table.exercises] for person in people]


def shared_mistakes(made: Sequence[Mistakes], most: float = 1.0) -> list[SharedMistakes]:
    """All pairs that share at least one mistake, the least likely first.

    `made` is (trainees, exercises). Taking the pairs of `adjusted` at most 0.05 for more than
    chance is wrong about any pair in at most one of twenty classes in which all worked alone.
    With `most`, pairs are left out whose `adjusted` comes out higher than that: a pair is no less
    likely than the very mistakes that it shares are together. (It holds for all pairs together
    unless more than half of all pairs of the class come out at `most` or lower.)
    """
    odds = [_Odds.of([person[index] for person in made]) for index in range(_width(made))]
    chances: dict[tuple[tuple[int, ...], int], float] = {}
    total = len(made) * (len(made) - 1) // 2
    pairs = []
    for first, second in _sharing(made, odds, 2 * most / max(total, 1) if most < 1 else math.inf):
        both = tuple(i for i in range(len(odds)) if made[first][i] and made[second][i])
        same = [i for i in both if made[first][i] == made[second][i]]
        score = sum(odds[i].score(made[first][i]) for i in same)
        if (both, score) not in chances:
            chances[both, score] = _chance([odds[i] for i in both], score)
        pairs.append((first, second, tuple(same), len(both), chances[both, score]))
    adjusted = holm([pair[-1] for pair in pairs], total)
    found = [SharedMistakes(*pair, value) for pair, value in zip(pairs, adjusted, strict=True)]
    return sorted(found, key=lambda pair: (pair.probability, pair.first, pair.second))


def _sharing(
    made: Sequence[Mistakes], odds: Sequence[_Odds], likely: float
) -> Iterator[tuple[int, int]]:
    """The pairs that share something of which the probability is at most `likely`.

    A block of rows of the table of all pairs is in memory at a time.
    """
    codes, weights = [], []
    for index, one in enumerate(odds):
        numbers = {mistake: number for number, mistake in enumerate(one.shared)}
        codes.append(np.array([numbers.get(person[index] or "", -1) for person in made]))
        weights.append(np.array([-math.log(p) for p, _ in one.shared.values()]))
    least = -math.log(likely) - 1e-9
    for start in range(0, len(made), _ROWS):
        shape = (len(made[start : start + _ROWS]), len(made))
        scores, any_same = np.zeros(shape), np.zeros(shape, dtype=bool)
        for column, weight in zip(codes, weights, strict=True):
            mine = column[start : start + _ROWS]
            same = (mine[:, None] == column) & (mine >= 0)[:, None]
            any_same |= same
            if len(weight):
                scores += same * weight[mine][:, None]
        later = np.arange(len(made)) > np.arange(start, start + shape[0])[:, None]
        for row, second in np.argwhere(any_same & later & (scores >= least)).tolist():
            yield start + row, second


def _width(made: Sequence[Mistakes]) -> int:
    return len(made[0]) if made else 0


def _mistake(mark: Mark) -> str | None:
    if mark.verdict.right or not mark.answered:
        return None
    if mark.slip:
        return f"slip {mark.slip}"
    return f"text {' '.join(mark.answer.split()).casefold()}"


@dataclass(frozen=True, slots=True)
class _Odds:
    """For one exercise: by mistake, the probability that a pair shares it, and its score."""

    shared: dict[str, tuple[float, int]]

    @classmethod
    def of(cls, column: Sequence[str | None]) -> _Odds:
        counts = Counter(mistake for mistake in column if mistake)
        wrong = sum(counts.values())
        chances = {
            mistake: count * (count - 1) / (wrong * (wrong - 1))
            for mistake, count in counts.items()
            if count > 1
        }
        return cls({m: (p, round(-math.log(p) / _GRAIN)) for m, p in chances.items()})

    def score(self, mistake: str | None) -> int:
        return self.shared[mistake][1] if mistake else 0


def _chance(odds: Sequence[_Odds], score: int) -> float:
    """The probability that a pair that was wrong in all of these scores `score` or more."""
    if score <= 0:
        return 1.0
    # The probability of each score below the one seen; what reaches it is counted and leaves.
    below, reached = {0: 1.0}, 0.0
    for exercise in odds:
        apart = 1 - math.fsum(p for p, _ in exercise.shared.values())
        after: dict[int, float] = {}
        for points, chance in below.items():
            after[points] = after.get(points, 0.0) + chance * apart
            for p, more in exercise.shared.values():
                if points + more >= score:
                    reached += chance * p
                else:
                    after[points + more] = after.get(points + more, 0.0) + chance * p
        below = after
    return min(1.0, reached)
