"""What was misunderstood: slips ranked, and told in the author's words."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Collection
from dataclasses import dataclass

from labkit.classroom.analysis.given import given
from labkit.classroom.analysis.table import column_title
from labkit.classroom.mark import Mark
from labkit.classroom.result import Result
from labkit.classroom.verdicts import verdict_on


@dataclass(frozen=True, slots=True)
class SlipRank:
    """One known mistake: who made it, out of how many who handed in that lab.

    `told` is what the lab's author has the trainee read, as the trainee `told_to` read it: the
    numbers in it are that trainee's.
    """

    lab: str
    number: int
    exercise: str
    title: str
    slip: str
    trainees: tuple[str, ...]
    handed_in: int
    told: str
    told_to: str

    @property
    def count(self) -> int:
        """How many trainees made it."""
        return len(self.trainees)


def rank_slips(results: Collection[Result]) -> tuple[SlipRank, ...]:
    """Every known mistake that cost marks, the most frequent first."""
    made: dict[tuple[str, int, str, str], list[tuple[Result, Mark]]] = defaultdict(list)
    whole = [result for result in results if not result.as_guest]
    handed_in = Counter(result.dealt.lab for result in whole if result.counts)
    for result in whole:
        for mark in result.marks:
            if mark.slip:
                key = (result.dealt.lab, mark.number, mark.exercise, mark.slip)
                made[key].append((result, mark))
    ranked = [_rank(key, people, handed_in[key[0]]) for key, people in made.items()]
    return tuple(sorted(ranked, key=lambda rank: (-rank.count, rank.lab, rank.number, rank.slip)))


def _rank(
    key: tuple[str, int, str, str], people: list[tuple[Result, Mark]], handed_in: int
) -> SlipRank:
    lab, number, exercise, slip = key
    # Where the author's words differ with the numbers, the first trainee's stand for all.
    result, mark = people[0]
    return SlipRank(
        lab=lab,
        number=number,
        exercise=exercise,
        title=column_title([mark.title for _, mark in people]),
        slip=slip,
        trainees=tuple(result.dealt.trainee for result, _ in people),
        handed_in=handed_in,
        told=meaning_of(result, mark),
        told_to=result.dealt.name,
    )


def meaning_of(result: Result, mark: Mark) -> str:
    """What the mistake means, without what else was told of that answer.

    The records hold all that was told, so the check is asked again; what it says of another mistake
    now counts for nothing. What is marked while the class works is told by its own verdict.
    """
    if mark.verdict.meaning or result.hand_in is None:
        return mark.verdict.meaning or mark.verdict.message
    part = given(result)[mark.exercise]
    verdict = verdict_on(result.scenario, part.exercise, part.record.answer)
    same = verdict.slip == mark.slip
    return (verdict.meaning if same else "") or mark.verdict.message
