"""A chain over the entries of the records, so that a later change to any of them shows.

Each entry gets a link: a commitment to what it says, SHA-256 over a salt of its own and the entry
as JSON, and the HMAC-SHA256 (RFC 2104, with a key that follows from the class's secret) of the
link before it and this commitment. Links are made in the transaction that writes the entry. Who
changes the database alone cannot make fitting links; who has the whole class folder could, but not
so that the last link, of which score sheets and receipts carry the beginning, stays as it was.

An erasure empties the salts of what it takes out or makes nameless, and adds links that say so:
the chain stays whole, and its commitments tell nothing any more.

An entry that nobody linked was written by an older labkit, or past labkit: its link says `found`.
"""

from __future__ import annotations

import hmac
import json
import secrets
from collections.abc import Iterable, Iterator, Mapping, Sequence
from functools import cache
from hashlib import sha256
from itertools import islice
from typing import Any, Final

from sqlalchemy import (
    Connection,
    Select,
    String,
    Table,
    func,
    insert,
    literal,
    select,
    union_all,
    update,
)

from labkit.classroom.records.schema import CHAINED, links

_AT_ONCE: Final = 500
_GONE: Final = ""

Row = Mapping[str, Any]


def key_of(secret: str) -> bytes:
    """The key of a class's chain: it follows from the class's secret, and does not tell it."""
    return hmac.digest(bytes.fromhex(secret), b"labkit: the chain over the records", "sha256")


def commitment(salt: str, row: Row) -> str:
    """What a link holds of an entry. Columns without a value are left out, so that a later labkit
    may add some."""
    told = {name: value for name, value in row.items() if value is not None}
    return sha256((salt + json.dumps(told, sort_keys=True)).encode()).hexdigest()


def link_after(before: str, key: bytes, link: Row) -> str:
    """The link that follows `before`."""
    said = [before, link["of_table"], link["entry"], link["commitment"], bool(link["found"])]
    return hmac.new(key, json.dumps(said).encode(), sha256).hexdigest()


def spoken(link: str) -> str:
    """How people name a state of the records: the first ten digits of its last link."""
    return f"{link[:5]}-{link[5:10]}".upper() if link else ""


def last_link(connection: Connection) -> str:
    """The last link; "" where there is none."""
    query = select(links.c.link).order_by(links.c.id.desc()).limit(1)
    return connection.execute(query).scalar() or ""


class Chain:
    """Makes the links of the records of one class."""

    def __init__(self, key: bytes) -> None:
        self._key = key

    def adopt(self, connection: Connection) -> dict[str, int]:
        """Link what nobody linked. Returns the last entry of each table."""
        last = {}
        for row in connection.execute(_tails()).mappings():
            table, there, linked = row["name"], row["there"] or 0, row["linked"] or 0
            last[table] = there
            if there > linked:
                self._append(connection, table, _after(connection, table, linked), found=True)
        return last

    def link(self, connection: Connection, last: Mapping[str, int]) -> None:
        """Link what a transaction added after the `last` entries."""
        for row in connection.execute(_tails()).mappings():
            table, there = row["name"], row["there"] or 0
            if there > last[table]:
                self._append(connection, table, _after(connection, table, last[table]))

    def relink(self, connection: Connection, changed: Mapping[str, Sequence[int]]) -> None:
        """Link what an erasure made of entries: of what is gone, that it is."""
        for name, ids in changed.items():
            table = _TABLES[name]
            for some in _parts(ids):
                query = select(table).where(table.c.id.in_(some)).order_by(table.c.id)
                rows = {row["id"]: dict(row) for row in connection.execute(query).mappings()}
                self._append(connection, name, [rows.get(id_, id_) for id_ in some])

    def _append(
        self,
        connection: Connection,
        table: str,
        entries: Iterable[Row | int],
        *,
        found: bool = False,
    ) -> None:
        """Add a link for each entry; for a number, that the entry is gone."""
        before = last_link(connection)
        for some in _parts(entries):
            made = []
            for entry in some:
                gone = isinstance(entry, int)
                salt = "" if gone else secrets.token_hex(16)
                link: dict[str, Any] = {
                    "of_table": table,
                    "entry": entry if gone else entry["id"],
                    "commitment": _GONE if gone else commitment(salt, entry),
                    "salt": salt,
                    "found": found,
                }
                before = link["link"] = link_after(before, self._key, link)
                made.append(link)
            connection.execute(insert(links), made)


def _parts(items: Iterable[Any]) -> Iterator[list[Any]]:
    rest = iter(items)
    return iter(lambda: list(islice(rest, _AT_ONCE)), [])


def salts_of(connection: Connection, changed: Mapping[str, Sequence[int]]) -> list[str]:
    """The salts of all links of these entries."""
    found: list[str] = []
    for name, ids in changed.items():
        for some in _parts(ids):
            of_these = (links.c.of_table == name, links.c.entry.in_(some), links.c.salt != "")
            found += connection.execute(select(links.c.salt).where(*of_these)).scalars()
    return found


def without_salts(connection: Connection, salted: Sequence[str]) -> None:
    """Empty these salts, inside an erasure that names them."""
    for some in _parts(salted):
        connection.execute(update(links).where(links.c.salt.in_(some)).values(salt=""))


_TABLES: Final = {table.name: table for table in CHAINED}


def _after(connection: Connection, name: str, entry: int) -> Iterator[Row]:
    table = _TABLES[name]
    query = select(table).where(table.c.id > entry).order_by(table.c.id)
    # All of a part is read before a link is written.
    while rows := connection.execute(query.limit(_AT_ONCE)).mappings().all():
        yield from (dict(row) for row in rows)
        query = select(table).where(table.c.id > rows[-1]["id"]).order_by(table.c.id)


@cache
def _tails() -> Any:
    """For each table: its last entry, and the last one that is linked and was not taken out.

    A number that an erasure made free may be given again.
    """
    return union_all(*(_tail(table) for table in CHAINED))


def _tail(table: Table) -> Select[Any]:
    later = links.alias()
    taken_out = select(later.c.id).where(
        later.c.of_table == links.c.of_table,
        later.c.entry == links.c.entry,
        later.c.id > links.c.id,
        later.c.commitment == _GONE,
    )
    linked = (
        select(links.c.entry)
        .where(
            links.c.of_table == table.name,
            links.c.commitment != _GONE,
            ~taken_out.correlate(links).exists(),
        )
        .order_by(links.c.entry.desc())
        .limit(1)
    )
    there = select(func.max(table.c.id))
    return select(
        literal(table.name, String).label("name"),
        there.scalar_subquery().label("there"),
        linked.scalar_subquery().label("linked"),
    )
