"""What the records hold, in a few sentences."""

from __future__ import annotations

from collections.abc import Iterator

from sqlalchemy import func, select

from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.records.acts import last_acts
from labkit.classroom.records.schema import erasures, manual, marks, people, receipts, voids
from labkit.classroom.records.store import Records


def counts(folder: ClassFolder) -> Iterator[str]:
    """A sentence on what there is of everything."""
    records = Records.of(folder)

    def amount(table: object) -> int:
        return int(records.rows(select(func.count().label("n")).select_from(table))[0]["n"])  # type: ignore[arg-type]

    query = select(receipts.c.outcome, func.count().label("n")).group_by(receipts.c.outcome)
    outcomes = {row["outcome"]: row["n"] for row in records.rows(query)}
    told = ", ".join(f"{number} {outcome}" for outcome, number in sorted(outcomes.items()))
    yield f"{records.shown}: {amount(people)} workbooks dealt."
    yield f"Files received: {told or 'none'}."
    yield (
        f"Entries: {amount(marks)} marks, {amount(manual)} by hand, {amount(voids)} on voided "
        f"exercises, {amount(erasures)} erasures."
    )
    yield from last_acts(folder, records)
    until = folder.fields.keep_until
    yield f"To be kept until {until}." if until else "'keep_until' in class.yaml is not set."
