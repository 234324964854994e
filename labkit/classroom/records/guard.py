"""What keeps the entries as they were written: triggers in the database itself.

Whatever program opens it, UPDATE and DELETE are refused, and so are an INSERT that would replace an
entry (SQLite) and TRUNCATE (PostgreSQL). The one way round is an erasure (`personal`), which names
in the table `erasing` what it is about to change and empties that table before it ends.

Who owns the file or the database can take triggers out; the next run puts them back.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from sqlalchemy import Table, UniqueConstraint

from labkit.classroom.records.schema import META, PERSONAL, erasing

REFUSAL = "the records are append-only: add a correction instead"


def triggers(dialect: str) -> Iterator[str]:
    """The statements that make the triggers, for a `dialect` as SQLAlchemy names it."""
    if dialect == "postgresql":
        yield _REFUSE
    of = _in_postgresql if dialect == "postgresql" else _in_sqlite
    for table in META.sorted_tables:
        if table is not erasing:
            yield from of(table)


_REFUSE: Final = f"""\
CREATE OR REPLACE FUNCTION labkit_refuse() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    RAISE EXCEPTION '{REFUSAL}' USING ERRCODE = 'restrict_violation';
END
$$"""


def _in_postgresql(table: Table) -> Iterator[str]:
    """PostgreSQL's WHEN cannot look into another table: what may be erased has a function."""
    refuse = "labkit_refuse"
    if table in PERSONAL:
        refuse = f"labkit_erasable_{table.name}"
        yield (
            f"CREATE OR REPLACE FUNCTION {refuse}() RETURNS trigger LANGUAGE plpgsql AS $$\n"
            "BEGIN\n"
            f"    IF EXISTS (SELECT 1 FROM erasing WHERE what IN ({_owned(table)})) THEN\n"
            "        IF TG_OP = 'DELETE' THEN RETURN OLD; END IF;\n"
            "        RETURN NEW;\n"
            "    END IF;\n"
            f"    RAISE EXCEPTION '{REFUSAL}' USING ERRCODE = 'restrict_violation';\n"
            "END\n"
            "$$"
        )
    yield (
        f"CREATE OR REPLACE TRIGGER keep_{table.name} BEFORE UPDATE OR DELETE ON {table.name} "
        f"FOR EACH ROW EXECUTE FUNCTION {refuse}()"
    )
    yield (
        f"CREATE OR REPLACE TRIGGER keep_{table.name}_whole BEFORE TRUNCATE ON {table.name} "
        "FOR EACH STATEMENT EXECUTE FUNCTION labkit_refuse()"
    )


def _in_sqlite(table: Table) -> Iterator[str]:
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
    return f"WHEN NOT EXISTS (SELECT 1 FROM erasing WHERE what IN ({_owned(table)}))"


def _owned(table: Table) -> str:
    """The columns by which an erasure names an entry."""
    return ", ".join(f"OLD.{name}" for name in ("workbook", "digest") if name in table.c)


def _keys(table: Table) -> Iterator[list[str]]:
    yield ["id"]
    for constraint in table.constraints:
        if isinstance(constraint, UniqueConstraint):
            yield [column.name for column in constraint.columns]


def _same(columns: list[str]) -> str:
    return "(" + " AND ".join(f"{name} = NEW.{name}" for name in columns) + ")"
