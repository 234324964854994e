"""A person whose id was corrected in the roster: what was dealt to the old id belongs to the new.

Workbooks stay as they were dealt, with their numbers, their signature and the id that is in them
(`Dealt.origin`). Whose they are now is an entry in the records, and stands in the deal.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass, replace
from hashlib import sha256
from itertools import groupby
from operator import attrgetter

from sqlalchemy import or_, select

from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.dealing.deal import require_same_secret
from labkit.classroom.dealing.deal_record import read_deal, write_deal
from labkit.classroom.dealt import Dealt, Roll
from labkit.classroom.errors import ClassError
from labkit.classroom.people.late import ROSTER_IS_WRITTEN
from labkit.classroom.people.traces import everything_in, page_of
from labkit.classroom.private_place import Place
from labkit.classroom.records.schema import people, renamed
from labkit.classroom.records.store import Records
from labkit.classroom.roster import require_safe_ids_in, trainees_in
from labkit.classroom.roster_lines import with_id
from labkit.classroom.roster_table import roster_bytes
from labkit.exchange.clock import CLOCK
from labkit.language.problems import nearest


def become(folder: ClassFolder, old: str, new: str, *, reason: str, by: str) -> list[Dealt]:
    """Let everything that was dealt to the id `old` belong to the id `new` of the roster.

    Where `new` was dealt workbooks too, these follow as later attempts. Returns all workbooks that
    the person has now. Doing it again changes nothing. Raises `ClassError`.
    """
    _require_reason(reason)
    deal = read_deal(folder)
    _require_one_person(folder, deal.dealt, old, new)
    require_same_secret(folder, folder.secret(), deal)
    name = next(person.name for person in folder.trainees if person.id == new)
    theirs = _theirs(deal.dealt, old, new, name)
    labs = {item.lab for item in theirs}
    changed = deal.dealt.of_trainee(old)
    if not changed:
        _without_pages(folder, old, labs)
        return theirs
    _write_down(Records.of(folder), changed, {"trainee": new, "reason": reason.strip(), "by": by})
    moved = {item.workbook: item for item in theirs}
    roll = Roll(moved.get(item.workbook, item) for item in deal.dealt)
    write_deal(folder, replace(deal, dealt=roll))
    folder.deal_log.unlink(missing_ok=True)
    _without_pages(folder, old, labs)
    return theirs


@dataclass(frozen=True, slots=True)
class IdChange:
    """A change of id before it is made: whose, in which roster, and what follows.

    `in_roster` says that the old id stands in the roster and is changed there. `workbooks` are all
    that the person has then. `seen` tells this state of things from another one.
    """

    name: str
    in_roster: bool
    workbooks: tuple[Dealt, ...]
    seen: str


def planned_change(folder: ClassFolder, old: str, new: str) -> IdChange:
    """What `change_id` would do. Raises `ClassError` with what hinders it."""
    changed, _ = _with_new_id(folder, old, new)
    return changed


def change_id(
    folder: ClassFolder, old: str, new: str, *, reason: str, by: str, seen: str
) -> IdChange:
    """Give one person another id: in the roster where the old one stands, and in all that is dealt.

    `seen` is of the `planned_change` that was shown: where things are others by now nothing is
    done. Raises `ClassError`.
    """
    _require_reason(reason)
    with ROSTER_IS_WRITTEN:
        planned, roster = _with_new_id(folder, old, new)
        if planned.seen != seen:
            raise ClassError(
                "Nothing was changed: the roster or the deal was changed since this was shown. "
                "Look at it again."
            )
        if planned.in_roster:
            Place(folder.path).write(roster, folder.roster_file.name)
    if planned.workbooks:
        become(ClassFolder.open(folder.path), old, new, reason=reason, by=by)
    return planned


def _with_new_id(folder: ClassFolder, old: str, new: str) -> tuple[IdChange, bytes]:
    """The change, and the roster with the new id."""
    file, encoding = folder.roster_file.name, folder.fields.roster_encoding
    roster, deal = roster_bytes(folder.roster_file), read_deal(folder)
    seen = sha256(roster + repr(list(deal.dealt)).encode()).hexdigest()
    present = {person.id: person for person in trainees_in(file, roster, encoding)}
    in_roster = old in present
    if old == new:
        raise ClassError(f"'{new}' is the id already. Write the new one.")
    if in_roster and new in present:
        raise ClassError(
            f"'{old}' and '{new}' are both in {file}, so they are two people. If they are one, "
            f"take the line of '{old}' out of the roster first."
        )
    if in_roster:
        roster = with_id(file, roster, encoding, old, new)
        present = {person.id: person for person in trainees_in(file, roster, encoding)}
        if new not in present:
            raise ClassError(f"'{new}' is not an id as it is written. Leave out its spaces.")
        dealt = {item.trainee for item in deal.dealt if item.trainee != old}
        require_safe_ids_in(file, roster, encoding, dealt)
    _require_free(deal.dealt, old, new)
    if not in_roster or deal.dealt.of_trainee(old):
        _require_among(file, present, deal.dealt, old, new)
    workbooks = _theirs(deal.dealt, old, new, present[new].name)
    return IdChange(present[new].name, in_roster, tuple(workbooks), seen), roster


def _require_free(dealt: Roll, old: str, new: str) -> None:
    """Nobody may have an id that was another person's: their workbooks follow from it."""
    for item in dealt:
        if item.origin[0] == new and item.trainee not in (old, new):
            raise ClassError(
                f"The id '{new}' was that of {item.name} ({item.trainee}), and their workbooks "
                "follow from it. Choose another one."
            )


def _require_reason(reason: str) -> None:
    if not reason.strip():
        raise ClassError("Say why: --reason, for example 'misspelt in the roster'.")


def _theirs(dealt: Roll, old: str, new: str, name: str) -> list[Dealt]:
    """All workbooks of both ids as those of one person, `new`; those of `old` come first."""
    found = {
        item.workbook: item
        for who in (old, new)
        for item in sorted(dealt.of_trainee(who), key=attrgetter("attempt"))
    }
    if not dealt.of_trainee(old):
        return list(found.values())
    return list(_together(found.values(), new, name))


def _write_down(records: Records, items: Iterable[Dealt], entry: dict[str, str]) -> None:
    """Add the entries, those of a run that was cut short once."""
    known = [
        {"workbook": one.workbook, "lab": one.lab, "trainee": one.origin[0], "name": one.name}
        for one in items
    ]
    before = _owners(records)
    rows = [
        {"workbook": one.workbook, **entry, "since": CLOCK.now()}
        for one in items
        if before.get(one.workbook) != entry["trainee"]
    ]
    with records.writing() as connection:
        records.add(people, known, connection)
        records.add(renamed, rows, connection)


def _without_pages(folder: ClassFolder, old: str, labs: Iterable[str]) -> None:
    """Delete the pages of the old id: they would be taken for those of a second person."""
    scores = {f"{lab}--{old}.{ending}" for lab in labs for ending in ("html", "json")}
    for found in everything_in(folder.path):
        if page_of(found, old) or (found.file.parent == folder.scores and found.name in scores):
            found.file.unlink(missing_ok=True)


def owned_workbooks(records: Records, trainee: str) -> dict[str, str]:
    """The workbooks that the records know as somebody's now, each with the id it was dealt to."""
    owners = _owners(records)
    gained = [workbook for workbook, owner in owners.items() if owner == trainee]
    query = select(people).where(or_(people.c.trainee == trainee, people.c.workbook.in_(gained)))
    return {
        row["workbook"]: row["trainee"]
        for row in records.rows(query)
        if owners.get(row["workbook"], trainee) == trainee
    }


def owner_of_id(records: Records, old: str) -> str:
    """The id that stands for a corrected one now; "" for one that was not corrected."""
    owners = _owners(records)
    query = select(people.c.workbook).where(people.c.trainee == old)
    found = [owners.get(row["workbook"], "") for row in records.rows(query)]
    return next(filter(None, found), "")


def _owners(records: Records) -> dict[str, str]:
    """Whose a workbook is now, where its owner's id was corrected."""
    return {row["workbook"]: row["trainee"] for row in records.latest(renamed, "workbook")}


def _together(items: Iterable[Dealt], new: str, name: str) -> Iterator[Dealt]:
    """The workbooks of one person, of each lab numbered anew in the order given."""
    for _, same in groupby(sorted(items, key=attrgetter("lab")), key=attrgetter("lab")):
        for attempt, item in enumerate(same, 1):
            drawn = item.origin if item.origin != (new, attempt) else None
            yield replace(item, trainee=new, name=name, attempt=attempt, drawn=drawn)


def _require_one_person(folder: ClassFolder, dealt: Roll, old: str, new: str) -> None:
    present = [person.id for person in folder.trainees]
    _require_among(folder.roster_file.name, present, dealt, old, new)


def _require_among(roster: str, present: Collection[str], dealt: Roll, old: str, new: str) -> None:
    if new not in present:
        raise ClassError(
            f"Nobody with the id '{new}' is in {roster}. {nearest(new, list(present))} Write the "
            "new id there first."
        )
    if old in present:
        raise ClassError(
            f"The id '{old}' is still in {roster}, so it is another person's. Take it out there "
            f"first, if '{new}' stands for it now."
        )
    known = {trainee for trainee, _ in dealt.people()}
    done = any(item.origin[0] == old for item in dealt.of_trainee(new))
    if old not in known and not done:
        raise ClassError(
            f"Nothing was dealt to the id '{old}'. {nearest(old, sorted(known))}".strip()
        )
