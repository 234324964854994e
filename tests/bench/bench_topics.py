"""Whether a statistical model would tell better than the plain rule what sits: in invented classes.

    uv run --frozen python tests/bench/bench_topics.py [CLASSES]

No class was observed. In each of three worlds classes of 12 practise eight topics on three days,
ten first answers a topic. The rule is labkit's own. The model is the usual one of two states (knows
it or not; may learn at each answer, may slip, may guess; after Corbett and Anderson, 1995, from
memory), its four figures fitted to that class alone by expectation and maximisation, as a class's
own trainer would have to. Its threshold is chosen so that it lets as many topics sit as the rule
does, over all classes of that world: an advantage that no trainer would have. Asked is then how
many of what each lets sit is right a week later.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Final

import numpy as np
from numpy.typing import NDArray

from labkit.answering.topics import Tried, standing

PEOPLE: Final = 12
TOPICS: Final = 8
DAYS: Final = (0, 0, 0, 0, 1, 1, 1, 2, 2, 2)
"""On which day each answer was given."""
CLASSES: Final = 300
ROUNDS: Final = 30
BEGIN: Final = datetime(2031, 5, 5, 8, tzinfo=UTC)
Bools = NDArray[np.bool_]
Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class World:
    """How people learn in it: what is a share is a chance at each answer or each night.

    `guess` has the ends between which that of each topic lies. What is known is `fragile` at first:
    a night may take it, and knowing it on a later day makes it firm.
    """

    name: str
    known: float
    learn: float
    slip: float
    guess: tuple[float, float]
    night: float = 0.0


WORLDS: Final = (
    World("the model's own", 0.25, 0.2, 0.1, (0.2, 0.2)),
    World("guessing differs by topic", 0.25, 0.2, 0.1, (0.02, 0.45)),
    World("nights take what is fresh", 0.25, 0.3, 0.1, (0.2, 0.2), night=0.5),
)


def practised(world: World, chance: np.random.Generator) -> tuple[Bools, Bools]:
    """Right or wrong, by person and topic and answer; and whether the answer a week later is."""
    size = PEOPLE * TOPICS
    guess = np.tile(chance.uniform(*world.guess, TOPICS), PEOPLE)
    knows = chance.random(size) < world.known
    firm = knows.copy()
    right = np.zeros((size, len(DAYS)), dtype=bool)
    for place, day in enumerate(DAYS):
        if place and day != DAYS[place - 1]:
            knows &= firm | (chance.random(size) >= world.night)
            firm |= knows
        right[:, place] = chance.random(size) < np.where(knows, 1 - world.slip, guess)
        knows |= chance.random(size) < world.learn
    knows &= firm | (chance.random(size) >= world.night)
    return right, chance.random(size) < np.where(knows, 1 - world.slip, guess)


def by_the_rule(right: Bools) -> Bools:
    """What labkit says sits."""
    times = [BEGIN + timedelta(days=day, minutes=place) for place, day in enumerate(DAYS)]

    def sits(row: Bools) -> bool:
        answers = enumerate(zip(times, row, strict=True))
        tried = [Tried("x", str(n), at, bool(is_right)) for n, (at, is_right) in answers]
        return standing(tried).sits

    return np.array([sits(row) for row in right])


def by_the_model(right: Bools) -> Floats:
    """By the model, fitted to this class: how likely each now knows each topic."""
    known, learn, slip, guess = 0.3, 0.2, 0.1, 0.25
    for _ in range(ROUNDS):
        likely = np.stack([np.where(right, guess, 1 - guess), np.where(right, 1 - slip, slip)])
        change = np.array([[1 - learn, learn], [0.0, 1.0]])
        forward = np.zeros((len(DAYS), 2, len(right)))
        forward[0] = np.array([[1 - known], [known]]) * likely[:, :, 0]
        forward[0] /= forward[0].sum(axis=0)
        for place in range(1, len(DAYS)):
            forward[place] = (change.T @ forward[place - 1]) * likely[:, :, place]
            forward[place] /= forward[place].sum(axis=0)
        backward = np.ones_like(forward)
        for place in range(len(DAYS) - 2, -1, -1):
            backward[place] = change @ (backward[place + 1] * likely[:, :, place + 1])
            backward[place] /= backward[place].sum(axis=0)
        both = forward * backward
        both /= both.sum(axis=0)
        stayed = forward[:-1, 0] * (1 - learn) * likely[0, :, 1:].T * backward[1:, 0]
        learned = forward[:-1, 0] * learn * likely[1, :, 1:].T * backward[1:, 1]
        of_known = forward[:-1, 1] * likely[1, :, 1:].T * backward[1:, 1]
        whole = stayed + learned + of_known
        learn = _kept(float((learned / whole).sum() / ((stayed + learned) / whole).sum()))
        known = _kept(float(both[0, 1].mean()))
        slip = _kept(float((both[:, 1] * ~right.T).sum() / both[:, 1].sum()), 0.4)
        guess = _kept(float((both[:, 0] * right.T).sum() / both[:, 0].sum()), 0.5)
    now: Floats = change.T[1] @ forward[-1]
    return now


def _kept(value: float, most: float = 0.99) -> float:
    """Away from the ends, where the model would never learn otherwise again."""
    return min(max(value, 0.01), most)


def compared(world: World, classes: int) -> dict[str, float]:
    """Shares in % of what sits: by both alike, and right a week later by each."""
    rule: list[Bools] = []
    model: list[Floats] = []
    later: list[Bools] = []
    gains: list[float] = []
    for number in range(classes):
        right, week_later = practised(world, np.random.default_rng(number))
        rule.append(by_the_rule(right))
        model.append(by_the_model(right))
        later.append(week_later)
    sits, likely, after = np.concatenate(rule), np.concatenate(model), np.concatenate(later)
    # The same number of topics sit: of those that the model holds for equally likely, any.
    tie_break = np.random.default_rng(0).random(len(likely))
    picked = np.zeros(len(likely), dtype=bool)
    picked[np.lexsort((tie_break, likely))[::-1][: int(sits.sum())]] = True
    size = PEOPLE * TOPICS
    for place in range(classes):
        here = slice(place * size, (place + 1) * size)
        of_rule, of_model = after[here][sits[here]], after[here][picked[here]]
        if len(of_rule) and len(of_model):
            gains.append(float(of_model.mean() - of_rule.mean()))
    gain = 100 * float(np.mean(gains))
    error = 100 * float(np.std(gains, ddof=1)) / len(gains) ** 0.5
    return {
        "sits": 100 * float(sits.mean()),
        "rule": 100 * float(after[sits].mean()),
        "model": 100 * float(after[picked].mean()),
        "gain": gain,
        "low": gain - 1.96 * error,
        "high": gain + 1.96 * error,
    }


def main() -> None:
    """Print a line a world."""
    classes = int(sys.argv[1]) if len(sys.argv) > 1 else CLASSES
    print(f"{classes} classes of {PEOPLE}, {TOPICS} topics, {len(DAYS)} answers on three days")
    for world in WORLDS:
        now = compared(world, classes)
        print(
            f"{world.name}: {now['sits']:.0f} % sit; right a week later by the rule "
            f"{now['rule']:.1f} %, by the model {now['model']:.1f} %; a class gains "
            f"{now['gain']:+.1f} points ({now['low']:+.1f} to {now['high']:+.1f})"
        )


if __name__ == "__main__":
    main()
