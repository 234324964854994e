"""Long lists that are looked through a few rows at a time: SQLite tables in a temporary file.

However long the list, no more of it is in memory than SQLite's page cache of half a megabyte. The
file has no name, and is gone when nobody holds its table any more.
"""

from __future__ import annotations

import sqlite3
import tempfile
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from typing import Any

from labkit.classroom.errors import ClassError

Row = tuple[Any, ...]


class OnDisk:
    """Tables in a temporary file of their own."""

    def __init__(self, *tables: str) -> None:
        """`tables` are the SQL statements that make them. Raises `ClassError`, as all methods."""
        with _sentences():
            # A notebook's widgets may look things up from another thread than the one that began.
            self._file = sqlite3.connect("", check_same_thread=False, isolation_level=None)
            for statement in ("PRAGMA journal_mode = OFF", "PRAGMA cache_size = -512", *tables):
                self._file.execute(statement)

    def add(self, statement: str, rows: Iterable[Row]) -> None:
        """Run an INSERT statement for each row."""
        with _sentences():
            self._file.execute("BEGIN")
            self._file.executemany(statement, rows)
            self._file.execute("COMMIT")

    def do(self, statement: str) -> None:
        """Run one statement."""
        with _sentences():
            self._file.execute(statement)

    def rows(self, query: str, values: Sequence[Any] = ()) -> Iterator[Row]:
        """The rows of a query, read as they are asked for."""
        with _sentences():
            yield from self._file.execute(query, values)

    def count(self, query: str) -> int:
        """The number that a query gives."""
        [(number,)] = self.rows(query)
        return int(number)


@contextmanager
def _sentences() -> Iterator[None]:
    try:
        yield
    except sqlite3.Error as error:
        raise ClassError(
            f"The temporary folder {tempfile.gettempdir()} cannot be used ({error}). Make room "
            "there, or name another one in the environment variable TMPDIR."
        ) from error
