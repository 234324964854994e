"""The erasure of a person on request.

It takes the person out of the records (a tombstone stands in their place), deletes their hand-ins,
pages, receipts and workbooks and whatever labkit wrote of the whole class, and leaves an entry that
somebody was erased, and why. What else names the person is told to the instructor.
"""

from __future__ import annotations

import secrets
import shutil
from collections.abc import Iterator, Mapping, Sequence
from contextlib import nullcontext
from dataclasses import dataclass, replace
from typing import Any, Final

from sqlalchemy import Connection, delete, insert, select, update

from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.dealing.deal_record import read_deal, write_deal
from labkit.classroom.dealt import Roll
from labkit.classroom.errors import ClassError
from labkit.classroom.handins.pairs import ERASED, Pairs
from labkit.classroom.held import holding
from labkit.classroom.people.after_erasing import left_to_do
from labkit.classroom.people.belongings import (
    Belongings,
    belongings_of,
    homes_of,
    is_below,
    nameless_receipts,
    of_person,
)
from labkit.classroom.people.room_log import take_out_of_room_log
from labkit.classroom.people.traces import Found, everything_in, of_everybody
from labkit.classroom.records.chain import salts_of, without_salts
from labkit.classroom.records.schema import (
    PERSONAL,
    certificates,
    counting,
    ended,
    erasing,
    erasures,
    exported,
    grounds,
    in_room,
    journals,
    manual,
    marks,
    people,
    receipts,
    renamed,
    together,
)
from labkit.classroom.records.store import Records
from labkit.exchange.clock import CLOCK

_ERASED_CERTIFICATE: Final = "Whom it was issued to was erased."


@dataclass(frozen=True, slots=True)
class Erasure:
    """What an erasure did, and what is left to do by hand."""

    tombstone: str
    files: int
    marks_kept: bool
    left_to_do: tuple[str, ...]


def erase(folder: ClassFolder, trainee: str, *, reason: str, keep_marks: bool = True) -> Erasure:
    """Take a person out of the class folder. Doing it again after a cut goes on where it was.

    With `keep_marks` their marks stay, of nobody; otherwise they go too. Raises `ClassError`.
    """
    if not reason.strip():
        raise ClassError("Say why: --reason, for example 'asked for it on 3 March'.")
    records = Records.of(folder)
    with holding(folder) if folder.room.exists() else nullcontext():
        return _erased(folder, records, trainee, reason, keep_marks=keep_marks)


def _erased(
    folder: ClassFolder, records: Records, trainee: str, reason: str, *, keep_marks: bool
) -> Erasure:
    _know(folder, records, trainee)
    try:
        held = belongings_of(folder, records, trainee)
    except ClassError:
        # A run may have been cut short before its last step.
        records.compact()
        raise
    if held.spellings.inside(reason.encode()):
        raise ClassError(
            "The reason stays in the records for ever: write it without naming the person."
        )
    common = [found for found in everything_in(folder.path) if of_everybody(found, folder.path)]
    common += _pages_with_name(folder, records, held)
    for found in (*held.files, *common):
        found.file.unlink(missing_ok=True)
    for home in (home for one in held.ids for home in homes_of(folder, one)):
        if home.is_symlink():
            home.unlink()
        elif home.is_dir():
            shutil.rmtree(home)
    take_out_of_room_log(folder, held.ids)
    deal = read_deal(folder)
    others = Roll(item for item in deal.dealt if item.trainee != trainee)
    if len(others) != len(deal.dealt):
        write_deal(folder, replace(deal, dealt=others))
        folder.deal_log.unlink(missing_ok=True)
    nameless = nameless_receipts(records, held)
    staying = () if keep_marks else tuple(_stays_for_others(folder, records, held))
    tombstone = f"erased-{secrets.token_hex(6)}"
    # The records last: as long as they know the person, a run that was cut short can go on.
    with records.writing() as connection:
        changed = _entries_of(connection, held, nameless)
        _take_out(
            connection, held, nameless, salts_of(connection, changed), tombstone, reason, keep_marks
        )
        if records.chain:
            records.chain.relink(connection, changed)
    records.compact()
    left = (*staying, *left_to_do(folder, records, trainee, held))
    return Erasure(tombstone, len(held.files) + len(common), keep_marks, left)


def _know(folder: ClassFolder, records: Records, trainee: str) -> None:
    """Let the records know the person: they are the last thing that an erasure empties."""
    records.add(
        people,
        [
            {
                "workbook": item.workbook,
                "lab": item.lab,
                "trainee": item.origin[0],
                "name": item.name,
            }
            for item in read_deal(folder).dealt.of_trainee(trainee)
        ],
    )


def _take_out(
    connection: Connection,
    held: Belongings,
    nameless: Sequence[Mapping[str, Any]],
    salted: Sequence[str],
    tombstone: str,
    reason: str,
    keep_marks: bool,
) -> None:
    connection.execute(
        insert(erasures),
        {
            "tombstone": tombstone,
            "reason": reason.strip(),
            "marks_kept": keep_marks,
            "erased_at": CLOCK.now(),
        },
    )
    named = {*held.workbooks, *held.digests, *(row["digest"] for row in nameless), *salted}
    what = [{"what": text} for text in named]
    connection.execute(insert(erasing), what)
    kept = held if keep_marks else _of_others_too(connection, held)
    _make_anonymous(connection, kept, tombstone)
    _withdraw_certificates(connection, held, tombstone)
    extra = (receipts, renamed, exported, journals, grounds, in_room)
    for table in PERSONAL if not keep_marks else extra:
        if table is not certificates:
            connection.execute(delete(table).where(of_person(table, held)))
    ids = [row["id"] for row in nameless]
    connection.execute(delete(receipts).where(receipts.c.id.in_(ids)))
    without_salts(connection, salted)
    connection.execute(delete(erasing))


def _withdraw_certificates(connection: Connection, held: Belongings, tombstone: str) -> None:
    """Leave of the person's certificates that they were issued, and hold no more."""
    theirs = certificates.c.workbook.in_(held.workbooks)
    holding = select(certificates.c.serial).where(
        theirs, certificates.c.serial.not_in(select(ended.c.serial))
    )
    ends = [
        {"serial": serial, "successor": "", "reason": _ERASED_CERTIFICATE, "by": ""}
        for serial in connection.execute(holding).scalars()
    ]
    if ends:
        since = CLOCK.now()
        connection.execute(insert(ended), [{**end, "since": since} for end in ends])
    bare = {"workbook": tombstone, "statement": "", "code": ""}
    connection.execute(update(certificates).where(theirs).values(**bare))


def _of_others_too(connection: Connection, held: Belongings) -> Belongings:
    """As much of it as is the result of somebody who works in it: nobody else loses marks."""
    hosts = set(Pairs.of(connection).host_of.values())
    workbooks = [workbook for workbook in held.workbooks if workbook in hosts]
    query = select(marks.c.digest).where(marks.c.workbook.in_(workbooks)).distinct()
    return replace(held, workbooks=workbooks, digests=sorted(connection.execute(query).scalars()))


def _stays_for_others(folder: ClassFolder, records: Records, held: Belongings) -> Iterator[str]:
    with records.reading() as connection:
        pairs = Pairs.of(connection)
    dealt = read_deal(folder).dealt
    for guest, host in pairs.host_of.items():
        item = dealt.of_workbook(guest) if host in held.workbooks else None
        if item:
            yield (
                f"The marks of '{item.lab}' are those of {item.name} too, who worked together with "
                "them: they stay, without the name."
            )


def _pages_with_name(folder: ClassFolder, records: Records, held: Belongings) -> list[Found]:
    """Pages and receipts of those with whom the person worked together: they are written anew."""
    with records.reading() as connection:
        pairs = Pairs.of(connection)
    dealt = read_deal(folder).dealt
    others = {other for workbook in held.workbooks for other in pairs.others(workbook)}
    items = filter(None, map(dealt.of_workbook, others))
    stems = [f"{item.lab}--{item.trainee}" for item in items]
    names = tuple(stem + end for stem in stems for end in (".html", ".json", "--"))
    return [
        found
        for found in everything_in(folder.path)
        if is_below(found, folder, ("scores", "receipts")) and found.name.startswith(names)
    ]


def _entries_of(
    connection: Connection, held: Belongings, nameless: Sequence[Mapping[str, Any]]
) -> dict[str, list[int]]:
    """The entries that an erasure changes or takes out, by table."""
    found = {
        table.name: list(
            connection.execute(select(table.c.id).where(of_person(table, held))).scalars()
        )
        for table in PERSONAL
    }
    found[receipts.name] = sorted({*found[receipts.name], *(row["id"] for row in nameless)})
    return found


def _make_anonymous(connection: Connection, held: Belongings, tombstone: str) -> None:
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
        own, of_host = together.c.workbook == workbook, together.c.host == workbook
        connection.execute(update(together).where(own).values(**here, since=""))
        connection.execute(update(together).where(of_host).values(host=here["workbook"], since=""))
