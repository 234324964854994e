"""Which hand-in of each workbook counts is decided, and written down where that is news."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from hashlib import sha256
from itertools import chain
from typing import Any, Final

from sqlalchemy import Connection, Select, Table, select

from labkit.classroom.class_file import ClassFields
from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.dealing.editions import editions_now
from labkit.classroom.dealt import Deal, Dealt
from labkit.classroom.handins.choosing import Notice, Policy, Receipt, attempts_before, choose
from labkit.classroom.handins.examiner import Examiner
from labkit.classroom.handins.pairs import note_pairs
from labkit.classroom.records.schema import (
    counting,
    editions,
    grounds,
    in_room,
    journals,
    people,
    receipts,
)
from labkit.classroom.records.store import Records
from labkit.exchange.clock import CLOCK

_AT_ONCE: Final = 200
"""Trainees whose workbooks of a lab are decided on in one transaction."""


def prepared(folder: ClassFolder, records: Records) -> Examiner:
    """The class's examiner by the editions that hold now; people and labs are in the records."""
    first = Examiner.of(folder, editions_now(records))
    _know(records, first.deal)
    _adopt(records, first.deal, folder.fields)
    note_pairs(folder, records, first.deal)
    return first


@dataclass(frozen=True, slots=True)
class _Case:
    """What decides which hand-in of a workbook counts.

    `attempts` were made with the workbooks before it; `received` is the SHA-256 over the digests of
    all that came in of it and of them.
    """

    item: Dealt
    policy: Policy
    receipts: Sequence[Receipt]
    attempts: int
    received: str


@dataclass(frozen=True, slots=True)
class _Decision:
    """What is decided on a case: the digest of the hand-in that counts ("" for none).

    `on` are its grounds; `news` says that they were others before.
    """

    chosen: Receipt | None
    digest: str
    on: tuple[str, str]
    news: bool
    notices: list[Notice]


def settle(records: Records, deal: Deal, rules: ClassFields) -> list[Notice]:
    """Decide for each workbook which hand-in counts, and write down where that is news.

    What was decided stays as long as nothing came in and the rules are the same.
    """
    notices = []
    for groups in deal.dealt.batches(_AT_ONCE):
        with records.writing() as connection:
            before = _counting(connection, groups)
            entries, reasons, moment = [], [], CLOCK.now()
            for case, decision in _decisions(connection, groups, rules):
                notices += decision.notices
                if not decision.news:
                    continue
                workbook, (received, in_words) = case.item.workbook, decision.on
                about = {"workbook": workbook, "decided_at": moment}
                reasons.append({**about, "received": received, "rules": in_words})
                if decision.digest != before.get(workbook, ""):
                    reason = _reason(decision.chosen, case.policy)
                    entries.append({**about, "digest": decision.digest, "reason": reason})
            records.add(counting, entries, connection)
            records.add(grounds, reasons, connection)
    return notices


@dataclass(frozen=True, slots=True)
class Stand:
    """How it stands with the hand-ins of one workbook: those that came in, each once, the one that
    counts, and what the instructor should know of them."""

    item: Dealt
    received: Sequence[Receipt]
    counts: Receipt | None
    notices: Sequence[Notice]


def stands(records: Records, deal: Deal, rules: ClassFields) -> Iterator[Stand]:
    """How it stands with every workbook, in the order of the deal; nothing is written down.

    What came in since the last `settle` is decided on as that would.
    """
    for groups in deal.dealt.batches(_AT_ONCE):
        with records.reading() as connection:
            decided = list(_decisions(connection, groups, rules))
        for case, decision in decided:
            each = {receipt.content: receipt for receipt in reversed(case.receipts)}
            counts = next((one for one in case.receipts if one.digest == decision.digest), None)
            yield Stand(case.item, list(each.values()), counts, decision.notices)


def notices_on(records: Records, deal: Deal, rules: ClassFields, trainee: str) -> list[Notice]:
    """What the instructor should know of one trainee's hand-ins, as it was last decided."""
    groups = deal.dealt.together_of(trainee)
    with records.reading() as connection:
        decisions = _decisions(connection, groups, rules)
        return [notice for _, decision in decisions for notice in decision.notices]


def _decisions(
    connection: Connection, groups: Sequence[Sequence[Dealt]], rules: ClassFields
) -> Iterator[tuple[_Case, _Decision]]:
    received = received_of(connection, _all(groups))
    before, on_what = _counting(connection, groups), _grounds(connection, groups)
    for case in _cases(groups, received, rules):
        workbook, on = case.item.workbook, (case.received, case.policy.in_words)
        standing = before.get(workbook, "")
        same = on_what.get(workbook) == on
        chosen, notices = choose(
            case.receipts,
            case.policy,
            case.attempts,
            dealt_at=case.item.dealt_at,
            kept=standing if same else None,
        )
        named = [replace(notice, workbook=workbook) for notice in notices]
        digest = standing if same else _digest(case, chosen, standing)
        news = not same and bool(case.receipts or standing)
        yield case, _Decision(chosen, digest, on, news, named)


def _digest(case: _Case, chosen: Receipt | None, standing: str) -> str:
    """The digest of the chosen hand-in: of several files that are the same, the one decided on."""
    if chosen is None:
        return ""
    same = {one.digest for one in case.receipts if one.content == chosen.content}
    return standing if standing in same else chosen.digest


def _adopt(records: Records, deal: Deal, rules: ClassFields) -> None:
    """Give the decisions of version 0.1 their grounds, so that they stay as any other.

    Version 0.1 kept none and went by the claims alone. This comes before anything is received. What
    the rules of class.yaml would not let it decide now is settled anew.
    """
    if not records.rows(_without_grounds()):
        return
    for groups in deal.dealt.batches(_AT_ONCE):
        with records.writing() as connection:
            before, known = _counting(connection, groups), _grounds(connection, groups)
            received = {
                workbook: [replace(receipt, journal=None) for receipt in receipts_]
                for workbook, receipts_ in received_of(connection, _all(groups)).items()
            }
            rows = []
            for case in _cases(groups, received, rules):
                workbook = case.item.workbook
                if workbook in known or not case.receipts:
                    continue
                claimed = replace(case.policy, by_receipt=False)
                chosen, _ = choose(case.receipts, claimed, case.attempts)
                standing = before.get(workbook, "")
                if _digest(case, chosen, standing) == standing:
                    about = {"workbook": workbook, "decided_at": CLOCK.now()}
                    kept = {"received": case.received, "rules": claimed.in_words}
                    rows.append({**about, **kept})
            records.add(grounds, rows, connection)


def _reason(chosen: Receipt | None, policy: Policy) -> str:
    if chosen is None:
        return "No hand-in counts by the rules of class.yaml any more."
    late = (
        ", late" if policy.late(chosen.made_at, chosen.received_at, in_room=chosen.in_room) else ""
    )
    made = f"made {chosen.made_at} by its laptop's clock"
    when = f"received {chosen.received_at}, {made}" if policy.by_receipt else made
    return f"The last hand-in that the rules of class.yaml let count ({when}{late})."


def _cases(
    groups: Sequence[Sequence[Dealt]], received: Mapping[str, list[Receipt]], rules: ClassFields
) -> Iterator[_Case]:
    """A case for each workbook; those of one trainee and lab follow one another."""
    for items in groups:
        policy = Policy.of(rules, items[0].lab)
        each = [received.get(item.workbook, []) for item in items]
        so_far: set[str] = set()
        for item, receipts_, attempts in zip(items, each, attempts_before(each), strict=True):
            so_far |= {receipt.digest for receipt in receipts_}
            together = sha256("\n".join(sorted(so_far)).encode()).hexdigest()
            yield _Case(item, policy, receipts_, attempts, together)


def _all(groups: Sequence[Sequence[Dealt]]) -> list[Dealt]:
    return list(chain.from_iterable(groups))


def received_of(connection: Connection, items: Sequence[Dealt]) -> dict[str, list[Receipt]]:
    """The whole hand-ins that were received of some workbooks, by workbook."""
    noted = [column for column in journals.c if column.name not in receipts.c]
    query = (
        select(receipts, *noted, in_room.c.id.is_not(None).label("in_room"))
        .outerjoin(journals, journals.c.digest == receipts.c.digest)
        .outerjoin(in_room, in_room.c.digest == receipts.c.digest)
        .where(
            receipts.c.workbook.in_([item.workbook for item in items]),
            receipts.c.outcome == "whole",
        )
    )
    found: dict[str, list[Receipt]] = {}
    for row in connection.execute(query.order_by(receipts.c.id)).mappings():
        found.setdefault(row["workbook"], []).append(Receipt.of(dict(row)))
    return found


def _counting(connection: Connection, groups: Sequence[Sequence[Dealt]]) -> dict[str, str]:
    rows = connection.execute(_of_workbooks(counting, groups)).mappings()
    return {row["workbook"]: row["digest"] for row in rows}


def _grounds(
    connection: Connection, groups: Sequence[Sequence[Dealt]]
) -> dict[str, tuple[str, str]]:
    rows = connection.execute(_of_workbooks(grounds, groups)).mappings()
    return {row["workbook"]: (row["received"], row["rules"]) for row in rows}


def _of_workbooks(table: Table, groups: Sequence[Sequence[Dealt]]) -> Select[Any]:
    """The entries of some workbooks; the last word on each comes last."""
    workbooks = [item.workbook for item in _all(groups)]
    return select(table).where(table.c.workbook.in_(workbooks)).order_by(table.c.id)


def _without_grounds() -> Select[Any]:
    decided = select(grounds.c.workbook)
    whole = select(receipts.c.id).where(receipts.c.outcome == "whole")
    return whole.where(receipts.c.workbook.not_in(decided)).limit(1)


def _know(records: Records, deal: Deal) -> None:
    """Let the records know everybody who was dealt something, and the labs as dealt."""
    for groups in deal.dealt.batches(_AT_ONCE):
        items = list(chain.from_iterable(groups))
        # A transaction a batch: another run waits for none for long.
        with records.writing() as connection:
            named = select(people.c.workbook).where(
                people.c.workbook.in_([item.workbook for item in items])
            )
            known = set(connection.execute(named).scalars())
            rows = [
                {
                    "workbook": item.workbook,
                    "lab": item.lab,
                    "trainee": item.trainee,
                    "name": item.name,
                }
                for item in items
                if item.workbook not in known
            ]
            records.add(people, rows, connection)
    with records.writing() as connection:
        # Looked up inside the transaction: another run may be beginning as well.
        labs = set(connection.execute(select(editions.c.lab)).scalars())
        first = [
            {
                "lab": name,
                "lab_digest": lab["digest"],
                "reason": "As dealt.",
                "by": "labkit",
                "since": CLOCK.now(),
            }
            for name, lab in deal.labs.items()
            if name not in labs
        ]
        records.add(editions, first, connection)
