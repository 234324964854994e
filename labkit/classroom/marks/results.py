"""The results of a class as the records have them, read a few trainees at a time."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property, partial
from itertools import islice
from typing import Any, Final, overload

from sqlalchemy import select

from labkit.classroom.dealing.roster_changes import Gone, gone_from_roster
from labkit.classroom.dealing.seating import neighbours
from labkit.classroom.dealt import Dealt
from labkit.classroom.errors import ClassError
from labkit.classroom.handins.choosing import Notice, Policy
from labkit.classroom.handins.examiner import Examiner
from labkit.classroom.handins.finding import HandInFiles
from labkit.classroom.handins.pairs import Pairs
from labkit.classroom.mark import Mark
from labkit.classroom.marks.marking import mark_in
from labkit.classroom.records.current import current_marks
from labkit.classroom.records.schema import in_room, people, receipts, voids
from labkit.classroom.records.store import Records
from labkit.classroom.result import Counted, Result
from labkit.lab.definition import Lab

_AT_ONCE: Final = 100


class Results(Sequence[Result]):
    """The results in the order of the deal. Each turn through them reads the records anew.

    Who was dealt retakes has one result a lab: of the attempt that counts.
    """

    def __init__(
        self, examiner: Examiner, records: Records, hand_ins: HandInFiles | None = None
    ) -> None:
        """`hand_ins` are the class's, where somebody has looked through them already."""
        self._examiner = examiner
        self._records = records
        self._dealt = examiner.deal.dealt
        self._hand_ins = hand_ins or HandInFiles(examiner.folder.hand_ins)
        self._rules = examiner.folder.fields

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

    def of_everybody(self) -> Iterator[list[Result]]:
        """As `of`, of one person after the other, in the order of the deal."""
        everybody = iter(self.people())
        while some := list(islice(everybody, _AT_ONCE)):
            each = [self._dealt.together_of(trainee) for trainee, _ in some]
            found = iter(self._counting([items for groups in each for items in groups]))
            yield from (list(islice(found, len(groups))) for groups in each)

    def attempts_of(self, trainee: str, lab: str = "") -> list[Result]:
        """The results of all attempts of one trainee, at one lab or (with "") at all."""
        groups = self._dealt.together_of(trainee)
        return self._of([items for items in groups if lab in ("", items[0].lab)])

    def dealt_to(self, trainee: str) -> list[Dealt]:
        """Everything that one trainee was dealt, in the order of the deal."""
        return self._dealt.of_trainee(trainee)

    @cached_property
    def _voided(self) -> set[tuple[str, str]]:
        rows = self._records.latest(voids, "lab", "exercise")
        return {(row["lab"], row["exercise"]) for row in rows if row["voided"]}

    def _counting(self, dealt: Sequence[tuple[Dealt, ...]]) -> list[Result]:
        """For each trainee and lab, the attempt that counts."""
        found = iter(self._of(dealt))
        return [
            that_counts(list(islice(found, len(items))), Policy.of(self._rules, items[0].lab))
            for items in dealt
        ]

    def _of(self, dealt: Sequence[tuple[Dealt, ...]]) -> list[Result]:
        with self._records.reading() as connection:
            pairs = Pairs.of(connection)
        workbooks = {pairs.works_in(item.workbook) for items in dealt for item in items}
        marks: dict[str, list[Mark]] = {}
        counted: dict[str, str] = {}
        labs: dict[str, str] = {}
        query = current_marks().where(people.c.workbook.in_(workbooks))
        for row in self._records.rows(query):
            marks.setdefault(row["workbook"], []).append(mark_in(row))
            counted[row["workbook"]] = row["digest"]
            labs[row["digest"]] = row["lab"]
        files = self._files(labs)
        return [
            Result(
                item,
                files.get(counted.get(work.workbook, "")),
                tuple(sorted(marks.get(work.workbook, ()), key=lambda mark: mark.number)),
                self.possible(self._examiner.labs[item.lab]),
                partial(self._examiner.scenario, work),
                len(items),
                together=pairs.named(item.workbook, self._dealt),
                worked_in=None if work is item else work,
            )
            for items in dealt
            for item in items
            for work in [self._work(item, pairs)]
        ]

    def _work(self, item: Dealt, pairs: Pairs) -> Dealt:
        """The workbook that was worked in; of somebody who was erased only the marks are left."""
        number = pairs.works_in(item.workbook)
        if number == item.workbook:
            return item
        return self._dealt.of_workbook(number) or replace(item, workbook=number)

    def possible(self, lab: Lab) -> float:
        """The marks of a lab without its voided exercises."""
        kept = [part for part in lab.exercises if (lab.id, part.id) not in self._voided]
        return sum(exercise.marks for exercise in kept)

    def _files(self, labs: Mapping[str, str]) -> dict[str, Counted]:
        """The hand-ins with these digests, each of the lab that is named with it."""
        query = (
            select(receipts, in_room.c.id.is_not(None).label("in_room"))
            .outerjoin(in_room, in_room.c.digest == receipts.c.digest)
            .where(receipts.c.digest.in_(labs), receipts.c.outcome == "whole")
        )
        found: dict[str, Counted] = {}
        for row in self._records.rows(query.order_by(receipts.c.id)):
            found.setdefault(row["digest"], self._counted(row, labs[row["digest"]]))
        return found

    def _counted(self, row: Mapping[str, Any], lab: str) -> Counted:
        policy = Policy.of(self._rules, lab)
        late = policy.late(row["made_at"], row["received_at"], in_room=row["in_room"])
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
    """The results of a class, in the order of its deal, and what the instructor should look at.

    `code` names the state of the records that they are of (see `records.chain`).
    """

    labs: Mapping[str, Lab]
    results: Results
    notices: tuple[Notice, ...]
    code: str = ""
