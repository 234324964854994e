"""The stored hand-ins marked again, by the editions of the labs that marked them, and compared."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from hashlib import sha256
from itertools import zip_longest
from typing import Any, Final

from sqlalchemy import select

from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.errors import ClassError
from labkit.classroom.handins.examiner import Examiner
from labkit.classroom.handins.intake import bundles, files_in
from labkit.classroom.handins.outcome import Row, Task
from labkit.classroom.marks.marking import rows_of
from labkit.classroom.progress import Progress
from labkit.classroom.records.chain import key_of
from labkit.classroom.records.schema import marks, people
from labkit.classroom.records.store import Records
from labkit.classroom.records.verifying import verify_entries
from labkit.classroom.remark import Remark, listed

_DECIDE: Final = (
    *("workbook", "possible", "earned", "credit", "slip", "readable", "awaits", "answered"),
    *("answer_digest", "tries", "hints", "hint_cost"),
)
"""What makes a mark. Titles and sentences may be worded anew by a later labkit."""


@dataclass(slots=True)
class _Seen:
    """What marking again showed."""

    hand_ins: set[str] = field(default_factory=set)
    editions: set[tuple[str, str]] = field(default_factory=set)
    """Hand-ins and editions that were seen: of many copies of a file one is looked at."""
    marks: int = 0
    otherwise: list[str] = field(default_factory=list)
    refused: dict[str, str] = field(default_factory=dict)
    """Labs and workbooks that this labkit cannot mark again as they were, and why."""


def verify(
    folder: ClassFolder, printed: str = "", progress: Progress | None = None
) -> list[Remark]:
    """Whether the records are as they were written, and its marks as they come out again.

    `printed` is a code from a score sheet or a receipt. Nothing is changed. Raises `ClassError`.
    """
    if not folder.has_records:
        raise ClassError(f"{folder.path} has no records yet: 'labkit score' begins them.")
    records = Records.as_they_are(folder)
    try:
        key = key_of(folder.secret())
    except ClassError:
        key = None
    return [*verify_entries(records, key, printed), *_verify_marks(folder, records, progress)]


def _verify_marks(
    folder: ClassFolder, records: Records, progress: Progress | None
) -> Iterator[Remark]:
    seen = _Seen()
    rounds = list(_rounds(records))
    files = files_in(folder.hand_ins)
    for number, texts in enumerate(rounds):
        examiner = _examiner(folder, texts, seen)
        done = number * len(files)
        for bundle in bundles(files):
            for task in bundle.tasks:
                if examiner:
                    _again(examiner, records, task, texts, seen)
            done += bundle.size
            if progress:
                progress(done, len(rounds) * len(files))
    yield from _told(records, seen)


def _rounds(records: Records) -> Iterator[dict[str, str]]:
    """The editions that have marked, lab → edition: one of each lab at a time."""
    found = records.rows(
        select(marks.c.lab, marks.c.lab_digest).distinct().order_by(marks.c.lab, marks.c.lab_digest)
    )
    by_lab: dict[str, list[str]] = {}
    for row in found:
        by_lab.setdefault(row["lab"], []).append(row["lab_digest"])
    for ids in zip_longest(*by_lab.values()):
        yield {lab: id_ for lab, id_ in zip(by_lab, ids, strict=True) if id_}


def _examiner(folder: ClassFolder, texts: Mapping[str, str], seen: _Seen) -> Examiner | None:
    try:
        return Examiner.of(folder, dict(texts))
    except ClassError as error:
        seen.refused[", ".join(texts)] = str(error)
        return None


def _again(
    examiner: Examiner, records: Records, task: Task, texts: Mapping[str, str], seen: _Seen
) -> None:
    digest = sha256(task.data).hexdigest()
    stored = {
        row["exercise"]: row
        for row in records.rows(select(marks).where(marks.c.digest == digest))
        if texts.get(row["lab"]) == row["lab_digest"]
    }
    editions = {(digest, row["lab_digest"]) for row in stored.values()}
    if editions <= seen.editions:
        return
    seen.editions |= editions
    seen.hand_ins.add(digest)
    examined = examiner.reader.examine(task.file, task.data)
    try:
        made = {row["exercise"]: row for row in rows_of(examiner, examined)}
    except ClassError as error:
        seen.refused[next(iter(stored.values()))["lab"]] = str(error)
        return
    for exercise in stored | made:
        seen.marks += 1
        told = _difference(stored.get(exercise), made.get(exercise))
        if told:
            row = stored.get(exercise) or made[exercise]
            seen.otherwise.append(
                f"{_whose(records, row['workbook'])}, {row['lab']}/{exercise}: {told}"
            )


def _difference(kept: Mapping[str, Any] | None, made: Row | None) -> str:
    if kept is None:
        return "marked again it has a mark, the records have none"
    if made is None:
        return "the records have a mark, marked again it has none"
    other = [name for name in _DECIDE if kept[name] != made[name]]
    if "earned" in other or "possible" in other:
        return (
            f"{kept['earned']:g} of {kept['possible']:g} in the records, marked again "
            f"{made['earned']:g} of {made['possible']:g}"
        )
    return f"comes out otherwise in {', '.join(other)}" if other else ""


def _whose(records: Records, workbook: str) -> str:
    rows = records.rows(select(people.c.name).where(people.c.workbook == workbook))
    return rows[0]["name"] if rows else "somebody"


def _told(records: Records, seen: _Seen) -> Iterator[Remark]:
    if seen.otherwise:
        yield Remark(f"Marked again otherwise: {listed(seen.otherwise)}.", differs=True)
    for lab, why in seen.refused.items():
        yield Remark(f"'{lab}' cannot be marked again: {why}", differs=True)
    marked = {
        row["digest"]: row["workbook"]
        for row in records.rows(select(marks.c.digest, marks.c.workbook).distinct())
    }
    left = [workbook for digest, workbook in marked.items() if digest not in seen.hand_ins]
    if left and not seen.refused:
        known = records.rows(select(people.c.workbook, people.c.name))
        called = {row["workbook"]: row["name"] for row in known}
        names = sorted({called.get(workbook, "somebody") for workbook in left})
        yield Remark(
            f"The marks of {len(left)} hand-in{'s' * (len(left) != 1)} cannot be marked again, for "
            f"their files are not in the class any more: {listed(names)}."
        )
    if not seen.otherwise:
        yield Remark(
            f"{seen.marks} marks of {len(seen.hand_ins)} hand-ins were calculated again, and are "
            "the same."
        )
