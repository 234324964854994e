"""What is held of a person: all of it on request, and its erasure on request.

An erasure takes the person out of the records (a tombstone stands in their place), deletes their
hand-ins, pages, receipts and workbooks, and leaves an entry that somebody was erased, and why.
"""

from __future__ import annotations

import base64
import json
import re
import secrets
import shutil
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime
from hashlib import sha256
from pathlib import Path
from typing import Any, Final

from sqlalchemy import Connection, delete, insert, or_, select, update

from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.deal_record import Roll
from labkit.classroom.dealing import read_deal, trainee_folder, write_deal
from labkit.classroom.errors import ClassError
from labkit.classroom.intake import files_in
from labkit.classroom.receiving import RefusedError, read_bytes
from labkit.classroom.records import Records
from labkit.classroom.records.schema import (
    PERSONAL,
    counting,
    erasing,
    erasures,
    grounds,
    journals,
    manual,
    marks,
    people,
    receipts,
)
from labkit.station.journal import now

ERASED: Final = "(erased)"
_FOLDERS: Final = ("hand-ins", "set-aside", "receipts", "scores")
# What is written from the records and names everybody.
_WHOLE_CLASS: Final = ("score-sheet.csv", "score-sheet.xlsx", "overview.html")


@dataclass(frozen=True, slots=True)
class Erasure:
    """What an erasure did, and what is left to do by hand."""

    tombstone: str
    files: int
    marks_kept: bool
    left_to_do: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class _Held:
    """What belongs to one person: workbooks, digests of hand-ins, and files."""

    workbooks: list[str]
    digests: list[str]
    files: list[Path]


def held_of(folder: ClassFolder, trainee: str) -> dict[str, Any]:
    """Everything that the class folder holds of a person, as JSON. Raises `ClassError`."""
    records = folder.records()
    held = _held(folder, records, trainee)
    deal = read_deal(folder)
    found: dict[str, Any] = {
        "format": "labkit personal data",
        "class": folder.fields.id,
        "trainee": trainee,
        "made_at": now(),
        "keep_until": folder.fields.keep_until,
        "roster": [
            {"id": person.id, "name": person.name, "bench": person.bench, "seat": person.seat}
            for person in folder.trainees
            if person.id == trainee
        ],
        "deal": [
            {
                "lab": item.lab,
                "name": item.name,
                "workbook": item.workbook,
                "attempt": item.attempt,
                "dealt_at": item.dealt_at,
                "variant": item.variant,
                "difficulty": item.difficulty,
            }
            for item in deal.dealt.of_trainee(trainee)
        ],
        "records": {table.name: _rows_of(records, table, held) for table in PERSONAL},
    }
    found["files"] = [
        {"file": str(file.relative_to(folder.path)), **_content(file)} for file in held.files
    ]
    return found


def erase(folder: ClassFolder, trainee: str, *, reason: str, keep_marks: bool = True) -> Erasure:
    """Take a person out of the class folder. Doing it again after a cut goes on where it was.

    With `keep_marks` their marks stay, of nobody; otherwise they go too. Raises `ClassError`.
    """
    if not reason.strip():
        raise ClassError("Say why: --reason, for example 'asked for it on 3 March'.")
    records = folder.records()
    held = _held(folder, records, trainee)
    for file in (*held.files, *(folder.scores / name for name in _WHOLE_CLASS)):
        file.unlink(missing_ok=True)
    home = trainee_folder(folder, trainee)
    if home.is_dir():
        shutil.rmtree(home)
    deal = read_deal(folder)
    left = Roll(item for item in deal.dealt if item.trainee != trainee)
    if len(left) != len(deal.dealt):
        write_deal(folder, replace(deal, dealt=left))
        folder.deal_log.unlink(missing_ok=True)
    tombstone = f"erased-{secrets.token_hex(6)}"
    # The records last: as long as they know the person, a run that was cut short can go on.
    with records.writing() as connection:
        _take_out(connection, held, tombstone, reason.strip(), keep_marks)
    records.compact()
    return Erasure(tombstone, len(held.files), keep_marks, _left_to_do(folder, trainee))


def retention_remark(folder: ClassFolder) -> str:
    """A sentence when the time is over until which the class was to be kept; "" before."""
    until = folder.fields.keep_until
    if until is None or datetime.now(folder.fields.zone).date() <= date.fromisoformat(until):
        return ""
    return (
        f"This class was to be kept until {until} ('keep_until' in class.yaml), and that is over: "
        "delete the class folder, or erase its people ('labkit records CLASS --erase ID')."
    )


def _held(folder: ClassFolder, records: Records, trainee: str) -> _Held:
    rows = records.rows(select(people).where(people.c.trainee == trainee))
    dealt = read_deal(folder).dealt.of_trainee(trainee)
    if not rows and not dealt:
        raise ClassError(
            f"Nobody with the id '{trainee}' is in the deal or the records of this class."
        )
    workbooks = {row["workbook"]: row["name"] for row in rows}
    workbooks |= {item.workbook: item.name for item in dealt}
    labs = {row["lab"] for row in rows} | {item.lab for item in dealt}
    ours = _Naming(trainee, frozenset(workbooks.values()), frozenset(labs))
    digests: set[str] = set()
    others: set[str] = set()
    for row in records.rows(select(receipts)):
        mine = row["workbook"] in workbooks or (row["workbook"] is None and ours.in_receipt(row))
        (digests if mine else others).add(row["digest"])
    everywhere = files_in(*(folder.path / name for name in _FOLDERS))
    files = [file for file in everywhere if _belongs(file, ours, digests, others)]
    files += files_in(trainee_folder(folder, trainee))
    return _Held(list(workbooks), sorted(digests - others), files)


@dataclass(frozen=True, slots=True)
class _Naming:
    """How files and receipts name a person."""

    trainee: str
    names: frozenset[str]
    labs: frozenset[str]

    def in_receipt(self, row: Mapping[str, Any]) -> bool:
        """Whether a receipt of a file that could not be used is about the person."""
        return self.in_file(row["file"]) or any(
            re.search(rf"(?<!\w){re.escape(name)}(?!\w)", row["file"] + "\n" + row["sentence"])
            for name in self.names
        )

    def in_file(self, name: str) -> bool:
        """Whether a file is called as a hand-in, a page or a receipt of the person would be."""
        labs = "|".join(map(re.escape, self.labs))
        return bool(
            re.search(
                rf"(?:{labs})--{re.escape(self.trainee)}"
                r"(?:,attempt-\d+)?(?:\.handin\b.*|\.html|--[0-9A-F]{5}-[0-9A-F]{5}\.html)$",
                name,
            )
        )


def _belongs(file: Path, ours: _Naming, digests: set[str], others: set[str]) -> bool:
    """A file's content decides, where it is known; then its name."""
    try:
        digest = sha256(read_bytes(file)).hexdigest()
    except RefusedError:
        return ours.in_file(file.name)
    return digest in digests or (digest not in others and ours.in_file(file.name))


def _rows_of(records: Records, table: Any, held: _Held) -> list[dict[str, Any]]:
    return [dict(row) for row in records.rows(select(table).where(_of(table, held)))]


def _of(table: Any, held: _Held) -> Any:
    found = [table.c.workbook.in_(held.workbooks)]
    if "digest" in table.c:
        found.append(table.c.digest.in_(held.digests))
    return or_(*found)


def _content(file: Path) -> dict[str, Any]:
    data = file.read_bytes()
    if file.suffix == ".json":
        try:
            return {"json": json.loads(data)}
        except (ValueError, RecursionError):
            pass
    try:
        return {"text": data.decode("utf-8")}
    except UnicodeDecodeError:
        return {"base64": base64.b64encode(data).decode()}


def _take_out(
    connection: Connection, held: _Held, tombstone: str, reason: str, keep_marks: bool
) -> None:
    connection.execute(
        insert(erasures),
        {
            "tombstone": tombstone,
            "reason": reason,
            "marks_kept": keep_marks,
            "erased_at": now(),
        },
    )
    what = [{"what": text} for text in {*held.workbooks, *held.digests}]
    connection.execute(insert(erasing), what)
    if keep_marks:
        _make_anonymous(connection, held, tombstone)
    for table in PERSONAL if not keep_marks else (receipts, journals, grounds):
        connection.execute(delete(table).where(_of(table, held)))
    connection.execute(delete(erasing))


def _make_anonymous(connection: Connection, held: _Held, tombstone: str) -> None:
    """Give every workbook and hand-in of the person a new name that leads nowhere."""
    for number, digest in enumerate(held.digests, 1):
        here = {"digest": f"{tombstone}-{number}"}
        bare = {"answer": "", "answer_digest": "", "message": "", "title": marks.c.exercise}
        connection.execute(
            update(marks).where(marks.c.digest == digest).values(**here, **bare, marked_at="")
        )
        connection.execute(
            update(counting)
            .where(counting.c.digest == digest)
            .values(**here, reason="", decided_at="")
        )
    for number, workbook in enumerate(held.workbooks, 1):
        here = {"workbook": f"{tombstone}-{number}"}
        connection.execute(
            update(people)
            .where(people.c.workbook == workbook)
            .values(**here, trainee=tombstone, name=ERASED)
        )
        connection.execute(
            update(manual)
            .where(manual.c.workbook == workbook)
            .values(**here, answer_digest="", note="", marked_at="")
        )
        for table in (marks, counting):
            connection.execute(update(table).where(table.c.workbook == workbook).values(**here))


def _left_to_do(folder: ClassFolder, trainee: str) -> tuple[str, ...]:
    left = [
        "Run 'labkit score' once more: the score sheet and the overview were deleted and will be "
        "written without them.",
        "Exports that you made, and copies elsewhere (sticks, mail, backups), are yours to delete.",
    ]
    if any(person.id == trainee for person in folder.trainees):
        left.insert(
            0,
            f"Take their line out of {folder.roster_file.name} now: dealing would give them a "
            "workbook again.",
        )
    return tuple(left)
