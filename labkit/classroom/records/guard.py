"""What keeps the entries as they were written: triggers in the SQLite file itself.

Whatever program opens the file, UPDATE and DELETE are refused, and so is an INSERT that would
replace an entry. The one way round is an erasure (`personal`), which names in the table `erasing`
what it is about to change and empties that table before it ends.
"""

from __future__ import annotations

from collections.abc import Iterator

from sqlalchemy import Table, UniqueConstraint

from labkit.classroom.records.schema import META, PERSONAL, erasing

REFUSAL = "the records are append-only: add a correction instead"


def triggers() -> Iterator[str]:
    """The statements that make the triggers."""
    for table in META.sorted_tables:
        if table is not erasing:
            yield from _of(table)


def _of(table: Table) -> Iterator[str]:
    allowed = _erasable(table)
    for change in ("UPDATE", "DELETE"):
        yield (
            f"CREATE TRIGGER IF NOT EXISTS keep_{table.name}_{change.lower()} "
            f"BEFORE {change} ON {table.name} {allowed} "
            f"BEGIN SELECT RAISE(ABORT, '{REFUSAL}'); END"
        )
    # INSERT OR REPLACE deletes without asking the trigger above.
    same = " OR ".join(_same(columns) for columns in _keys(table))
    yield (
        f"CREATE TRIGGER IF NOT EXISTS keep_{table.name}_insert BEFORE INSERT ON {table.name} "
        f"WHEN EXISTS (SELECT 1 FROM {table.name} WHERE {same}) "
        "BEGIN SELECT RAISE(IGNORE); END"
    )


def _erasable(table: Table) -> str:
    if table not in PERSONAL:
        return ""
    owned = [f"OLD.{name}" for name in ("workbook", "digest") if name in table.c]
    return f"WHEN NOT EXISTS (SELECT 1 FROM erasing WHERE what IN ({', '.join(owned)}))"


def _keys(table: Table) -> Iterator[list[str]]:
    yield ["id"]
    for constraint in table.constraints:
        if isinstance(constraint, UniqueConstraint):
            yield [column.name for column in constraint.columns]


def _same(columns: list[str]) -> str:
    return "(" + " AND ".join(f"{name} = NEW.{name}" for name in columns) + ")"
