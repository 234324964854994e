"""Topics by people: how everybody stands in what the practice labs of a class are about.

Worked out of journals each time, and stored nowhere. It counts in no mark.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from sqlalchemy import select

from labkit.answering.topics import Entries, Standing, standings
from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.dealing.editions import editions_now
from labkit.classroom.dealing.roster_changes import gone_from_roster
from labkit.classroom.dealt import Dealt
from labkit.classroom.first_answers import FirstAnswers
from labkit.classroom.handins.examiner import Examiner
from labkit.classroom.handins.finding import HandInFiles
from labkit.classroom.progress import Progress
from labkit.classroom.records.schema import receipts, voids
from labkit.classroom.records.store import Records
from labkit.exchange.formats import JOURNAL_ENDING
from labkit.exchange.journal import Journal
from labkit.lab.topics import in_order


@dataclass(frozen=True, slots=True)
class PersonByTopic:
    """How somebody stands in each topic in which they answered something."""

    id: str
    name: str
    standings: Mapping[str, Standing]


@dataclass(frozen=True, slots=True)
class ByTopic:
    """Topics by people. `without` are the titles of practice labs that name no topic."""

    topics: tuple[str, ...]
    people: tuple[PersonByTopic, ...]
    without: tuple[str, ...]


def by_topic(folder: ClassFolder, progress: Progress) -> ByTopic:
    """How everybody of a class stands in the topics of its practice labs.

    It reads the journals of the room, and those of hand-ins as far as they are in the records.
    Raises `ClassError` before the deal.
    """
    records = Records.of(folder) if folder.has_records else None
    examiner = Examiner.of(folder, editions_now(records) if records else None)
    labs = {name: lab for name, lab in examiner.labs.items() if folder.fields.practice(name)}
    found = _Journals(folder, records)
    first, skipped = FirstAnswers(examiner.scenario), _voided(records)
    gone = {one.id for one in gone_from_roster(folder, examiner.deal)}
    people = [one for one in examiner.deal.dealt.people() if one[0] not in gone]
    rows = []
    for done, (trainee, name) in enumerate(people, 1):
        tried = [
            one
            for item in examiner.deal.dealt.of_trainee(trainee)
            if item.lab in labs
            for entries in found.of(item)
            for one in first.of(item, labs[item.lab], entries)
            if (item.lab, one.exercise) not in skipped
        ]
        rows.append(PersonByTopic(trainee, name, standings(tried, folder.fields.zone)))
        progress(done, len(people))
    named = {name: {each.topic for each in lab.exercises} - {""} for name, lab in labs.items()}
    return ByTopic(
        tuple(in_order(set().union(*named.values()))),
        tuple(rows),
        tuple(labs[name].title for name, topics in named.items() if not topics),
    )


class _Journals:
    """The journals of a workbook: the room's, and that of each of its hand-ins.

    A hand-in of the room holds the same entries once more; a draw counts once all the same.
    """

    def __init__(self, folder: ClassFolder, records: Records | None) -> None:
        self._folder, self._files = folder, HandInFiles(folder.hand_ins)
        self._digests: dict[str, list[str]] = {}
        whole = select(receipts.c.workbook, receipts.c.digest).where(receipts.c.outcome == "whole")
        for row in records.rows(whole.order_by(receipts.c.id)) if records else ():
            self._digests.setdefault(row["workbook"], []).append(row["digest"])

    def of(self, item: Dealt) -> list[Entries]:
        """All that are there of one workbook."""
        of_room = self._folder.journals / item.origin[0] / f"{item.stem}{JOURNAL_ENDING}"
        handed_in = map(self._files.journal, dict.fromkeys(self._digests.get(item.workbook, ())))
        return [Journal(of_room).read().entries, *filter(None, handed_in)]


def _voided(records: Records | None) -> set[tuple[str, str]]:
    """The exercises that were taken out of the marks: a mistake there is nobody's."""
    rows = records.latest(voids, "lab", "exercise") if records else ()
    return {(row["lab"], row["exercise"]) for row in rows if row["voided"]}
