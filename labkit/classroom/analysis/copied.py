"""Answers that are wrong with one's own numbers and right with somebody else's.

Whoever never saw B's numbers hits B's right answers only as often as those of any other trainee of
the same lab. How often that is need not be supposed: the lab is drawn again, many times over, and
each wrong answer of A is checked against every draw, by the same checks that mark. Given what A
answered, B's numbers are one more such draw if A knew nothing of them. So the test supposes nothing
of A, of the exercises or of how they hang together.

Score of A beside B: over the exercises where a wrong answer of A is right for B, the sum of
-ln(share of draws for which it is right). A hit that many draws would give weighs little, a number
that fits B alone weighs much. `expected` is the number of pairs of a class of this size that reach
the score by chance, from all trainees' scores beside all draws together (a Bonferroni bound over
the n(n-1) ordered pairs): marking those up to 0.025 marks any pair wrongly in at most one of forty
classes in which nobody copied.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from labkit.classroom.analysis.given import Given, given, options_of
from labkit.classroom.analysis.table import Flags, Floats, MarkTable
from labkit.classroom.progress import Progress
from labkit.lab.definition import Prepared
from labkit.lab.draw import draw
from labkit.lab.kinds import Check, check_for
from labkit.lab.problems import DefinitionError

FIRST_DRAWS: Final = 200
"""So many draws show whether a class holds anything out of the ordinary at all."""
WORTH_MORE: Final = 5
"""So seldom must the first draws, of all trainees, reach what is then held against more draws."""
LEAST_DRAWS: Final = 800
MOST_DRAWS: Final = 4_000
DRAWS_A_TRAINEE: Final = 80


@dataclass(frozen=True, slots=True)
class OthersNumber:
    """One hit: what A wrote in an exercise, and for which share of draws it would be right."""

    exercise: str
    number: int
    title: str
    written: str
    share_of_draws: float


@dataclass(frozen=True, slots=True)
class CopiedNumbers:
    """Trainee `writer` wrote what is right with the numbers of `owner` (positions in the table).

    `expected` pairs of such a class would score as high by chance.
    """

    writer: int
    owner: int
    hits: tuple[OthersNumber, ...]
    expected: float


@dataclass(frozen=True, slots=True)
class CopiedSearch:
    """All pairs with a hit, the least likely first, and how many draws they were held against."""

    pairs: tuple[CopiedNumbers, ...]
    draws: int


def copied_numbers(table: MarkTable, progress: Progress | None = None) -> CopiedSearch:
    """Look through a class. The same hand-ins give the same result.

    Where nothing can stand out after 200 draws of the lab the search ends; else it goes on to 80 a
    trainee, at least 800 and at most 4,000. `progress` is called with (done, all).
    """
    people = [given(result) for result in table.results]
    wrong = [
        [_wrong_answers(person[exercise]) for exercise in table.exercises] for person in people
    ]
    checks = [check_for(people[0][exercise].exercise.kind) for exercise in table.exercises]
    owners = [[person[exercise].prepared for exercise in table.exercises] for person in people]
    in_class = np.stack([_hits(wrong, checks, owner) for owner in owners], axis=1)
    if not in_class.any():
        return CopiedSearch((), 0)
    beside = _Draws(table, wrong, checks, progress)
    expected = expected_pairs(in_class, beside.up_to(FIRST_DRAWS))
    # What few of the first draws reach may stand out; what many reach cannot.
    pairs_a_draw = len(people) * (len(people) - 1) / (1 + len(people) * FIRST_DRAWS)
    if expected.min() <= WORTH_MORE * pairs_a_draw:
        size = min(MOST_DRAWS, max(LEAST_DRAWS, DRAWS_A_TRAINEE * (len(people) - 1)))
        expected = expected_pairs(in_class, beside.up_to(size))
    drawn = beside.up_to(0)
    pairs = []
    for a, b in np.argwhere(in_class.any(axis=2)).tolist():
        hits = [
            OthersNumber(
                exercise=table.exercises[index],
                number=table.numbers[index],
                title=table.titles[index],
                written=_first_hit(wrong[a][index], checks[index], owners[b][index]).shown,
                share_of_draws=float(drawn[a, :, index].mean()),
            )
            for index in in_class[a, b].nonzero()[0].tolist()
        ]
        pairs.append(CopiedNumbers(a, b, tuple(hits), float(expected[a, b])))
    pairs.sort(key=lambda pair: (pair.expected, pair.writer, pair.owner))
    return CopiedSearch(tuple(pairs), drawn.shape[1])


def expected_pairs(in_class: Flags, beside_draws: Flags) -> Floats:
    """How many pairs of the class chance alone would put as high as each pair stands, (n, n).

    `in_class` is (n, n, exercises): whether a wrong answer of the first is right for the second;
    `beside_draws` is (n, draws, exercises), the same against fresh draws of the lab.
    """
    people, draws = beside_draws.shape[:2]
    weights = -np.log((1 + beside_draws.sum(axis=1)) / (1 + draws))
    scores = np.einsum("abe,ae->ab", in_class, weights)
    by_chance = np.sort(np.einsum("ade,ae->ad", beside_draws, weights), axis=None)
    # Sums in another order differ in the last digits: equal scores must count as reached.
    reached = by_chance.size - np.searchsorted(by_chance, scores - 1e-9, side="left")
    pairs = people * (people - 1)
    expected: Floats = pairs * (1 + reached) / (1 + people * draws)
    expected[scores <= 0] = math.inf
    return expected


@dataclass(frozen=True, slots=True)
class _Wrong:
    """A wrong answer as its check reads it (an option by its own name), and as it was written."""

    value: Any
    shown: str

    def right_for(self, check: Check, prepared: Prepared) -> bool:
        if options_of(prepared):
            return bool(prepared.key["slips"][prepared.key["right"]] == self.value)
        return check.check(prepared.ask, prepared.key, self.value).right


def _wrong_answers(part: Given) -> list[_Wrong]:
    """Every different answer that a trainee tried and that is wrong with their own numbers."""
    check, prepared = check_for(part.exercise.kind), part.prepared
    names = prepared.key["slips"] if options_of(prepared) else None
    found: list[_Wrong] = []
    for answer in part.record.answers:
        verdict = check.check(prepared.ask, prepared.key, answer)
        if verdict.right or verdict.awaits or not verdict.readable:
            continue
        one = _Wrong(names[answer] if names else answer, check.shown(prepared.ask, answer))
        if one not in found:
            found.append(one)
    return found


def _first_hit(wrong: Sequence[_Wrong], check: Check, prepared: Prepared) -> _Wrong:
    return next(one for one in wrong if one.right_for(check, prepared))


def _hits(
    wrong: Sequence[Sequence[Sequence[_Wrong]]],
    checks: Sequence[Check],
    prepared: Sequence[Prepared],
) -> Flags:
    """Whether a wrong answer of each trainee is right with these numbers, (n, exercises).

    With a trainee's own numbers none is: wrong there is what makes an answer one of these.
    """
    return np.array(
        [
            [
                any(one.right_for(check, mine) for one in answers)
                for answers, check, mine in zip(person, checks, prepared, strict=True)
            ]
            for person in wrong
        ],
        dtype=bool,
    ).reshape(len(wrong), len(checks))


class _Draws:
    """Everybody's wrong answers held against fresh draws of the lab, as many as are asked for."""

    def __init__(
        self,
        table: MarkTable,
        wrong: Sequence[Sequence[Sequence[_Wrong]]],
        checks: Sequence[Check],
        progress: Progress | None,
    ) -> None:
        self._table, self._wrong, self._checks = table, wrong, checks
        self._progress = progress
        exercises = {exercise.id: exercise for exercise in table.lab.exercises}
        self._exercises = [exercises[exercise] for exercise in table.exercises]
        self._hits: list[Flags] = []
        self._tries = 0

    def up_to(self, size: int) -> Flags:
        """At least `size` draws, (n, draws, exercises); fewer only where draws fail."""
        while len(self._hits) < size and self._tries < 2 * MOST_DRAWS:
            self._tries += 1
            try:
                scenario = draw(self._table.lab, f"beside the class {self._tries}")
            except DefinitionError:
                # Some draws of a lab may have no value for a formula: nobody was dealt those.
                continue
            prepared = [scenario.prepare(exercise) for exercise in self._exercises]
            self._hits.append(_hits(self._wrong, self._checks, prepared))
            if self._progress:
                self._progress(len(self._hits), size)
        shape = (len(self._wrong), 0, len(self._checks))
        return np.stack(self._hits, axis=1) if self._hits else np.zeros(shape, dtype=bool)
