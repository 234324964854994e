"""Opening the records and adding to them."""

from __future__ import annotations

import sqlite3
import time
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from functools import cache
from pathlib import Path
from typing import Any, Final

from sqlalchemy import Connection, Dialect, Engine, Select, Table, create_engine, event, select
from sqlalchemy.dialects import postgresql, sqlite
from sqlalchemy.engine import URL, make_url
from sqlalchemy.exc import (
    ArgumentError,
    DBAPIError,
    NoSuchModuleError,
    OperationalError,
    SQLAlchemyError,
)
from sqlalchemy.pool import NullPool, StaticPool
from sqlalchemy.util import LRUCache

from labkit.classroom.class_folder import RECORDS_FILE, ClassFolder
from labkit.classroom.errors import ClassError
from labkit.classroom.private_place import keep_private
from labkit.classroom.records import schema
from labkit.classroom.records.chain import Chain, key_of, last_link, spoken
from labkit.classroom.records.current import current_marks
from labkit.classroom.records.guard import put_up

WAIT_S: Final = 60
"""How long one run waits for others that write and get on with it, in s."""
PATIENCE_S: Final = 4
"""How long it waits for a lock while nothing is written, in s."""
_LOCK: Final = int.from_bytes(b"labkit")
"""The number of the lock in PostgreSQL that one run at a time holds while it writes."""
_COPIED_AT_ONCE: Final = 1_000
_INSERTS: Final[Mapping[str, Any]] = {"sqlite": sqlite.insert, "postgresql": postgresql.insert}

_PUT_TOGETHER: Final[LRUCache[Any, Any]] = LRUCache(500)
"""Statements as SQLite takes them, of all records that this process opens."""

Row = Mapping[str, Any]


class SaidMeanwhileError(ClassError):
    """Somebody said something on the same thing that whoever adds an entry does not know of."""

    def __init__(self) -> None:
        super().__init__("Somebody else said something on this meanwhile: look at it first.")


class Records:
    """The records of one class. Entries are added, never changed."""

    def __init__(self, engine: Engine, shown: str, chain: Chain | None = None) -> None:
        self.engine = engine
        self.shown = shown
        self.chain = chain

    @classmethod
    def of(cls, folder: ClassFolder) -> Records:
        """The records of a class, made where there are none. Raises `ClassError`."""
        chain = None
        # Before a class is dealt it has no secret; without it entries are kept all the same.
        with suppress(ClassError):
            chain = Chain(key_of(folder.secret()))
        return cls.open(folder.path, folder.fields.records, class_id=folder.fields.id, chain=chain)

    @classmethod
    def as_they_are(cls, folder: ClassFolder) -> Records:
        """The records of a class to look at only: nothing is made or put right in them.

        Raises `ClassError`.
        """
        engine, shown = cls._reached(folder.path, folder.fields.records)
        return cls(engine, shown)

    @classmethod
    def open(
        cls, folder: Path, url: str | None = None, *, class_id: str, chain: Chain | None = None
    ) -> Records:
        """The records in the class folder, or at a database's `url`; made where there are none.

        Raises `ClassError` when they are damaged, of another class, or cannot be reached.
        """
        if url is None:
            # The files that SQLite puts beside it have the same mode.
            keep_private(folder / RECORDS_FILE)
        records = cls(*cls._reached(folder, url), chain)
        records._prepare(class_id)
        return records

    @classmethod
    def _reached(cls, folder: Path, url: str | None) -> tuple[Engine, str]:
        """The engine of the records in the class folder, or at `url`, and how they are called."""
        if url is None:
            file = folder / RECORDS_FILE
            return _engine(URL.create("sqlite", database=str(file)), str(file)), str(file)
        try:
            parsed = make_url(url)
        except ArgumentError:
            parsed = None
        if parsed is None or parsed.get_backend_name() not in _INSERTS:
            raise ClassError(
                "The address of the records in class.yaml ('records:') is not one that labkit "
                "knows. Leave the line out, or write sqlite:///file or postgresql://server/name."
            )
        if parsed.get_backend_name() == "sqlite" and parsed.database:
            file = folder / parsed.database
            if not file.exists():
                keep_private(file)
            parsed = parsed.set(database=str(file))
        shown = parsed.render_as_string(hide_password=True)
        if parsed.drivername == "postgresql":
            parsed = parsed.set(drivername="postgresql+psycopg")
        return _engine(parsed, shown), shown

    @property
    def file(self) -> Path | None:
        """The SQLite file that holds them; None where a server does."""
        url = self.engine.url
        at = url.database if url.get_backend_name() == "sqlite" else None
        return Path(at) if at else None

    @classmethod
    def temporary(cls, class_id: str = "") -> Records:
        """Records that are gone afterwards; where they are long they lie in a file without name."""
        shown = "the records"
        records = cls(_engine(URL.create("sqlite"), shown), shown)
        records._prepare(class_id)
        return records

    def copied(self, class_id: str) -> Records:
        """A temporary copy, to try something out on: nothing that is added there comes here."""
        copy = Records.temporary(class_id)
        self._copy_into(copy)
        return copy

    def copied_of(self, workbooks: Collection[str]) -> Records:
        """A temporary copy of what is held of some workbooks, and of what concerns everybody."""
        copy = Records.temporary()
        besides = (schema.in_room, schema.receipts, schema.marks, schema.people)
        with self.reading() as ours, copy.writing() as theirs:
            for table in (*schema.DECIDING, *besides):
                query = select(table)
                if "host" not in table.c and "workbook" in table.c:
                    query = query.where(table.c.workbook.in_(workbooks))
                rows = ours.execute(query.order_by(table.c.id)).mappings()
                copy.add(table, [dict(row) for row in rows], theirs)
        return copy

    def copied_to(self, file: Path) -> str:
        """Copy all entries, as they are at one moment, into a new SQLite file; their code."""
        url = URL.create("sqlite", database=str(file))
        copy = Records(_engine(url, str(file)), str(file))
        with copy._transaction() as connection:
            prepare(connection)
        self._copy_into(copy)
        code = copy.code()
        copy.engine.dispose()
        return code

    def _copy_into(self, copy: Records) -> None:
        with self.reading() as ours, copy.writing() as theirs:
            if self.engine.dialect.name == "postgresql":
                # All tables as they were at one moment, as SQLite has it anyway.
                ours.execution_options(isolation_level="REPEATABLE READ")
            for table in schema.META.sorted_tables:
                by_parts = {"yield_per": _COPIED_AT_ONCE}
                found = ours.execute(select(table), execution_options=by_parts)
                for rows in found.mappings().partitions():
                    copy.add(table, [dict(row) for row in rows], theirs)

    def _prepare(self, class_id: str) -> None:
        """Make what is not there, and put right what is otherwise than it should be."""
        with self._transaction() as connection:
            prepare(connection)
        self.add(
            schema.about,
            [
                {"name": "version", "value": str(schema.VERSION)},
                {"name": "class", "value": class_id},
            ],
        )
        found = {row["name"]: row["value"] for row in self.rows(select(schema.about))}
        if found["version"] != str(schema.VERSION):
            raise ClassError(f"{self.shown} was written by another version of labkit: use that.")
        if found["class"] != class_id:
            raise ClassError(
                f"{self.shown} holds the records of another class ('{found['class']}'). Bring the "
                "'id' in class.yaml back as it was, or give this class records of its own."
            )

    @contextmanager
    def writing(self) -> Iterator[Connection]:
        """One transaction: all of it is kept, or nothing. Raises `ClassError` with a sentence."""
        with self._transaction() as connection:
            if self.chain is None:
                yield connection
                return
            last = self.chain.adopt(connection)
            yield connection
            self.chain.link(connection, last)

    @contextmanager
    def taken_back(self) -> Iterator[Connection]:
        """One transaction of which nothing is kept. Raises `ClassError` with a sentence."""
        with self._transaction() as connection:
            yield connection
            connection.rollback()

    @contextmanager
    def _transaction(self) -> Iterator[Connection]:
        engine = self.engine.execution_options(labkit_writes=True)
        with self._sentences(), engine.begin() as connection:
            yield connection

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """A connection that several queries share. Raises `ClassError` with a sentence."""
        with self._sentences(), self.engine.connect() as connection:
            yield connection

    @contextmanager
    def _sentences(self) -> Iterator[None]:
        try:
            yield
        except DBAPIError as error:
            reason = str(error.orig).strip().replace("\n", " ")
            raise ClassError(
                f"The records {self.shown} cannot be used ({reason}). {self._mend(reason)}"
            ) from error
        except SQLAlchemyError as error:
            raise ClassError(f"The records {self.shown} cannot be used ({error}).") from error

    def _mend(self, reason: str) -> str:
        """What to do about what a database says is wrong."""
        if "locked" in reason or "lock timeout" in reason:
            return (
                "Another labkit is writing there, or another program holds them locked: wait until "
                "it has ended, or close it, and do the same once more."
            )
        if " is full" in reason or "No space left" in reason:
            return "Make room on the disk and do the same once more: what they hold stays."
        if self.engine.dialect.name != "sqlite":
            return "Does the server run, and may you write to this database there?"
        if "readonly" in reason or "unable to open" in reason:
            return "Let this account write to the file and its folder, and do the same once more."
        return (
            "Bring the file back from a copy. Where there is none, move it away: scoring marks the "
            "hand-ins anew, but marks by hand, corrections and who handed in when are lost with it."
        )

    def add(self, table: Table, rows: Sequence[Row], connection: Connection | None = None) -> None:
        """Add entries; one whose key is there already is left as it is."""
        if not rows:
            return
        if connection is None:
            with self.writing() as own:
                self.add(table, rows, own)
            return
        if self.engine.dialect.name == "postgresql":
            rows = [_without_nul(row) for row in rows]
        insert = _INSERTS[self.engine.dialect.name]
        connection.execute(insert(table).on_conflict_do_nothing(), list(rows))

    def add_unless_said(
        self,
        table: Table,
        entry: Row,
        *,
        of: Sequence[str],
        same: Sequence[str],
        after: int | None = None,
        provided: Callable[[Connection], None] | None = None,
    ) -> Row | None:
        """Add an entry, unless the last one `of` the same thing says the `same` already.

        Returns that earlier entry then: a command that was given twice is one entry. `after` is the
        number of the last entry that whoever adds this one has seen (0: there was none); where
        another one came since, nothing is added and `SaidMeanwhileError` is raised. `provided` is
        called before an entry is added, in the same transaction, and raises where it must not be.
        """
        alike = [table.c[name] == entry[name] for name in of]
        query = select(table).where(*alike).order_by(table.c.id.desc()).limit(1)
        # Looked up inside the transaction: another run may be adding the same.
        with self.writing() as connection:
            last = connection.execute(query).mappings().first()
            if last and all(last[name] == entry[name] for name in same):
                return dict(last)
            if after is not None and after != (last["id"] if last else 0):
                raise SaidMeanwhileError
            if provided:
                provided(connection)
            self.add(table, [entry], connection)
        return None

    def rows(self, query: Select[Any]) -> list[Row]:
        """All rows of a query."""
        with self.reading() as connection:
            return [dict(row) for row in connection.execute(query).mappings()]

    def code(self) -> str:
        """A short name for the state of the records, to be printed; "" where no chain is kept."""
        with self.reading() as connection:
            return spoken(last_link(connection))

    def compact(self) -> None:
        """Write the tables anew, so that nothing of what was erased is left in them.

        A server's own log of changes and its copies are its keeper's to see to.
        """
        with self._sentences():
            raw = self.engine.raw_connection()
            try:
                if self.engine.dialect.name == "sqlite":
                    raw.cursor().execute("VACUUM")
                    # Where somebody has switched to a log beside the file, it holds the old pages.
                    raw.cursor().execute("PRAGMA wal_checkpoint(TRUNCATE)")
                else:
                    _compact_tables(raw.driver_connection)
                    raw.invalidate()
            finally:
                raw.close()

    def latest(self, table: Table, *keys: str) -> Iterable[Row]:
        """The last entry of each group that has the same `keys`."""
        found = {tuple(row[key] for key in keys): row for row in self.rows(_in_order(table))}
        return found.values()


def _engine(url: URL, shown: str) -> Engine:
    options: dict[str, Any] = {}
    if url.get_backend_name() == "sqlite":
        options["connect_args"] = {"timeout": PATIENCE_S, "check_same_thread": False}
        options["execution_options"] = {"compiled_cache": _PUT_TOGETHER}
        if not url.database:
            options |= {"poolclass": StaticPool, "creator": _nameless}
    else:
        # Others work with that server too: none of its connections is held without need.
        options["poolclass"] = NullPool
    try:
        engine = create_engine(url, **options)
    except (NoSuchModuleError, ImportError) as error:
        raise ClassError(
            f"The program part that speaks to {shown} is not installed ({error}). For "
            'PostgreSQL: pip install "labkit[postgresql]".'
        ) from error
    if engine.dialect.name != "sqlite":
        _one_writer_at_a_time(engine)
        return engine
    engine.dialect = _sqlite_dialect()
    _own_transactions(engine)
    return engine


@cache
def _sqlite_dialect() -> Dialect:
    """The one in which all SQLite files are spoken to: what was put together for one serves all.

    A process opens records again and again, and to put a query together takes longer than to ask.
    """
    engine = create_engine("sqlite://", poolclass=NullPool)
    engine.connect().close()  # then it knows what this SQLite can do
    return engine.dialect


def _nameless() -> sqlite3.Connection:
    """SQLite's own temporary database: in memory as long as it is short."""
    return sqlite3.connect("", check_same_thread=False)


def _in_order(table: Table) -> Select[Any]:
    return select(table).order_by(table.c.id)


def prepare(connection: Connection) -> None:
    """Make tables, triggers and view where they are not there, or not as they should be."""
    schema.META.create_all(connection)
    put_up(connection)
    shown = _shown_marks(_is_sqlite(connection))
    if not _is_sqlite(connection):
        connection.exec_driver_sql(f"CREATE OR REPLACE VIEW current_marks AS {shown}")
        return
    view = f"CREATE VIEW current_marks AS {shown}"
    known = "SELECT sql FROM sqlite_master WHERE name = 'current_marks'"
    if connection.exec_driver_sql(known).scalar() != view:
        # An earlier version's view may tell less.
        connection.exec_driver_sql("DROP VIEW IF EXISTS current_marks")
        connection.exec_driver_sql(view)


@cache
def _shown_marks(in_sqlite: bool) -> str:
    """The query of the view: put together once, which takes longer than opening the records."""
    dialect = URL.create("sqlite" if in_sqlite else "postgresql").get_dialect()()
    return str(current_marks().compile(dialect=dialect, compile_kwargs={"literal_binds": True}))


def _compact_tables(connection: Any) -> None:
    connection.autocommit = True
    for table in schema.META.sorted_tables:
        connection.execute(f"VACUUM (FULL) {table.name}")


def _is_sqlite(connection: Connection) -> bool:
    return connection.dialect.name == "sqlite"


def _without_nul(row: Row) -> Row:
    """PostgreSQL's text cannot hold U+0000, and what a trainee wrote must cost nobody a mark."""
    return {
        name: value.replace("\x00", "\ufffd") if isinstance(value, str) else value
        for name, value in row.items()
    }


def _one_writer_at_a_time(engine: Engine) -> None:
    """What SQLite's BEGIN IMMEDIATE does: who writes reads first what the one before has written.

    The lock is of this database alone, and ends with the transaction.
    """

    @event.listens_for(engine, "begin")
    def _begin(connection: Connection) -> None:
        # Each transaction is short, and who waits longest is served first.
        connection.exec_driver_sql(f"SET LOCAL lock_timeout = '{1000 * PATIENCE_S:.0f}ms'")
        if connection.get_execution_options().get("labkit_writes"):
            connection.exec_driver_sql(f"SELECT pg_advisory_xact_lock({_LOCK})")


def _own_transactions(engine: Engine) -> None:
    """Let SQLAlchemy begin transactions: Python's own driver begins them late, and a second run
    would then write between our reading and our writing."""

    file = engine.url.database

    @event.listens_for(engine, "connect")
    def _connected(connection: Any, _record: Any) -> None:
        connection.isolation_level = None
        # These read the file, so that they too need a lock.
        _patiently(connection.execute, "PRAGMA secure_delete = ON", file)
        _patiently(connection.execute, "PRAGMA synchronous = FULL", file)

    @event.listens_for(engine, "begin")
    def _begin(connection: Connection) -> None:
        if connection.get_execution_options().get("labkit_writes"):
            _patiently(connection.exec_driver_sql, "BEGIN IMMEDIATE", file)
            return
        connection.exec_driver_sql("BEGIN")
        # The lock comes with the first reading.
        _patiently(connection.exec_driver_sql, "SELECT 1 FROM sqlite_master LIMIT 1", file)


def _patiently(execute: Callable[[str], Any], statement: str, file: str | None) -> None:
    """Take a lock of an SQLite file: wait for one that is held only while somebody gets on."""
    until = time.monotonic() + WAIT_S
    while True:
        before = _last_written(file)
        try:
            execute(statement)
        except (sqlite3.OperationalError, OperationalError) as error:
            stands_still = _last_written(file) == before
            if "locked" not in str(error) or stands_still or time.monotonic() > until:
                raise
        else:
            return


def _last_written(file: str | None) -> list[tuple[int, int]]:
    """When the records and SQLite's journal beside them were written, and how long they are."""
    found = []
    for path in (Path(file or ""), Path(f"{file}-journal")):
        with suppress(OSError):
            state = path.stat()
            found.append((state.st_mtime_ns, state.st_size))
    return found
