"""Which hand-in of a workbook counts, when several came in: the rules of `class.yaml`.

Of one workbook the last hand-in counts: it holds all answers of the ones before. A retake is a
workbook of its own; which of a trainee's workbooks counts is decided by `results`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, fields
from typing import Any, Literal

from labkit.classroom.class_file import ClassFields

Reason = Literal[
    "damaged",
    "foreign",
    "tampered",
    "late",
    "older copy",
    "same file twice",
    "journal damaged",
    "too many attempts",
    "not read",
]


@dataclass(frozen=True, slots=True)
class Notice:
    """Something about one file or folder that the instructor should know."""

    file: str
    reason: Reason
    sentence: str


@dataclass(frozen=True, slots=True)
class Receipt:
    """One file that came in, as the records hold it (see `records.schema.receipts`)."""

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

    @classmethod
    def of(cls, row: Mapping[str, Any]) -> Receipt:
        """The receipt in a row of the records."""
        return cls(**{field.name: row[field.name] for field in fields(cls)})

    @property
    def whole(self) -> bool:
        """Whether it can be marked."""
        return self.outcome == "whole"


@dataclass(frozen=True, slots=True)
class Policy:
    """By which rules a hand-in counts. `attempts` is how many may be made; None: any number.

    `best`: of several workbooks (retakes) the best counts, not the last.
    """

    deadline: str | None
    refuse_late: bool
    attempts: int | None
    spoken: Callable[[str], str]
    best: bool = False

    @classmethod
    def of(cls, rules: ClassFields) -> Policy:
        """The rules of a class."""
        best = rules.attempts_count == "best"
        return cls(rules.deadline, rules.late == "refuse", rules.attempts, rules.spoken, best)

    def late(self, made_at: str) -> bool:
        """Whether a hand-in made then is late."""
        return self.deadline is not None and made_at > self.deadline


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
    receipts: Iterable[Receipt], policy: Policy, before: int = 0
) -> tuple[Receipt | None, list[Notice]]:
    """The hand-in of one workbook that counts, and what to tell the instructor of the others.

    `before` attempts were made with other workbooks of the same trainee and lab.

    The last one made counts: in time where late ones are refused, within the allowed attempts.
    Neither the order in which files came in nor their names decide.
    """
    different, notices = _without_doubles(receipts)
    counted: Receipt | None = None
    older: list[Receipt] = []
    attempt, answers = before, None
    for receipt in different:
        attempt += receipt.answers != answers
        answers = receipt.answers
        notices += _remarks(receipt, policy)
        if policy.refuse_late and policy.late(receipt.made_at):
            continue
        if policy.attempts is not None and attempt > policy.attempts:
            notices.append(_too_many(receipt, attempt, policy.attempts))
            continue
        if counted:
            older.append(counted)
        counted = receipt
    if counted:
        sentence = f"{counted.file} was made later by the same trainee; that one counts."
        notices += [Notice(receipt.file, "older copy", sentence) for receipt in older]
    return counted, notices


def _without_doubles(receipts: Iterable[Receipt]) -> tuple[list[Receipt], list[Notice]]:
    """The hand-ins in the order of their making, each once, and a notice for each copy."""
    first: dict[tuple[str, int, str], Receipt] = {}
    notices = []
    for receipt in sorted(receipts, key=lambda item: (item.file, item.digest)):
        key = (receipt.made_at, receipt.entries, receipt.answers)
        if key in first:
            sentence = f"It is the same hand-in as {first[key].file}; one counts."
            notices.append(Notice(receipt.file, "same file twice", sentence))
        first.setdefault(key, receipt)
    return [first[key] for key in sorted(first)], notices


def _remarks(receipt: Receipt, policy: Policy) -> list[Notice]:
    notices = []
    if receipt.unreadable:
        sentence = (
            f"{receipt.unreadable} line(s) of the answer journal could not be read at the "
            "trainee's laptop; the rest counts."
        )
        notices.append(Notice(receipt.file, "journal damaged", sentence))
    if policy.deadline is not None and policy.late(receipt.made_at):
        sentence = (
            f"Made {policy.spoken(receipt.made_at)}, after the deadline "
            f"{policy.spoken(policy.deadline)}; "
            f"{'it does not count' if policy.refuse_late else 'it counts all the same'}."
        )
        notices.append(Notice(receipt.file, "late", sentence))
    return notices


def _too_many(receipt: Receipt, attempt: int, allowed: int) -> Notice:
    sentence = f"It is attempt {attempt}, and the class allows {allowed}; it does not count."
    return Notice(receipt.file, "too many attempts", sentence)
