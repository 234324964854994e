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
the ordered pairs that are compared): marking those up to 0.025 marks any pair wrongly in at most
one of forty classes in which nobody copied.

A room full of trainees is compared each with each. Of more of them only those who sat beside one
another are: n(n-1) pairs would take as many draws a trainee as nobody has time for.
"""

from __future__ import annotations

import json
import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from labkit.classroom.analysis.given import Given, given
from labkit.classroom.analysis.table import Flags, Floats, Ints, MarkTable
from labkit.classroom.open_draws import OpenDraws
from labkit.classroom.progress import Progress
from labkit.classroom.result import Result, worked_together
from labkit.doors.check import AnswersByNames, NumberInSpan
from labkit.doors.installed import check_for
from labkit.doors.prepared import Prepared
from labkit.lab.definition import Exercise

ALL_COMPARED: Final = 60
"""So many hand-ins are compared each with each."""
FIRST_DRAWS: Final = 200
"""So many draws show whether a class holds anything out of the ordinary at all."""
WORTH_MORE: Final = 5
"""So seldom must the draws so far, of all trainees, reach what is then held against more draws."""
LEAST_DRAWS: Final = 800
MOST_DRAWS: Final = 4_000
DRAWS_A_PARTNER: Final = 80
"""Draws for each trainee whom somebody is compared with: chance then shows what it does in an
eightieth of the classes, and 0.025 can be told."""


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
    """All pairs with a hit, the least likely first; how many draws they were held against, how many
    ordered pairs were compared, and whether these were only those who sat beside one another."""

    pairs: tuple[CopiedNumbers, ...]
    draws: int
    compared: int
    only_beside: bool = False

    @property
    def narrowed(self) -> str:
        """The sentence that tells when not all pairs were compared; "" when they were."""
        if not self.only_beside:
            return ""
        nobody = "" if self.compared else ", and of these the roster names nobody"
        return (
            f"More than {ALL_COMPARED} handed in: numbers of others were looked for between those "
            f"alone who, by the roster, sit beside one another{nobody}. Same mistakes were looked "
            "for in all pairs."
        )


def copied_numbers(
    table: MarkTable,
    progress: Progress | None = None,
    beside: Mapping[str, Sequence[str]] | None = None,
) -> CopiedSearch:
    """Look through a class. The same hand-ins give the same result.

    `beside` has everybody's neighbours by id: above 60 hand-ins these alone are compared. The
    search draws the lab 200 times and then twice as often each time, and ends where nothing can
    stand out any more; else at 80 draws for each partner that somebody has, at least 800 and at
    most 4,000. `progress` is called with (done, all).
    """
    partners = _partners(table, beside or {})
    compared = sum(map(len, partners))
    only_beside = table.trainees > ALL_COMPARED
    columns = _columns(table)
    found = _found(table, partners, columns) if columns else []
    if not found:
        return CopiedSearch((), 0, compared, only_beside)
    writers = np.array([writer for writer, _, _ in found])
    in_class = np.array([[hit is not None for hit in hits] for *_, hits in found], dtype=bool)
    draws = _Draws(table, columns, progress)
    most = DRAWS_A_PARTNER * max(map(len, partners))
    goal = min(MOST_DRAWS, max(LEAST_DRAWS, most))
    size = FIRST_DRAWS
    while True:
        drawn = draws.up_to(size, goal)
        expected = expected_pairs(compared, writers, in_class, drawn)
        # What few of the draws reach may stand out; what many reach cannot.
        pairs_a_draw = compared / (1 + drawn.shape[0] * drawn.shape[1])
        if size >= goal or expected.min() > WORTH_MORE * pairs_a_draw:
            break
        size = min(goal, 2 * size)
    pairs = [
        CopiedNumbers(
            writer,
            owner,
            tuple(
                OthersNumber(
                    exercise=column.exercise.id,
                    number=table.numbers[column.index],
                    title=table.titles[column.index],
                    written=hit.shown,
                    share_of_draws=float(drawn[writer, :, place].mean()),
                )
                for place, (column, hit) in enumerate(zip(columns, hits, strict=True))
                if hit is not None
            ),
            float(chance),
        )
        for (writer, owner, hits), chance in zip(found, expected, strict=True)
    ]
    pairs.sort(key=lambda pair: (pair.expected, pair.writer, pair.owner))
    return CopiedSearch(tuple(pairs), drawn.shape[1], compared, only_beside)


def expected_pairs(compared: int, writers: Ints, in_class: Flags, beside_draws: Flags) -> Floats:
    """How many of `compared` pairs chance alone would put as high as each pair stands, (pairs,).

    For each pair, `writers` (pairs,) says whose answers they are, and `in_class` (pairs, exercises)
    whether one that is wrong is right for the other; `beside_draws` is (trainees, draws,
    exercises), the same against fresh draws of the lab.
    """
    people, draws = beside_draws.shape[:2]
    weights = -np.log((1 + beside_draws.sum(axis=1)) / (1 + draws))
    scores = np.einsum("pe,pe->p", in_class, weights[writers])
    by_chance = np.sort(np.einsum("ade,ae->ad", beside_draws, weights), axis=None)
    # Sums in another order differ in the last digits: equal scores must count as reached.
    reached = by_chance.size - np.searchsorted(by_chance, scores - 1e-9, side="left")
    expected: Floats = compared * (1 + reached) / (1 + people * draws)
    expected[scores <= 0] = math.inf
    return expected


def _partners(table: MarkTable, beside: Mapping[str, Sequence[str]]) -> list[list[int]]:
    """For each hand-in, the positions of those whose wrong answers are held against its numbers.

    Who worked together had each other's numbers before them, and by leave.
    """
    results, everybody = table.results, range(table.trainees)
    places = {result.dealt.trainee: place for place, result in enumerate(results)}
    found = []
    for owner, result in enumerate(results):
        near: Iterable[int] = everybody
        if table.trainees > ALL_COMPARED:
            at_hand = beside.get(result.dealt.trainee, ())
            near = [places[other] for other in at_hand if other in places]
        found.append(
            [one for one in near if one != owner and not worked_together(results[one], result)]
        )
    return found


@dataclass(frozen=True, slots=True)
class _Wrong:
    """A wrong answer as its check reads it (letters by their names), and as it was written."""

    value: Any
    shown: str


def _wrong_answers(part: Given) -> list[_Wrong]:
    """Every different answer that a trainee tried and that is wrong with their own numbers."""
    check, prepared = check_for(part.exercise.kind), part.prepared
    ask, key = prepared.ask, prepared.key_as_needed
    found: list[_Wrong] = []
    for answer in part.record.answers:
        verdict = check.check(ask, key, answer)
        if verdict.right or verdict.awaits or not verdict.readable:
            continue
        named = check.by_names(ask, key, answer) if isinstance(check, AnswersByNames) else answer
        one = _Wrong(named, check.shown(ask, answer))
        if one not in found:
            found.append(one)
    return found


class _Column:
    """The wrong answers of all trainees to one exercise, each different one held once.

    With a trainee's own numbers none of theirs is right: that makes an answer one of these.
    """

    def __init__(self, index: int, exercise: Exercise, wrong: Sequence[Sequence[_Wrong]]) -> None:
        """`index` is the exercise's place in the table; `wrong` has a list for each trainee."""
        self.index, self.exercise = index, exercise
        self._check = check = check_for(exercise.kind)
        # Asked once: of a protocol it takes longer than to compare an answer.
        self._by_span = check if isinstance(check, NumberInSpan) else None
        self._by_names = check if isinstance(check, AnswersByNames) else None
        self._wrong = wrong
        places: dict[str, int] = {}
        self._places = [
            [places.setdefault(json.dumps(one.value, sort_keys=True), len(places)) for one in mine]
            for mine in wrong
        ]
        self._values = [json.loads(text) for text in places]
        self._owners = np.repeat(np.arange(len(wrong)), [len(mine) for mine in wrong])
        self._flat = np.array([place for mine in self._places for place in mine], dtype=int)
        self._read: tuple[Any, Floats] | None = None

    def hits(self, prepared: Prepared) -> Flags:
        """Which trainees have an answer that is right with these numbers, (trainees,)."""
        found = np.zeros(len(self._wrong), dtype=bool)
        found[self._owners[self._right(prepared)[self._flat]]] = True
        return found

    def first_hit(self, writer: int, prepared: Prepared) -> _Wrong | None:
        """The first answer of a trainee that is right with these numbers."""
        right = self._right(prepared)
        pairs = zip(self._wrong[writer], self._places[writer], strict=True)
        return next((one for one, place in pairs if right[place]), None)

    def _right(self, prepared: Prepared) -> Flags:
        """Which of the different answers are right with these numbers."""
        # The words on a slip, a late part of the key, are wanted of none of many hundred draws.
        ask, key = prepared.ask, prepared.key_as_needed
        if self._by_span:
            low, high = self._by_span.span(ask, key)
            numbers = self._numbers(self._by_span, ask)
            within: Flags = (low <= numbers) & (numbers <= high)
            return within
        if self._by_names:
            names = self._by_names.by_names(ask, key, self._check.right_answer(ask, key))
            return np.array([value == names for value in self._values], dtype=bool)
        check = self._check.check
        return np.array([check(ask, key, value).right for value in self._values], dtype=bool)

    def _numbers(self, check: NumberInSpan, ask: Any) -> Floats:
        """The answers as numbers: all draws ask alike, but for a few labs."""
        if self._read is None or self._read[0] != ask:
            self._read = ask, np.array([check.number(ask, value) for value in self._values])
        return self._read[1]


def _columns(table: MarkTable) -> list[_Column]:
    """The exercises that somebody got wrong."""
    exercises = {exercise.id: exercise for exercise in table.lab.exercises}
    # One trainee's scenario at a time: a large class's together would fill the memory.
    wrong = zip(*(_all_wrong(result, table) for result in table.results), strict=True)
    return [
        _Column(index, exercises[table.exercises[index]], mine)
        for index, mine in enumerate(wrong)
        if any(mine)
    ]


def _all_wrong(result: Result, table: MarkTable) -> list[list[_Wrong]]:
    parts = given(result)
    return [_wrong_answers(parts[exercise]) for exercise in table.exercises]


def _found(
    table: MarkTable, partners: Sequence[Sequence[int]], columns: Sequence[_Column]
) -> list[tuple[int, int, list[_Wrong | None]]]:
    """Writer, owner and hits of every pair that has one. One owner's numbers are held at a time."""
    found = []
    for owner, (result, writers) in enumerate(zip(table.results, partners, strict=True)):
        scenario = result.scenario
        prepared = [scenario.prepare(column.exercise) for column in columns]
        parts = list(zip(columns, prepared, strict=True))
        hits = np.any([column.hits(numbers) for column, numbers in parts], axis=0)
        found += [
            (writer, owner, [column.first_hit(writer, numbers) for column, numbers in parts])
            for writer in writers
            if hits[writer]
        ]
    return sorted(found, key=lambda pair: pair[:2])


class _Draws:
    """Everybody's wrong answers held against fresh draws of the lab, as many as are asked for."""

    def __init__(
        self, table: MarkTable, columns: Sequence[_Column], progress: Progress | None
    ) -> None:
        self._draws, self._trainees = OpenDraws(table.lab, "beside the class"), table.trainees
        self._columns, self._progress = columns, progress
        self._hits: list[Flags] = []
        self._number = 0

    def up_to(self, size: int, goal: int) -> Flags:
        """At least `size` draws, (n, draws, exercises); fewer only where draws fail.

        `goal` is how many there may be at most, for showing progress.
        """
        while len(self._hits) < size and self._number < 2 * MOST_DRAWS:
            self._number += 1
            scenario = self._draws.draw(self._number)
            if scenario is None:  # nobody was dealt such a draw
                continue
            hits = [column.hits(scenario.prepare(column.exercise)) for column in self._columns]
            self._hits.append(np.stack(hits, axis=1))
            if self._progress:
                self._progress(len(self._hits), goal)
        self._draws.keep()
        shape = (self._trainees, 0, len(self._columns))
        return np.stack(self._hits, axis=1) if self._hits else np.zeros(shape, dtype=bool)
