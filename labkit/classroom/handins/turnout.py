"""Who handed in, and who did not: of each lab, everybody's last workbook as it stands now.

It is looked for, not received: looking writes nothing.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from sqlalchemy import select

from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.dealing.deal_record import read_deal
from labkit.classroom.dealt import Dealt
from labkit.classroom.handins.choosing import Notice, Policy, Receipt
from labkit.classroom.handins.pairs import Pairs
from labkit.classroom.handins.settling import Stand, stands
from labkit.classroom.records.schema import receipts
from labkit.classroom.records.store import Records
from labkit.doors.check import SeenInPerson
from labkit.doors.installed import check_for
from labkit.exchange.formats import JOURNAL_ENDING
from labkit.lab.definition import Lab


@dataclass(frozen=True, slots=True)
class Turnout:
    """How it stands with somebody's last workbook of a lab.

    `counts` is the hand-in that counts, of so many that `came_in` (of a guest those of the
    host's); `begun` says that nothing did, but that there is work in the room; `together` names
    those who worked in it too.
    """

    item: Dealt
    came_in: int
    counts: Receipt | None
    late: bool
    begun: bool
    together: tuple[str, ...]

    @property
    def missing(self) -> bool:
        """Whether nothing came in yet."""
        return not self.came_in


@dataclass(slots=True)
class HandedIn:
    """Everybody's turnout in the order of the deal, and what is to be told of files."""

    turnout: list[Turnout] = field(default_factory=list)
    notices: list[Notice] = field(default_factory=list)
    names: Mapping[str, str] = field(default_factory=dict)
    """Whose each workbook is."""


def handed_in(folder: ClassFolder) -> HandedIn:
    """Who handed in what, by the records as they are; nobody before the class is dealt.

    Raises `ClassError`.
    """
    deal = read_deal(folder)
    records = Records.of(folder) if folder.has_records and deal.dealt else None
    found, pairs, notices = {}, Pairs({}, {}), []
    if records:
        found = {stand.item.workbook: stand for stand in stands(records, deal, folder.fields)}
        notices = [*_unusable(records), *(each for one in found.values() for each in one.notices)]
        with records.reading() as connection:
            pairs = Pairs.of(connection)
    turnout = []
    for *_, item in deal.dealt.together():
        stand = found.get(pairs.works_in(item.workbook))
        together = tuple(pairs.named(item.workbook, deal.dealt).values())
        turnout.append(_turnout(folder, item, stand, together))
    names = {workbook: stand.item.name for workbook, stand in found.items()}
    return HandedIn(turnout, notices, names)


def has_sign_offs(lab: Lab) -> bool:
    """Whether something of a lab is seen at the real bench, which no hand-in holds."""
    return any(isinstance(check_for(one.kind), SeenInPerson) for one in lab.exercises)


def _turnout(
    folder: ClassFolder, item: Dealt, stand: Stand | None, together: tuple[str, ...]
) -> Turnout:
    counts = stand.counts if stand else None
    policy = Policy.of(folder.fields, item.lab)
    late = counts is not None and policy.late(
        counts.made_at, counts.received_at, in_room=counts.in_room
    )
    came_in = len(stand.received) if stand else 0
    begun = not came_in and _has_journal(folder, item)
    return Turnout(item, came_in, counts, late, begun, together)


def _has_journal(folder: ClassFolder, item: Dealt) -> bool:
    return (folder.journals / item.origin[0] / f"{item.stem}{JOURNAL_ENDING}").exists()


def _unusable(records: Records) -> list[Notice]:
    """Files of which nothing counts, as they came in; not those that were taken in later."""
    taken_in = select(receipts.c.digest).where(receipts.c.outcome == "whole")
    query = (
        select(receipts.c.file, receipts.c.outcome, receipts.c.sentence)
        .where(receipts.c.outcome != "whole", receipts.c.digest.not_in(taken_in))
        .order_by(receipts.c.id)
    )
    return [Notice(row["file"], row["outcome"], row["sentence"]) for row in records.rows(query)]
