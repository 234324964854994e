"""What was put right for everybody so far, in its order."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from sqlalchemy import select

from labkit.classroom.records.schema import editions, voids
from labkit.classroom.records.store import Records

What = Literal["taken out", "brought back", "marked anew"]


@dataclass(frozen=True, slots=True)
class Correction:
    """An entry: an exercise taken out of the marks or brought back, or a lab marked anew by another
    text or other rules (`exercise` is "" then)."""

    since: str
    what: What
    lab: str
    exercise: str
    by: str
    reason: str


def corrections(records: Records) -> list[Correction]:
    """All of them, the first one first."""
    found = [
        Correction(
            row["since"],
            "taken out" if row["voided"] else "brought back",
            row["lab"],
            row["exercise"],
            row["by"],
            row["reason"],
        )
        for row in records.rows(select(voids).order_by(voids.c.id))
    ]
    dealt: set[str] = set()
    for row in records.rows(select(editions).order_by(editions.c.id)):
        if row["lab"] in dealt:
            found.append(
                Correction(row["since"], "marked anew", row["lab"], "", row["by"], row["reason"])
            )
        dealt.add(row["lab"])
    return sorted(found, key=lambda one: one.since)
