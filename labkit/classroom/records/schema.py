"""What the records hold. Every table is a list of entries; a later entry outweighs an earlier one.

Names and ids of people stand in `people` and `renamed` alone; everything else knows a workbook by
its number. Times are ISO 8601 in UTC.
"""

from __future__ import annotations

from typing import Any, Final

from sqlalchemy import (
    Boolean,
    Column,
    Float,
    Index,
    Integer,
    MetaData,
    String,
    Table,
    Text,
    UniqueConstraint,
)

VERSION: Final = 1
META: Final = MetaData()


def _entries(name: str, *rest: Column[Any] | UniqueConstraint) -> Table:
    return Table(name, META, Column("id", Integer, primary_key=True, autoincrement=True), *rest)


about = _entries(
    "about",
    Column("name", String(40), nullable=False),
    Column("value", Text, nullable=False),
    UniqueConstraint("name"),
)
"""The version of the records, and the class they belong to."""

people = _entries(
    "people",
    Column("workbook", String(64), nullable=False),
    Column("lab", String(80), nullable=False),
    Column("trainee", String(200), nullable=False),
    Column("name", Text, nullable=False),
    UniqueConstraint("workbook"),
)
"""Whose workbook is whose."""

renamed = _entries(
    "renamed",
    Column("workbook", String(64), nullable=False),
    Column("trainee", String(200), nullable=False),
    Column("reason", Text, nullable=False),
    Column("by", Text, nullable=False),
    Column("since", String(20), nullable=False),
)
"""Whose a workbook is since an id was corrected in the roster."""

receipts = _entries(
    "receipts",
    Column("digest", String(64), nullable=False),
    Column("file", Text, nullable=False),
    Column("workbook", String(64)),
    Column("outcome", String(40), nullable=False),
    Column("sentence", Text, nullable=False),
    Column("made_at", String(20), nullable=False),
    Column("received_at", String(20), nullable=False),
    Column("entries", Integer, nullable=False),
    Column("unreadable", Integer, nullable=False),
    Column("answers", String(64), nullable=False),
    UniqueConstraint("digest", "file", "outcome", "sentence"),
)
"""Each hand-in file that came in: the SHA-256 of its bytes (of its name, where it was not
read), its name, and what became of it.

`answers` is the SHA-256 of its answers alone: who presses the button twice has made one attempt.
"""

journals = _entries(
    "journals",
    Column("digest", String(64), nullable=False),
    Column("workbook", String(64), nullable=False),
    Column("chain", Text, nullable=False),
    Column("first_at", String(20), nullable=False),
    Column("last_at", String(20), nullable=False),
    Column("set_back", Integer, nullable=False),
    Column("at_once", Integer, nullable=False),
    UniqueConstraint("digest"),
)
"""What is kept of the answer journal of a whole hand-in (see `clocks.JournalFacts`): enough to tell
which journal goes on from which. Hand-ins of version 0.1 lack it where their files are gone."""

marks = _entries(
    "marks",
    Column("digest", String(64), nullable=False),
    Column("workbook", String(64), nullable=False),
    Column("lab", String(80), nullable=False),
    Column("lab_digest", String(64), nullable=False),
    Column("exercise", String(80), nullable=False),
    Column("number", Integer, nullable=False),
    Column("title", Text, nullable=False),
    Column("possible", Float, nullable=False),
    Column("earned", Float, nullable=False),
    Column("credit", Float, nullable=False),
    Column("message", Text, nullable=False),
    Column("slip", Text, nullable=False),
    Column("readable", Boolean, nullable=False),
    Column("awaits", Boolean, nullable=False),
    Column("answered", Boolean, nullable=False),
    Column("answer", Text, nullable=False),
    Column("answer_digest", String(64), nullable=False),
    Column("tries", Integer, nullable=False),
    Column("hints", Integer, nullable=False),
    Column("hint_cost", Float, nullable=False),
    Column("marked_at", String(20), nullable=False),
    UniqueConstraint("digest", "lab_digest", "exercise"),
)
"""The mark of one exercise of one hand-in, by one edition of the lab."""

counting = _entries(
    "counting",
    Column("workbook", String(64), nullable=False),
    Column("digest", String(64), nullable=False),
    Column("reason", Text, nullable=False),
    Column("decided_at", String(20), nullable=False),
)
"""Which hand-in of a workbook counts; an empty digest says that none does any more."""

grounds = _entries(
    "grounds",
    Column("workbook", String(64), nullable=False),
    Column("received", String(64), nullable=False),
    Column("rules", Text, nullable=False),
    Column("decided_at", String(20), nullable=False),
)
"""On what it was last decided which hand-in of a workbook counts: the SHA-256 over the digests of
what had been received, and the rules of class.yaml. While both are the same the decision stays, in
whatever way a later version would decide."""

manual = _entries(
    "manual_marks",
    Column("workbook", String(64), nullable=False),
    Column("exercise", String(80), nullable=False),
    Column("answer_digest", String(64), nullable=False),
    Column("credit", Float, nullable=False),
    Column("shares", Text, nullable=False),
    Column("by", Text, nullable=False),
    Column("note", Text, nullable=False),
    Column("marked_at", String(20), nullable=False),
)
"""Marks and sign-offs given by a person; `shares` is JSON, from rubric item to share (0 to 1).

A mark is of the answer with that digest. A sign-off whose `answer_digest` is `IN_PERSON` holds
whatever the workbook says: somebody saw it although nobody had said that it was ready.
"""

IN_PERSON: Final = "seen in person"

editions = _entries(
    "editions",
    Column("lab", String(80), nullable=False),
    Column("lab_digest", String(64), nullable=False),
    Column("reason", Text, nullable=False),
    Column("by", Text, nullable=False),
    Column("since", String(20), nullable=False),
)
"""By which text of a lab marks are given: first as dealt, then each correction."""

together = _entries(
    "together",
    Column("entry", String(16), nullable=False),
    Column("workbook", String(64), nullable=False),
    Column("host", String(64), nullable=False),
    Column("shared", Boolean, nullable=False),
    Column("hand", Boolean, nullable=False),
    Column("by", Text, nullable=False),
    Column("since", String(20), nullable=False),
    UniqueConstraint("entry"),
)
"""That the trainer let the owner of `workbook` work in the workbook `host` of another, or no more
(`shared` is false then, and `hand` says whether their hand is in that one's answers). `entry` is
the number that the room's log gave it. The last word on a workbook holds."""

in_room = _entries(
    "in_room",
    Column("digest", String(64), nullable=False),
    Column("workbook", String(64), nullable=False),
    UniqueConstraint("digest"),
)
"""The hand-ins that came in through the room. It takes nothing once time is up, by the clock of its
machine and what the trainer did there (time given, a pause, a lab opened again): none is late."""

voids = _entries(
    "voids",
    Column("lab", String(80), nullable=False),
    Column("exercise", String(80), nullable=False),
    Column("voided", Boolean, nullable=False),
    Column("reason", Text, nullable=False),
    Column("by", Text, nullable=False),
    Column("since", String(20), nullable=False),
)
"""Exercises that are taken out of the marks of everybody, or brought back."""

erasures = _entries(
    "erasures",
    Column("tombstone", String(40), nullable=False),
    Column("reason", Text, nullable=False),
    Column("marks_kept", Boolean, nullable=False),
    Column("erased_at", String(20), nullable=False),
)
"""That somebody was erased, and why; not who."""

acts = _entries(
    "acts",
    Column("what", Text, nullable=False),
    Column("by", Text, nullable=False),
    Column("at", String(20), nullable=False),
)
"""What somebody did with the class that no other entry tells (see `records.acts`)."""

handed_on = _entries(
    "handed_on",
    Column("what", String(40), nullable=False),
    Column("folder", Text, nullable=False),
    Column("written_at", String(20), nullable=False),
)
"""Exports and handouts that were written outside of the class: an erasure does not reach them."""

exported = _entries(
    "exported",
    Column("workbook", String(64), nullable=False),
    Column("place", Text, nullable=False),
    Column("content", String(64), nullable=False),
    Column("statement", String(36), nullable=False),
    Column("exported_at", String(20), nullable=False),
)
"""The xAPI statements that were handed on: an entry whenever another one holds than before.

`place` is what it is about ("lab/exercise", "lab", or "" for the whole class), `content` the
SHA-256 of all it says, `statement` its id; both are empty where none holds any more.
"""

certificates = _entries(
    "certificates",
    Column("serial", String(40), nullable=False),
    Column("workbook", String(64), nullable=False),
    Column("statement", Text, nullable=False),
    Column("code", String(20), nullable=False),
    Column("by", Text, nullable=False),
    Column("issued_at", String(20), nullable=False),
    UniqueConstraint("serial"),
)
"""The certificates that were issued: the statement, in the form in which it is signed, and the
short code by which it is found here. `workbook` is one of the person's. An erasure empties
`statement` and `code`: what stays is that a certificate with this serial number was issued."""

ended = _entries(
    "ended",
    Column("serial", String(40), nullable=False),
    Column("successor", String(40), nullable=False),
    Column("reason", Text, nullable=False),
    Column("by", Text, nullable=False),
    Column("since", String(20), nullable=False),
    UniqueConstraint("serial"),
)
"""The certificates that hold no more: replaced by a `successor`, or (where that is empty)
withdrawn."""

links = _entries(
    "links",
    Column("of_table", String(40), nullable=False),
    Column("entry", Integer, nullable=False),
    Column("commitment", String(64), nullable=False),
    Column("salt", String(32), nullable=False),
    Column("found", Boolean, nullable=False),
    Column("link", String(64), nullable=False),
)
"""The chain over all entries (see `records.chain`): a link for each, and one for what an erasure
made of it; an empty `commitment` says that it took the entry out. An erasure empties the `salt` of
what it changes: what is left tells nothing. `found`: the entry was there, and no labkit that knows
the chain had written it."""

erasing = Table("erasing", META, Column("what", String(64), primary_key=True))
"""The workbooks, digests and salts that may be changed: filled and emptied inside one erasure."""

PERSONAL: Final = (
    people,
    renamed,
    receipts,
    journals,
    marks,
    counting,
    grounds,
    manual,
    exported,
    together,
    in_room,
    certificates,
)
"""The tables whose entries belong to somebody."""
ERASABLE: Final = (*PERSONAL, links)
"""The tables that an erasure may change."""
DECIDING: Final = (voids, editions, manual, counting, together, renamed, erasures)
"""The tables whose entries decide which marks by calculation hold, and what stands over them."""
CHAINED: Final = tuple(table for table in META.sorted_tables if table not in (links, erasing))
"""The tables whose entries stand in the chain."""

Index("links_of_entry", links.c.of_table, links.c.entry)
Index("receipts_of_workbook", receipts.c.workbook)
Index("counting_of_workbook", counting.c.workbook)
Index("grounds_of_workbook", grounds.c.workbook)
Index("marks_of_workbook", marks.c.workbook)
Index("manual_of_workbook", manual.c.workbook, manual.c.exercise)
Index("together_of_workbook", together.c.workbook)
Index("exported_of_workbook", exported.c.workbook)
Index("certificates_of_workbook", certificates.c.workbook)
