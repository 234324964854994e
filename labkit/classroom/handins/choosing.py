"""Which hand-in of a workbook counts, when several came in: the rules of `class.yaml`.

Of one workbook the last hand-in counts: it holds all answers of the ones before. Which is the last
one, their journals say: one that goes on from another is later, whatever the clocks say. A retake
is a workbook of its own; which of a trainee's workbooks counts is decided by `marks.results`.
"""

from __future__ import annotations

import heapq
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, fields
from typing import Any, Final, Literal

from labkit.classroom.class_file import ClassFields
from labkit.classroom.handins.clocks import (
    JournalFacts,
    remark_on_pace,
    remarks_on_journal,
    remarks_on_making,
)

Reason = Literal[
    "damaged",
    "foreign",
    "tampered",
    "late",
    "received after the deadline",
    "clock",
    "answers at once",
    "two journals",
    "older copy",
    "decided before",
    "same file twice",
    "journal damaged",
    "too many attempts",
    "not read",
]

OF_TIMES: Final = ("received after the deadline", "clock", "answers at once", "two journals")
"""The reasons that speak of times and journals: to be looked at, they cost nobody a mark."""


@dataclass(frozen=True, slots=True)
class Notice:
    """Something about one file or folder that the instructor should know.

    `workbook` is the one that the file is a hand-in of, where that is known.
    """

    file: str
    reason: Reason
    sentence: str
    workbook: str = ""


@dataclass(frozen=True, slots=True)
class Receipt:
    """One file that came in, as the records hold it (see `records.schema.receipts`).

    `journal` is what is kept of its journal; None where version 0.1 received it and it is gone.
    `in_room` says that it came in through the room, which takes nothing too late.
    """

    digest: str
    file: str
    workbook: str | None
    outcome: str
    sentence: str
    made_at: str
    received_at: str
    entries: int
    unreadable: int
    answers: str
    journal: JournalFacts | None = None
    in_room: bool = False

    @classmethod
    def of(cls, row: Mapping[str, Any]) -> Receipt:
        """The receipt in a row of the records, with its journal's columns beside it."""
        own = {field.name: row[field.name] for field in fields(cls) if field.name != "journal"}
        noted = {field.name: row[field.name] for field in fields(JournalFacts)}
        return cls(**own, journal=JournalFacts(**noted) if noted["chain"] is not None else None)

    @property
    def whole(self) -> bool:
        """Whether it can be marked."""
        return self.outcome == "whole"

    @property
    def content(self) -> tuple[str, int, str, str]:
        """What two files have in common that are the same hand-in; they sort by their claims."""
        last_link = self.journal.last_link if self.journal else ""
        return self.made_at, self.entries, self.answers, last_link

    def continues(self, other: Receipt) -> bool:
        """Whether its journal goes on from that of the other, as far as both are known."""
        if self.journal is None or other.journal is None:
            return False
        return self.journal.continues(other.journal)

    def parts_from(self, other: Receipt) -> bool:
        """Whether neither journal goes on from the other, as far as both are known."""
        if self.journal is None or other.journal is None:
            return False
        same = self.journal.chain == other.journal.chain
        return not (same or self.continues(other) or other.continues(self))


@dataclass(frozen=True, slots=True)
class Policy:
    """By which rules a hand-in of a lab counts. `attempts` may be made; None: any number.

    `best`: of several workbooks (retakes) the best counts, not the last. `by_receipt`: when a
    hand-in came in decides whether it is late, not when it says that it was made.
    """

    deadline: str | None
    refuse_late: bool
    attempts: int | None
    spoken: Callable[[str], str]
    best: bool = False
    by_receipt: bool = False

    @classmethod
    def of(cls, rules: ClassFields, lab: str) -> Policy:
        """The rules of a class for one of its labs."""
        return cls(
            rules.deadline_of(lab),
            rules.late == "refuse",
            rules.attempts,
            rules.spoken,
            best=rules.attempts_count == "best",
            by_receipt=rules.deadline_by == "received",
        )

    def late(self, made_at: str, received_at: str, *, in_room: bool = False) -> bool:
        """Whether a hand-in is late that says it was made then, and came in then.

        None is that came in through the room: what it took, it took in time.
        """
        decides = received_at if self.by_receipt else made_at
        return self.deadline is not None and decides > self.deadline and not in_room

    @property
    def in_words(self) -> str:
        """The rules that decide which hand-in counts, the same words for the same rules."""
        attempts = "any number of" if self.attempts is None else str(self.attempts)
        if self.deadline is None or not self.refuse_late:
            return f"{attempts} attempts"
        by = "received" if self.by_receipt else "claimed"
        return f"{attempts} attempts; none after {self.deadline} as {by}"


def attempts_before(workbooks: Iterable[Iterable[Receipt]]) -> list[int]:
    """How many attempts were made with the workbooks before each, in the order of their dealing.

    An attempt is a hand-in whose answers are not those of the hand-in before it.
    """
    before, made = [], 0
    for receipts in workbooks:
        before.append(made)
        different, _ = _without_doubles(receipts)
        answers = None
        for receipt in different:
            made += receipt.answers != answers
            answers = receipt.answers
    return before


def choose(
    receipts: Sequence[Receipt],
    policy: Policy,
    before: int = 0,
    *,
    dealt_at: str | None = None,
    kept: str | None = None,
) -> tuple[Receipt | None, list[Notice]]:
    """The hand-in of one workbook that counts, and what to tell the instructor of the others.

    `before` attempts were made with other workbooks of the same trainee and lab. `kept` is the
    digest of the hand-in that was decided on before and stays, "" where none was.

    The last one counts: in time where late ones are refused, within the allowed attempts. Neither
    the order in which files came in nor their names decide.
    """
    different, notices = _without_doubles(receipts)
    stays = next((receipt for receipt in receipts if receipt.digest == kept), None)
    allowed: list[Receipt] = []
    attempt, answers = before, None
    for receipt in different:
        attempt += receipt.answers != answers
        answers = receipt.answers
        notices += _remarks(receipt, policy, dealt_at)
        if policy.refuse_late and policy.late(
            receipt.made_at, receipt.received_at, in_room=receipt.in_room
        ):
            continue
        if policy.attempts is not None and attempt > policy.attempts:
            if stays is None or stays.content != receipt.content:
                notices.append(_too_many(receipt, attempt, policy.attempts))
            continue
        allowed.append(receipt)
    notices += _remarks_on_journals(different, policy, dealt_at)
    counted = stays if kept is not None else (allowed[-1] if allowed else None)
    if counted:
        notices += _remarks_on_receipt(counted, policy)
        notices += _why_not(allowed, counted)
    return counted, notices


def _without_doubles(receipts: Iterable[Receipt]) -> tuple[list[Receipt], list[Notice]]:
    """The hand-ins in their order, each once, as it first came in; a notice for each copy."""
    first: dict[tuple[str, int, str, str], Receipt] = {}
    notices = []
    by_arrival = sorted(receipts, key=lambda item: (item.received_at, item.digest, item.file))
    for receipt in by_arrival:
        known = first.setdefault(receipt.content, receipt)
        if known is not receipt:
            sentence = f"It is the same hand-in as {known.file}; one counts."
            notices.append(Notice(receipt.file, "same file twice", sentence))
    return _in_order([first[content] for content in sorted(first)]), notices


def _in_order(hand_ins: Sequence[Receipt]) -> list[Receipt]:
    """Hand-ins, sorted by their claims, so that each comes after all that it goes on from.

    Where the journals leave it open, the one that claims to be the earlier comes first.
    """
    following: dict[int | None, list[int]] = {}
    for place, hand_in in enumerate(hand_ins):
        earlier = (other for other, one in enumerate(hand_ins) if hand_in.continues(one))
        last = max(earlier, key=lambda other: (hand_ins[other].entries, other), default=None)
        following.setdefault(last, []).append(place)
    ordered, ready = [], following.get(None, [])
    while ready:
        place = heapq.heappop(ready)
        ordered.append(hand_ins[place])
        for after in following.get(place, ()):
            heapq.heappush(ready, after)
    return ordered


def _remarks(receipt: Receipt, policy: Policy, dealt_at: str | None) -> Iterator[Notice]:
    """What one hand-in's own times and losses tell."""
    spoken, made_at, received_at = policy.spoken, receipt.made_at, receipt.received_at
    if receipt.unreadable:
        sentence = (
            f"{receipt.unreadable} line(s) of the answer journal could not be read at the "
            "trainee's laptop; the rest counts."
        )
        yield Notice(receipt.file, "journal damaged", sentence)
    for sentence in remarks_on_making(made_at, received_at, dealt_at, spoken):
        yield Notice(receipt.file, "clock", sentence)
    if policy.deadline is not None and policy.late(made_at, received_at, in_room=receipt.in_room):
        deadline = spoken(policy.deadline)
        when = f"Received {spoken(received_at)}" if policy.by_receipt else f"Made {spoken(made_at)}"
        what = "it does not count" if policy.refuse_late else "it counts all the same"
        yield Notice(receipt.file, "late", f"{when}, after the deadline {deadline}; {what}.")


def _remarks_on_journals(
    ordered: Sequence[Receipt], policy: Policy, dealt_at: str | None
) -> Iterator[Notice]:
    """What the journals tell that no other goes on from: of the others it is told there."""
    for receipt in ordered:
        facts = receipt.journal
        if facts is None or any(other.continues(receipt) for other in ordered):
            continue
        for sentence in remarks_on_journal(facts, receipt.made_at, dealt_at, policy.spoken):
            yield Notice(receipt.file, "clock", sentence)
        if sentence := remark_on_pace(facts):
            yield Notice(receipt.file, "answers at once", sentence)
        last = ordered[-1]
        if receipt.parts_from(last):
            sentence = (
                f"Its journal and that of {last.file} part: neither goes on from the other, as "
                "when a workbook was copied to a second laptop. By what their clocks say, "
                f"{last.file} is the later one."
            )
            yield Notice(receipt.file, "two journals", sentence)


def _remarks_on_receipt(counted: Receipt, policy: Policy) -> Iterator[Notice]:
    """What to say where the claim lets a hand-in count as in time that came in too late for it."""
    made_at, received_at, deadline = counted.made_at, counted.received_at, policy.deadline
    if deadline is None or policy.late(made_at, received_at) or received_at <= deadline:
        return
    if counted.in_room:
        return
    made, due, received = map(policy.spoken, (made_at, deadline, received_at))
    sentence = (
        f"By its laptop's clock it was made {made}, before the deadline {due}; it came in "
        f"{received}, after it. It counts as in time: 'deadline_by: received' in class.yaml would "
        "let the receipt decide."
    )
    yield Notice(counted.file, "received after the deadline", sentence)


def _why_not(allowed: Sequence[Receipt], counted: Receipt) -> Iterator[Notice]:
    """Why those hand-ins do not count that the rules would let count."""
    after = False
    for receipt in allowed:
        if receipt.content == counted.content:
            after = True
        elif after:
            sentence = (
                f"{counted.file} counts, as an earlier version of labkit decided by the clocks; "
                "that stays until something new comes in or the rules in class.yaml change."
            )
            yield Notice(receipt.file, "decided before", sentence)
        else:
            how = "goes on from it" if counted.continues(receipt) else "was made later"
            sentence = f"{counted.file} {how}, by the same trainee; that one counts."
            yield Notice(receipt.file, "older copy", sentence)


def _too_many(receipt: Receipt, attempt: int, allowed: int) -> Notice:
    sentence = f"It is attempt {attempt}, and the class allows {allowed}; it does not count."
    return Notice(receipt.file, "too many attempts", sentence)
