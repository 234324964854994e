"""What came in and waits to be scored: it is looked for, not scored, so that looking marks nothing.

Scoring may take its time and decides which hand-ins count; that is for 'labkit score' alone.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Self

from sqlalchemy import select

from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.handins.examiner import Examiner
from labkit.classroom.handins.intake import bundles, files_in, without_known
from labkit.classroom.records.schema import marks, receipts
from labkit.classroom.records.store import Records


@dataclass(frozen=True, slots=True)
class Arrivals:
    """Hand-ins without marks, by workbook (the SHA-256 of each).

    Those that `wait` lie in the class's folder `hand-ins`; the files of those that are `lost` were
    received and are gone. `unusable` counts files that are not one of this class's hand-ins.
    """

    wait: dict[str, set[str]] = field(default_factory=dict)
    lost: dict[str, set[str]] = field(default_factory=dict)
    unusable: int = 0

    @classmethod
    def of(cls, examiner: Examiner, records: Records) -> Self:
        """What came into a class and is not scored."""
        texts = examiner.texts
        wait: dict[str, set[str]] = {}
        unusable = 0
        for bundle in bundles(files_in(examiner.folder.hand_ins)):
            left = without_known(records, bundle, texts)
            unusable += len(left.refused)
            for task in (one for one in left.tasks if not one.marked):
                examined = examiner.reader.examine(task.file, task.data)
                if examined.hand_in is None:
                    unusable += 1
                    continue
                wait.setdefault(examined.hand_in.dealt.workbook, set()).add(examined.digest)
        return cls(wait, _lost(records, wait), unusable)

    def of_workbook(self, workbook: str) -> str:
        """What to say of one workbook; "" when nothing of it waits."""
        if workbook in self.wait:
            return "A hand-in came in and waits to be scored: run 'labkit score' first."
        if workbook in self.lost:
            return (
                "A hand-in was received and never scored, and its file is gone: bring it back into "
                "'hand-ins' from a copy, and run 'labkit score'."
            )
        return ""

    def sentences(self, folder: ClassFolder) -> Iterator[str]:
        """What to say of the whole class."""
        waiting, lost = (sum(map(len, found.values())) for found in (self.wait, self.lost))
        if waiting:
            yield (f"{waiting} hand-in(s) came in and wait to be scored: run 'labkit score' first.")
        if lost:
            yield (
                f"{lost} hand-in(s) were received and never scored, and their files are gone: "
                f"bring them back into {folder.hand_ins} from a copy."
            )
        if self.unusable:
            yield (
                f"{self.unusable} file(s) in {folder.hand_ins} cannot be used: 'labkit score' "
                "names them and says why."
            )


def _lost(records: Records, wait: dict[str, set[str]]) -> dict[str, set[str]]:
    there = set().union(*wait.values())
    query = select(receipts.c.workbook, receipts.c.digest).where(
        receipts.c.outcome == "whole", receipts.c.digest.not_in(select(marks.c.digest))
    )
    lost: dict[str, set[str]] = {}
    for row in records.rows(query):
        if row["digest"] not in there:
            lost.setdefault(row["workbook"], set()).add(row["digest"])
    return lost
