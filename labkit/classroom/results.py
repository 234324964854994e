"""The results of a class as the records have them, read a few trainees at a time."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property, partial
from itertools import islice
from typing import Any, Final, overload

from sqlalchemy import select

from labkit.classroom.choosing import Notice, Policy
from labkit.classroom.deal_record import Dealt
from labkit.classroom.errors import ClassError
from labkit.classroom.examiner import Examiner
from labkit.classroom.finding import HandInFiles, Journal
from labkit.classroom.marking import Mark, mark_in
from labkit.classroom.records import Records
from labkit.classroom.records.current import current_marks
from labkit.classroom.records.schema import people, receipts, voids
from labkit.classroom.roster_changes import Gone, gone_from_roster
from labkit.classroom.seating import neighbours
from labkit.classroom.share import Share
from labkit.lab.definition import Lab
from labkit.lab.draw import Scenario

_AT_ONCE: Final = 100


@dataclass(frozen=True, slots=True)
class Counted:
    """The hand-in that counts: its file's name, the SHA-256 of its bytes, when it was made."""

    file: str
    digest: str
    made_at: str
    received_at: str
    late: bool
    read: Callable[[str], Journal | None] = field(repr=False, compare=False)

    @property
    def journal(self) -> Journal:
        """The answer journal, read from the file again; empty when the file is gone."""
        return self.read(self.digest) or ()


@dataclass(frozen=True, slots=True)
class Result:
    """One trainee's result in one lab; `marks` is empty when nothing was handed in that counts.

    `possible` is without the exercises that were voided. `attempts` is how many workbooks of the
    lab the trainee was dealt; `dealt.attempt` says which of them this result is of. `may_reach` are
    the marks that another attempt of theirs may come to, where the best one counts.
    """

    dealt: Dealt
    hand_in: Counted | None
    marks: tuple[Mark, ...]
    possible: float
    draw: Callable[[], Scenario] = field(repr=False, compare=False)
    attempts: int = 1
    may_reach: float = 0.0

    @property
    def scenario(self) -> Scenario:
        """What the trainee was dealt, drawn again."""
        return self.draw()

    @property
    def share(self) -> Share:
        """What is earned of what is marked, and what waits; all is lost where nothing counts."""
        if not self.marks:
            return Share(0.0, self.possible)
        found = Share.of(self.marks)
        return replace(found, open=max(found.open, self.may_reach - found.earned))

    @property
    def earned(self) -> float:
        """The marks of all exercises together."""
        return self.share.earned

    @property
    def percent(self) -> float | None:
        """Earned marks in % of those that are given; None while none is."""
        return self.share.percent

    @property
    def since(self) -> str:
        """When the marks that hold now came to hold; "" where nothing counts."""
        return max((mark.since for mark in self.marks), default="")

    @property
    def late(self) -> bool:
        """Whether the hand-in was made after the deadline."""
        return self.hand_in is not None and self.hand_in.late

    @property
    def counts(self) -> bool:
        """Whether there is a hand-in that is marked."""
        return bool(self.marks)

    @property
    def awaits(self) -> bool:
        """Whether a person must still mark something of it."""
        return any(mark.awaits and not mark.voided for mark in self.marks)


class Results(Sequence[Result]):
    """The results in the order of the deal. Each turn through them reads the records anew.

    Who was dealt retakes has one result a lab: of the attempt that counts.
    """

    def __init__(self, examiner: Examiner, records: Records) -> None:
        self._examiner = examiner
        self._records = records
        self._dealt = examiner.deal.dealt
        self._hand_ins = HandInFiles(examiner.folder.hand_ins)
        self._policy = Policy.of(examiner.folder.fields)

    def __len__(self) -> int:
        return self._dealt.groups

    def __iter__(self) -> Iterator[Result]:
        for groups in self._dealt.batches(_AT_ONCE):
            yield from self._counting(groups)

    @overload
    def __getitem__(self, index: int) -> Result: ...
    @overload
    def __getitem__(self, index: slice) -> list[Result]: ...
    def __getitem__(self, index: int | slice) -> Result | list[Result]:
        places = range(len(self))[index]
        if isinstance(places, int):
            return self._counting(list(self._dealt.together(places, places + 1)))[0]
        return [self[place] for place in places]

    @property
    def retakes(self) -> bool:
        """Whether anybody was dealt a second attempt."""
        return len(self._dealt) > self._dealt.groups

    @property
    def pass_mark(self) -> float | None:
        """The class's own, in %; figures are rounded so that they agree with it."""
        return self._examiner.folder.fields.pass_mark

    def every(self) -> Iterator[Result]:
        """The results of all attempts, whether or not they count."""
        for groups in self._dealt.batches(_AT_ONCE):
            yield from self._of(groups)

    def people(self) -> list[tuple[str, str]]:
        """Id and name of everybody who was dealt something, in the order of the deal."""
        return list(self._dealt.people())

    @property
    def beside(self) -> dict[str, tuple[str, ...]]:
        """Everybody's neighbours by id, as the roster stands now; none while it cannot be read."""
        try:
            return neighbours(self._examiner.folder.trainees)
        except ClassError:
            return {}

    @property
    def gone(self) -> list[Gone]:
        """Who was dealt something and is not in the roster now; nobody while it is unreadable."""
        return gone_from_roster(self._examiner.folder, self._examiner.deal)

    def of(self, trainee: str) -> list[Result]:
        """The results of one trainee, a lab each."""
        return self._counting(self._dealt.together_of(trainee))

    def attempts_of(self, trainee: str) -> list[Result]:
        """The results of all attempts of one trainee."""
        return self._of(self._dealt.together_of(trainee))

    @cached_property
    def _voided(self) -> set[tuple[str, str]]:
        rows = self._records.latest(voids, "lab", "exercise")
        return {(row["lab"], row["exercise"]) for row in rows if row["voided"]}

    def _counting(self, dealt: Sequence[tuple[Dealt, ...]]) -> list[Result]:
        """For each trainee and lab, the attempt that counts."""
        found = iter(self._of(dealt))
        return [that_counts(list(islice(found, len(items))), self._policy) for items in dealt]

    def _of(self, dealt: Sequence[tuple[Dealt, ...]]) -> list[Result]:
        workbooks = [item.workbook for items in dealt for item in items]
        marks: dict[str, list[Mark]] = {}
        counted: dict[str, str] = {}
        query = current_marks().where(people.c.workbook.in_(workbooks))
        for row in self._records.rows(query):
            marks.setdefault(row["workbook"], []).append(mark_in(row))
            counted[row["workbook"]] = row["digest"]
        files = self._files(list(counted.values()))
        return [
            Result(
                item,
                files.get(counted.get(item.workbook, "")),
                tuple(sorted(marks.get(item.workbook, ()), key=lambda mark: mark.number)),
                self.possible(self._examiner.labs[item.lab]),
                partial(self._examiner.scenario, item),
                len(items),
            )
            for items in dealt
            for item in items
        ]

    def possible(self, lab: Lab) -> float:
        """The marks of a lab without its voided exercises."""
        kept = [part for part in lab.exercises if (lab.id, part.id) not in self._voided]
        return sum(exercise.marks for exercise in kept)

    def _files(self, digests: list[str]) -> dict[str, Counted]:
        query = select(receipts).where(
            receipts.c.digest.in_(digests), receipts.c.outcome == "whole"
        )
        found: dict[str, Counted] = {}
        for row in self._records.rows(query.order_by(receipts.c.id)):
            found.setdefault(row["digest"], self._counted(row))
        return found

    def _counted(self, row: Mapping[str, Any]) -> Counted:
        late = self._policy.late(row["made_at"])
        return Counted(
            row["file"],
            row["digest"],
            row["made_at"],
            row["received_at"],
            late,
            self._hand_ins.journal,
        )


def that_counts(attempts: Sequence[Result], policy: Policy) -> Result:
    """Of one trainee's attempts at one lab, in their order, the one that counts.

    The last one handed in; or, with `attempts_count: best`, the one that is sure of most marks, of
    equals the later one: what waits for a mark speaks for no attempt yet. Where none was handed in
    it is the last one dealt.
    """
    scored = [result for result in attempts if result.counts]
    if not scored:
        return attempts[-1]
    if not policy.best:
        return scored[-1]
    best = max(scored, key=lambda result: (result.earned, result.dealt.attempt))
    return replace(best, may_reach=max(one.share.earned + one.share.open for one in scored))


@dataclass(frozen=True, slots=True)
class Scoring:
    """The results of a class, in the order of its deal, and what the instructor should look at."""

    labs: Mapping[str, Lab]
    results: Results
    notices: tuple[Notice, ...]
