"""Scoring a class: every hand-in is examined and marked once, the records keep it all.

Work goes in bundles, each one transaction: a run that was ended at any moment leaves whole bundles,
and the next run goes on with the rest. No more than a few bundles are in memory at a time.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import chain, islice
from typing import Final

from sqlalchemy import Connection, select

from labkit.classroom.choosing import Notice, Policy, Receipt, attempts_before, choose
from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.crew import Crew
from labkit.classroom.dealing import Deal, Dealt
from labkit.classroom.editions import editions_now
from labkit.classroom.examiner import Examiner
from labkit.classroom.intake import Files, bundles, files_in, keep, without_known
from labkit.classroom.marking import Mark
from labkit.classroom.progress import Progress
from labkit.classroom.records import Records
from labkit.classroom.records.schema import counting, editions, people, receipts
from labkit.classroom.results import Result, Results, Scoring
from labkit.station.journal import now

__all__ = [
    "Mark",
    "Result",
    "Scoring",
    "mark_files",
    "received_of",
    "score",
    "settle",
]

_AT_ONCE: Final = 200
"""Trainees whose workbooks of a lab are decided on in one transaction."""


def score(
    folder: ClassFolder,
    progress: Progress | None = None,
    *,
    jobs: int = 1,
    cluster: str | None = None,
) -> Scoring:
    """Receive and mark what lies in the class's folder `hand-ins`, and give the class's results.

    `jobs` processes share the work (−1: one a processor core), or the machines of a Dask `cluster`.
    `progress` is called with (done, all). Raises `ClassError` when the class was not dealt yet.
    """
    records = folder.records()
    examiner = prepared(folder, records)
    with Crew(jobs, cluster) as crew:
        notices = mark_files(examiner, records, files_in(folder.hand_ins), crew, progress)
    notices += settle(records, examiner.deal, Policy.of(folder.fields))
    return Scoring(dict(examiner.labs), Results(examiner, records), tuple(notices))


def prepared(folder: ClassFolder, records: Records) -> Examiner:
    """The class's examiner by the editions that hold now; people and labs are in the records."""
    first = Examiner.of(folder, editions_now(records))
    _know(records, first.deal)
    return first


def mark_files(
    examiner: Examiner,
    records: Records,
    files: Files,
    crew: Crew,
    progress: Progress | None = None,
) -> list[Notice]:
    """Examine and mark the files that are not yet in the records by the present editions."""
    notices = list(files.unread)
    done = 0
    pending = (without_known(records, bundle, examiner.texts) for bundle in bundles(files))
    while group := list(islice(pending, crew.at_once)):
        finished = crew.work(examiner, [bundle.tasks for bundle in group])
        for bundle, results in zip(group, finished, strict=True):
            with records.writing() as connection:
                notices += keep(records, connection, bundle, results)
            done += bundle.size
            if progress:
                progress(done, len(files))
    return notices


def settle(records: Records, deal: Deal, policy: Policy) -> list[Notice]:
    """Decide for each workbook which hand-in counts, and write down where that is news."""
    notices = []
    for groups in deal.dealt.batches(_AT_ONCE):
        items = list(chain.from_iterable(groups))
        with records.writing() as connection:
            received = received_of(connection, items)
            before = _counting(connection, items)
            rows = []
            for item, attempts in _with_attempts(groups, received):
                chosen, remarks = choose(received.get(item.workbook, ()), policy, attempts)
                notices += remarks
                digest = chosen.digest if chosen else ""
                if digest != before.get(item.workbook, ""):
                    rows.append(
                        {
                            "workbook": item.workbook,
                            "digest": digest,
                            "reason": _reason(chosen, policy),
                            "decided_at": now(),
                        }
                    )
            records.add(counting, rows, connection)
    return notices


def _reason(chosen: Receipt | None, policy: Policy) -> str:
    if chosen is None:
        return "No hand-in counts by the rules of class.yaml any more."
    late = ", late" if policy.late(chosen.made_at) else ""
    return f"The last hand-in that the rules of class.yaml let count (made {chosen.made_at}{late})."


def _with_attempts(
    groups: Sequence[Sequence[Dealt]], received: Mapping[str, list[Receipt]]
) -> Iterator[tuple[Dealt, int]]:
    """Each workbook, and how many attempts were made with the ones before it."""
    for same in groups:
        made = attempts_before(received.get(item.workbook, ()) for item in same)
        yield from zip(same, made, strict=True)


def received_of(connection: Connection, items: Sequence[Dealt]) -> dict[str, list[Receipt]]:
    """The whole hand-ins that were received of some workbooks, by workbook."""
    query = select(receipts).where(
        receipts.c.workbook.in_([item.workbook for item in items]), receipts.c.outcome == "whole"
    )
    found: dict[str, list[Receipt]] = {}
    for row in connection.execute(query.order_by(receipts.c.id)).mappings():
        found.setdefault(row["workbook"], []).append(Receipt.of(dict(row)))
    return found


def _counting(connection: Connection, items: Sequence[Dealt]) -> dict[str, str]:
    query = select(counting).where(counting.c.workbook.in_([item.workbook for item in items]))
    rows = connection.execute(query.order_by(counting.c.id)).mappings()
    return {row["workbook"]: row["digest"] for row in rows}


def _know(records: Records, deal: Deal) -> None:
    """Let the records know everybody who was dealt something, and the labs as dealt."""
    for groups in deal.dealt.batches(_AT_ONCE):
        items = list(chain.from_iterable(groups))
        # A transaction a batch: another run waits for none for long.
        with records.writing() as connection:
            named = select(people.c.workbook).where(
                people.c.workbook.in_([item.workbook for item in items])
            )
            known = set(connection.execute(named).scalars())
            rows = [
                {
                    "workbook": item.workbook,
                    "lab": item.lab,
                    "trainee": item.trainee,
                    "name": item.name,
                }
                for item in items
                if item.workbook not in known
            ]
            records.add(people, rows, connection)
    with records.writing() as connection:
        # Looked up inside the transaction: another run may be beginning as well.
        labs = set(connection.execute(select(editions.c.lab)).scalars())
        first = [
            {
                "lab": name,
                "lab_digest": lab["digest"],
                "reason": "As dealt.",
                "by": "labkit",
                "since": now(),
            }
            for name, lab in deal.labs.items()
            if name not in labs
        ]
        records.add(editions, first, connection)
