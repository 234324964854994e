"""What belongs to one person in a class folder: workbooks, digests of hand-ins, files, entries."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path
from typing import Any, Final

from sqlalchemy import or_, select

from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.dealing.deal import trainee_folder
from labkit.classroom.dealing.deal_record import read_deal
from labkit.classroom.errors import ClassError
from labkit.classroom.people.same_person import owned_workbooks, owner_of_id
from labkit.classroom.people.traces import Found, Spellings, everything_in, page_of
from labkit.classroom.records.schema import erasures, people, receipts
from labkit.classroom.records.store import Records
from labkit.classroom.roster import Trainee

_FROM_TRAINEES: Final = ("hand-ins", "set-aside", "room/handed-in")
_OF_ONE: Final = (*_FROM_TRAINEES, "receipts", "scores")


@dataclass(frozen=True, slots=True)
class Belongings:
    """What belongs to one person: workbooks, digests of hand-ins, and files."""

    workbooks: list[str]
    digests: list[str]
    files: list[Found]
    ids: frozenset[str]
    spellings: Spellings
    naming: Naming


@dataclass(frozen=True, slots=True)
class Naming:
    """How files and receipts name a person."""

    ids: frozenset[str]
    names: frozenset[str]
    labs: frozenset[str]

    def in_receipt(self, row: Mapping[str, Any]) -> bool:
        """Whether a receipt of a file that could not be used is about the person."""
        file = unicodedata.normalize("NFC", row["file"])
        return self.in_file(file) or any(
            re.search(rf"(?<!\w){re.escape(name)}(?!\w)", file + "\n" + row["sentence"])
            for name in self.names
        )

    def in_file(self, name: str) -> bool:
        """Whether a file is called as a hand-in, a page or a receipt of the person would be."""
        labs, ids = ("|".join(map(re.escape, words)) for words in (self.labs, self.ids))
        return bool(
            re.search(
                rf"(?:{labs})--(?:{ids})"
                r"(?:,attempt-\d+)?(?:\.handin\b.*|\.(?:html|json)|--[0-9A-F]{5}-[0-9A-F]{5}\.html)$",
                name,
            )
        )


def belongings_of(folder: ClassFolder, records: Records, trainee: str) -> Belongings:
    """What belongs to the person with this id. Raises `ClassError` where nobody has it."""
    owned = owned_workbooks(records, trainee)
    rows = records.rows(select(people).where(people.c.workbook.in_(owned)))
    dealt = read_deal(folder).dealt.of_trainee(trainee)
    if not rows and not dealt:
        erased = len(records.rows(select(erasures.c.id)))
        now_called = owner_of_id(records, trainee)
        raise ClassError(
            f"Nobody with the id '{trainee}' is in the deal or the records of this class"
            f"{f' ({erased} were erased already)' if erased else ''}."
            f"{f' It was corrected: the id is {now_called} now.' if now_called else ''}"
        )
    workbooks = {row["workbook"]: row["name"] for row in rows}
    workbooks |= {item.workbook: item.name for item in dealt}
    labs = {row["lab"] for row in rows} | {item.lab for item in dealt}
    ids = {trainee, *owned.values(), *(item.origin[0] for item in dealt)}
    called = {*workbooks.values(), *(row["name"] for row in rows)}
    names, spellings = _spellings(folder, ids, called)
    ours = Naming(frozenset(ids), names, frozenset(labs))
    mine, others, whole_of_others = _digests(records, ours, workbooks)
    mine -= others
    homes = [home for one in ids for home in homes_of(folder, one)]
    files = []
    for found in everything_in(folder.path):
        if _is_of_one_alone(found, homes, ids):
            files.append(found)
        elif is_below(found, folder, _OF_ONE):
            data = found.data()
            digest = sha256(data).hexdigest() if data is not None else ""
            if digest in whole_of_others:
                continue
            if digest in mine or ours.in_file(found.name):
                files.append(found)
            elif data and is_below(found, folder, _FROM_TRAINEES) and spellings.author(data):
                mine.add(digest)
                files.append(found)
    return Belongings(list(workbooks), sorted(mine), files, frozenset(ids), spellings, ours)


def _is_of_one_alone(found: Found, homes: Iterable[Path], ids: Iterable[str]) -> bool:
    """Whether a file is a page of the person, or lies where labkit keeps what is theirs alone."""
    at_home = any(found.file.is_relative_to(home) for home in homes)
    return at_home or any(page_of(found, one) for one in ids)


def homes_of(folder: ClassFolder, trainee: str) -> tuple[Path, ...]:
    """Where labkit keeps what is of one person alone."""
    of_room = (folder.journals / trainee, folder.played / trainee)
    return trainee_folder(folder, trainee), *of_room


def is_below(found: Found, folder: ClassFolder, places: Iterable[str]) -> bool:
    """Whether a file lies in one of these folders of the class."""
    return any(found.file.is_relative_to(folder.path / name) for name in places)


def roster_of(folder: ClassFolder) -> tuple[Trainee, ...]:
    """The roster; nobody while it cannot be read."""
    try:
        return folder.trainees
    except ClassError:
        return ()


def nameless_receipts(records: Records, held: Belongings) -> list[dict[str, Any]]:
    """Receipts of damaged files that tell by their words whose they are.

    Somebody else's file may have the same bytes: its receipt is not among these.
    """
    rows = records.rows(select(receipts).where(receipts.c.workbook.is_(None)))
    return [dict(row) for row in rows if held.naming.in_receipt(row)]


def of_person(table: Any, held: Belongings) -> Any:
    """The condition by which entries of a table are the person's."""
    found = [table.c.workbook.in_(held.workbooks)]
    if "host" in table.c:
        found.append(table.c.host.in_(held.workbooks))
    if "digest" in table.c:
        found.append(table.c.digest.in_(held.digests))
    return or_(*found)


def _digests(
    records: Records, ours: Naming, workbooks: Mapping[str, str]
) -> tuple[set[str], set[str], set[str]]:
    """Of the files that came in: the person's, those of others, and the whole ones of these."""
    mine: set[str] = set()
    others: set[str] = set()
    whole: set[str] = set()
    for row in records.rows(select(receipts)):
        if row["workbook"] in workbooks or (row["workbook"] is None and ours.in_receipt(row)):
            mine.add(row["digest"])
            continue
        others.add(row["digest"])
        if row["workbook"] is not None:
            whole.add(row["digest"])
    return mine, others, whole


def _spellings(
    folder: ClassFolder, ids: Collection[str], names: set[str]
) -> tuple[frozenset[str], Spellings]:
    """The names that are the person's alone, and how they and the id are written."""
    known = [*read_deal(folder).dealt.people(), *((one.id, one.name) for one in roster_of(folder))]
    others = {word for id_, name in known if id_ not in ids for word in (id_, name)}
    own = frozenset({*names, *(name for id_, name in known if id_ in ids)} - others)
    return own, Spellings(ids, own, others)
