"""Scoring a class: every hand-in is examined and marked once, the records keep it all.

Work goes in bundles, each one transaction: a run that was ended at any moment leaves whole bundles,
and the next run goes on with the rest. No more than a few bundles are in memory at a time.
"""

from __future__ import annotations

from itertools import islice

from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.handins.choosing import Notice
from labkit.classroom.handins.examiner import Examiner
from labkit.classroom.handins.intake import Files, bundles, files_in, keep, without_known
from labkit.classroom.handins.settling import prepared, settle
from labkit.classroom.marks.crew import Crew
from labkit.classroom.marks.results import Results, Scoring
from labkit.classroom.progress import Progress
from labkit.classroom.records.store import Records


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
    records = Records.of(folder)
    examiner = prepared(folder, records)
    with Crew(jobs, cluster) as crew:
        notices = mark_files(examiner, records, files_in(folder.hand_ins), crew, progress)
    notices += settle(records, examiner.deal, folder.fields)
    results = Results(examiner, records)
    return Scoring(dict(examiner.labs), results, tuple(notices), records.code())


def recorded(folder: ClassFolder) -> Results:
    """A class's results as the records have them now; nothing more is received or marked."""
    records = Records.of(folder)
    return Results(prepared(folder, records), records)


def scored_before(folder: ClassFolder) -> Scoring:
    """What scoring gave, as the records have it now; nothing more is received or marked."""
    records = Records.of(folder)
    examiner = prepared(folder, records)
    return Scoring(dict(examiner.labs), Results(examiner, records), (), records.code())


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
