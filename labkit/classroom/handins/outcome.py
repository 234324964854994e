"""A file to look at, and what became of it."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Any, Self

from labkit.classroom.handins.clocks import JournalFacts
from labkit.classroom.handins.receiving import Examined, HandIn

Row = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Task:
    """One file to look at: its name and its bytes; `marked` by the edition that holds now."""

    file: str
    data: bytes
    marked: bool = False


@dataclass(frozen=True, slots=True)
class Done:
    """What became of a file: a row for the receipts, rows for the marks, and one for the journal
    where it is whole."""

    receipt: Row
    marks: list[Row]
    journal: Row | None

    @classmethod
    def of(cls, examined: Examined, marks: list[Row]) -> Self:
        """What became of a file that was examined and marked."""
        return cls(receipt_row(examined), marks, journal_row(examined))


def receipt_row(examined: Examined) -> Row:
    """What the records hold of a file (see `records.schema.receipts`), but for when it came."""
    hand_in: HandIn | None = examined.hand_in
    return {
        "digest": examined.digest,
        "file": examined.file,
        "workbook": hand_in.dealt.workbook if hand_in else None,
        "outcome": examined.outcome,
        "sentence": examined.sentence,
        "made_at": hand_in.made_at if hand_in else "",
        "entries": len(hand_in.journal) if hand_in else 0,
        "unreadable": examined.unreadable,
        "answers": examined.answers,
    }


def journal_row(examined: Examined) -> Row | None:
    """What the records hold of a file's journal (see `records.schema.journals`)."""
    hand_in = examined.hand_in
    if hand_in is None:
        return None
    facts = asdict(JournalFacts.of(hand_in.journal))
    return {"digest": examined.digest, "workbook": hand_in.dealt.workbook, **facts}
