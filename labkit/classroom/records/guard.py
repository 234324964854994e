"""What keeps the entries as they were written: triggers in the database itself.

Whatever program opens it, UPDATE and DELETE are refused, and so are an INSERT that would replace an
entry (SQLite) and TRUNCATE (PostgreSQL). The one way round is an erasure (`personal`), which names
in the table `erasing` what it is about to change and empties that table before it ends.

Who owns the file or the database can take triggers out or change them; the next run puts them
back, and `labkit records CLASS --verify` tells.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Final

from sqlalchemy import Connection, Table, UniqueConstraint, text

from labkit.classroom.records.schema import ERASABLE, META, erasing

REFUSAL = "the records are append-only: add a correction instead"


def put_up(connection: Connection) -> None:
    """Make every trigger as it should be."""
    there = as_in_database(connection) if connection.dialect.name == "sqlite" else {}
    for statement in _statements(connection):
        name = _named(statement)
        # SQLite has no way to replace one.
        if name in there and there[name] != statement:
            connection.exec_driver_sql(f"DROP TRIGGER {name}")
        if there.get(name) != statement:
            connection.exec_driver_sql(statement)


def own_names(connection: Connection) -> set[str]:
    """What labkit's triggers and their functions are called."""
    return {_named(statement) for statement in _statements(connection)}


def _statements(connection: Connection) -> Iterator[str]:
    postgresql = connection.dialect.name == "postgresql"
    if postgresql:
        yield _REFUSE
    of = _in_postgresql if postgresql else _in_sqlite
    for table in META.sorted_tables:
        if table is not erasing:
            yield from of(table)


def _named(statement: str) -> str:
    found = re.search(r"(?:TRIGGER|FUNCTION) (\w+)", statement)
    return found[1] if found else ""


_REFUSE: Final = f"""\
CREATE OR REPLACE FUNCTION labkit_refuse() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    RAISE EXCEPTION '{REFUSAL}' USING ERRCODE = 'restrict_violation';
END
$$"""


def _in_postgresql(table: Table) -> Iterator[str]:
    """PostgreSQL's WHEN cannot look into another table: what may be erased has a function."""
    refuse = "labkit_refuse"
    if table in ERASABLE:
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
            f"CREATE TRIGGER keep_{table.name}_{change.lower()} "
            f"BEFORE {change} ON {table.name} {allowed} "
            f"BEGIN SELECT RAISE(ABORT, '{REFUSAL}'); END"
        )
    # INSERT OR REPLACE deletes without asking the trigger above.
    same = " OR ".join(_same(columns) for columns in _keys(table))
    yield (
        f"CREATE TRIGGER keep_{table.name}_insert BEFORE INSERT ON {table.name} "
        f"WHEN EXISTS (SELECT 1 FROM {table.name} WHERE {same}) "
        "BEGIN SELECT RAISE(IGNORE); END"
    )


def _erasable(table: Table) -> str:
    if table not in ERASABLE:
        return ""
    return f"WHEN NOT EXISTS (SELECT 1 FROM erasing WHERE what IN ({_owned(table)}))"


def _owned(table: Table) -> str:
    """The columns by which an erasure names an entry."""
    names = ("workbook", "host", "digest", "salt")
    return ", ".join(f"OLD.{name}" for name in names if name in table.c)


def _keys(table: Table) -> Iterator[list[str]]:
    yield ["id"]
    for constraint in table.constraints:
        if isinstance(constraint, UniqueConstraint):
            yield [column.name for column in constraint.columns]


def _same(columns: list[str]) -> str:
    return "(" + " AND ".join(f"{name} = NEW.{name}" for name in columns) + ")"


def as_in_database(connection: Connection) -> dict[str, str]:
    """The triggers, their functions and views that a database holds, by name, as it tells them."""
    on_server = connection.dialect.name == "postgresql"
    query = _TOLD_BY_POSTGRESQL if on_server else _TOLD_BY_SQLITE
    return {str(name): str(told) for name, told in connection.execute(text(query))}


_TOLD_BY_SQLITE: Final = "SELECT name, sql FROM sqlite_master WHERE type IN ('trigger', 'view')"
_TOLD_BY_POSTGRESQL: Final = """\
SELECT tgname, pg_get_triggerdef(oid) || ' ' || tgenabled::text FROM pg_trigger
WHERE NOT tgisinternal AND tgrelid IN
    (SELECT oid FROM pg_class WHERE relnamespace = current_schema()::regnamespace)
UNION ALL
SELECT proname, prosrc FROM pg_proc WHERE pronamespace = current_schema()::regnamespace
UNION ALL
SELECT viewname, definition FROM pg_views WHERE schemaname = current_schema()"""
