"""What is held of a person: all of it on request, and its erasure on request.

An erasure takes the person out of the records (a tombstone stands in their place), deletes their
hand-ins, pages, receipts and workbooks and whatever labkit wrote of the whole class, and leaves an
entry that somebody was erased, and why. What else names the person is told to the instructor.
"""

from __future__ import annotations

import base64
import json
import re
import secrets
import shutil
import unicodedata
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from contextlib import nullcontext
from dataclasses import dataclass, replace
from hashlib import sha256
from pathlib import Path
from typing import Any, Final

from sqlalchemy import Connection, delete, false, insert, or_, select, update

from labkit.classroom.class_folder import RECORDS_FILE, ClassFolder
from labkit.classroom.dealing.deal import trainee_folder
from labkit.classroom.dealing.deal_record import read_deal, write_deal
from labkit.classroom.dealt import Roll
from labkit.classroom.errors import ClassError
from labkit.classroom.handins.pairs import ERASED, Pairs
from labkit.classroom.held import holding
from labkit.classroom.people.room_log import room_entries_of, take_out_of_room_log
from labkit.classroom.people.same_person import owned_workbooks, owner_of_id
from labkit.classroom.people.traces import Found, Spellings, everything_in, of_everybody, page_of
from labkit.classroom.records.chain import salts_of, without_salts
from labkit.classroom.records.handed_on import handed_on_of, to_delete
from labkit.classroom.records.schema import (
    PERSONAL,
    acts,
    certificates,
    counting,
    editions,
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
    voids,
)
from labkit.classroom.records.store import Records
from labkit.classroom.roster import Trainee
from labkit.exchange.clock import CLOCK

_FROM_TRAINEES: Final = ("hand-ins", "set-aside", "room/handed-in")
_OF_ONE: Final = (*_FROM_TRAINEES, "receipts", "scores")
_NAMED: Final = 20
"""Files that are told by name at most."""
# The columns of the records in which people write what they like, of entries that stay.
_WORDS: Final = (
    (receipts, ("file", "sentence")),
    (marks, ("answer", "message")),
    (manual, ("by", "note")),
    (editions, ("reason", "by")),
    (voids, ("reason", "by")),
    (together, ("by",)),
    (acts, ("by",)),
    (erasures, ("reason",)),
    (certificates, ("by",)),
    (ended, ("reason", "by")),
)
_ERASED_CERTIFICATE: Final = "Whom it was issued to was erased."


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
    files: list[Found]
    ids: frozenset[str]
    spellings: Spellings
    naming: _Naming


def held_of(folder: ClassFolder, trainee: str) -> dict[str, Any]:
    """Everything that the class folder holds of a person, as JSON. Raises `ClassError`."""
    records = Records.of(folder)
    held = _held(folder, records, trainee)
    deal = read_deal(folder)
    found: dict[str, Any] = {
        "format": "labkit personal data",
        "class": folder.fields.id,
        "trainee": trainee,
        "made_at": CLOCK.now(),
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
        {"file": str(item.file.relative_to(folder.path)), **_content(item)} for item in held.files
    ]
    found["room"] = room_entries_of(folder, held.ids)
    found["handed_on"] = handed_on_of(records)
    return found


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
        held = _held(folder, records, trainee)
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
    for home in (home for one in held.ids for home in _homes(folder, one)):
        if home.is_symlink():
            home.unlink()
        elif home.is_dir():
            shutil.rmtree(home)
    take_out_of_room_log(folder, held.ids)
    deal = read_deal(folder)
    left = Roll(item for item in deal.dealt if item.trainee != trainee)
    if len(left) != len(deal.dealt):
        write_deal(folder, replace(deal, dealt=left))
        folder.deal_log.unlink(missing_ok=True)
    nameless = _nameless(records, held)
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
    left_to_do = (*staying, *_left_to_do(folder, records, trainee, held))
    return Erasure(tombstone, len(held.files) + len(common), keep_marks, left_to_do)


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


def _held(folder: ClassFolder, records: Records, trainee: str) -> _Held:
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
    ours = _Naming(frozenset(ids), names, frozenset(labs))
    mine, others, whole_of_others = _digests(records, ours, workbooks)
    mine -= others
    files = []
    homes = [home for one in ids for home in _homes(folder, one)]
    for found in everything_in(folder.path):
        if any(found.file.is_relative_to(home) for home in homes) or any(
            page_of(found, one) for one in ids
        ):
            files.append(found)
        elif _below(found, folder, _OF_ONE):
            data = found.data()
            digest = sha256(data).hexdigest() if data is not None else ""
            if digest in whole_of_others:
                continue
            if digest in mine or ours.in_file(found.name):
                files.append(found)
            elif data and _below(found, folder, _FROM_TRAINEES) and spellings.author(data):
                mine.add(digest)
                files.append(found)
    return _Held(list(workbooks), sorted(mine), files, frozenset(ids), spellings, ours)


def _homes(folder: ClassFolder, trainee: str) -> tuple[Path, ...]:
    """Where labkit keeps what is of one person alone."""
    of_room = (folder.journals / trainee, folder.played / trainee)
    return trainee_folder(folder, trainee), *of_room


def _below(found: Found, folder: ClassFolder, places: Iterable[str]) -> bool:
    return any(found.file.is_relative_to(folder.path / name) for name in places)


def _digests(
    records: Records, ours: _Naming, workbooks: Mapping[str, str]
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
    known = [*read_deal(folder).dealt.people(), *((one.id, one.name) for one in _roster(folder))]
    others = {word for id_, name in known if id_ not in ids for word in (id_, name)}
    own = frozenset({*names, *(name for id_, name in known if id_ in ids)} - others)
    return own, Spellings(ids, own, others)


def _roster(folder: ClassFolder) -> tuple[Trainee, ...]:
    """The roster; nobody while it cannot be read."""
    try:
        return folder.trainees
    except ClassError:
        return ()


@dataclass(frozen=True, slots=True)
class _Naming:
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


def _rows_of(records: Records, table: Any, held: _Held) -> list[dict[str, Any]]:
    rows = [dict(row) for row in records.rows(select(table).where(_of(table, held)))]
    if table is receipts:
        rows += [row for row in _nameless(records, held) if row not in rows]
    return rows


def _nameless(records: Records, held: _Held) -> list[dict[str, Any]]:
    """Receipts of damaged files that tell by their words whose they are.

    Somebody else's file may have the same bytes: its receipt is not among these.
    """
    rows = records.rows(select(receipts).where(receipts.c.workbook.is_(None)))
    return [dict(row) for row in rows if held.naming.in_receipt(row)]


def _of(table: Any, held: _Held) -> Any:
    found = [table.c.workbook.in_(held.workbooks)]
    if "host" in table.c:
        found.append(table.c.host.in_(held.workbooks))
    if "digest" in table.c:
        found.append(table.c.digest.in_(held.digests))
    return or_(*found)


def _content(found: Found) -> dict[str, Any]:
    data = found.data() or b""
    if found.file.suffix == ".json":
        try:
            return {"json": json.loads(data)}
        except (ValueError, RecursionError):
            pass
    try:
        return {"text": data.decode("utf-8")}
    except UnicodeDecodeError:
        return {"base64": base64.b64encode(data).decode()}


def _take_out(
    connection: Connection,
    held: _Held,
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
            connection.execute(delete(table).where(_of(table, held)))
    ids = [row["id"] for row in nameless]
    connection.execute(delete(receipts).where(receipts.c.id.in_(ids)))
    without_salts(connection, salted)
    connection.execute(delete(erasing))


def _withdraw_certificates(connection: Connection, held: _Held, tombstone: str) -> None:
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


def _of_others_too(connection: Connection, held: _Held) -> _Held:
    """As much of it as is the result of somebody who works in it: nobody else loses marks."""
    hosts = set(Pairs.of(connection).host_of.values())
    workbooks = [workbook for workbook in held.workbooks if workbook in hosts]
    query = select(marks.c.digest).where(marks.c.workbook.in_(workbooks)).distinct()
    return replace(held, workbooks=workbooks, digests=sorted(connection.execute(query).scalars()))


def _stays_for_others(folder: ClassFolder, records: Records, held: _Held) -> Iterator[str]:
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


def _pages_with_name(folder: ClassFolder, records: Records, held: _Held) -> list[Found]:
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
        if _below(found, folder, ("scores", "receipts")) and found.name.startswith(names)
    ]


def _entries_of(
    connection: Connection, held: _Held, nameless: Sequence[Mapping[str, Any]]
) -> dict[str, list[int]]:
    """The entries that an erasure changes or takes out, by table."""
    found = {
        table.name: list(connection.execute(select(table.c.id).where(_of(table, held))).scalars())
        for table in PERSONAL
    }
    found[receipts.name] = sorted({*found[receipts.name], *(row["id"] for row in nameless)})
    return found


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
        own, of_host = together.c.workbook == workbook, together.c.host == workbook
        connection.execute(update(together).where(own).values(**here, since=""))
        connection.execute(update(together).where(of_host).values(host=here["workbook"], since=""))


def _left_to_do(folder: ClassFolder, records: Records, trainee: str, held: _Held) -> Iterator[str]:
    roster = ""
    if any(person.id == trainee for person in _roster(folder)):
        roster = folder.roster_file.name
        yield (
            f"Take their line out of {roster} now: it is your own file, and dealing would give "
            "them a workbook again."
        )
    yield (
        "Run 'labkit score' once more, and 'labkit print', 'labkit certificates' and 'labkit "
        "export' where you used them: what they had written of the whole class into the class "
        "folder was deleted."
    )
    yield from to_delete(folder, records, trainee)
    named = [
        str(found.file.relative_to(folder.path))
        for found in everything_in(folder.path)
        if not found.name.startswith(RECORDS_FILE) and found.name != roster
        if _still_named(found, held.spellings)
    ]
    if named:
        more = f" and {len(named) - _NAMED} more" if len(named) > _NAMED else ""
        yield (
            "These files in the class folder were not written by labkit, or belong to somebody "
            f"else, and still name them: {', '.join(named[:_NAMED])}{more}. Look at them yourself."
        )
    yield from _words_left(records, held.naming.names)
    yield (
        "What was copied elsewhere (sticks, mail, backups, the trainee's own laptop) and exports "
        "of older versions of labkit are yours to delete."
    )


def _still_named(found: Found, spellings: Spellings) -> bool:
    if spellings.name(found.file.relative_to(found.top)):
        return True
    return spellings.inside(found.data() or b"")


def _words_left(records: Records, names: Iterable[str]) -> Iterator[str]:
    """Entries that stay, and in which somebody wrote the person's name."""
    for table, columns in _WORDS:
        said = [table.c[column].contains(n, autoescape=True) for column in columns for n in names]
        count = len(records.rows(select(table.c.id).where(or_(false(), *said))))
        if count:
            yield (
                f"{count} entr{'y' if count == 1 else 'ies'} of the records ({table.name}) name "
                "them in words that somebody wrote; entries are never changed."
            )
