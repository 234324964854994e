"""Whether the records are as they were written: their guards, their chain, and every entry."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import partial
from typing import Any, Final

from sqlalchemy import Connection, Select, Table, func, inspect, select

from labkit.classroom.records.chain import commitment, last_link, link_after, spoken
from labkit.classroom.records.guard import as_in_database, own_names
from labkit.classroom.records.schema import CHAINED, links, people
from labkit.classroom.records.store import Records, prepare
from labkit.classroom.remark import Remark, listed

_AT_ONCE: Final = 1_000
_VIEW: Final = "current_marks"


@dataclass(slots=True)
class _Walk:
    """What a walk along the chain saw."""

    links: int = 0
    before: int = 0
    """Entries that were there before the chain began."""
    found_later: list[str] = field(default_factory=list)
    broken: list[str] = field(default_factory=list)
    seen: bool = False
    """Whether it had the printed code."""


def verify_entries(records: Records, key: bytes | None, printed: str = "") -> Iterator[Remark]:
    """Everything that can be told without marking anew. Nothing is changed.

    `key` is that of the chain, None where the class's secret is gone; `printed` a code from a score
    sheet or a receipt.
    """
    printed = printed.strip().upper()
    with records.taken_back() as connection:
        chained = inspect(connection).has_table(links.name) and bool(last_link(connection))
        guards = list(_guards(connection))
    if not chained:
        yield Remark(
            "No labkit that keeps a chain over the entries has written into these records yet: "
            "whether one was changed cannot be told. The next run that writes begins one."
        )
        if printed:
            yield _not_seen(printed)
        return
    yield from guards
    with records.reading() as connection:
        yield from _chain(connection, key, printed)
        yield from _entries(connection)


def _guards(connection: Connection) -> Iterator[Remark]:
    before = as_in_database(connection)
    prepare(connection)
    after = as_in_database(connection)
    changed = sorted(name for name in after if before.get(name) != after[name])
    if changed:
        yield Remark(
            f"Not as labkit made them: {listed(changed)}. These guard the entries, or show what "
            "holds; the next run puts them right. See below whether an entry was changed.",
            differs=True,
        )
    strange = sorted(after.keys() - own_names(connection) - {_VIEW})
    if strange:
        yield Remark(f"In the database, and not labkit's: {listed(strange)}.", differs=True)


def _chain(connection: Connection, key: bytes | None, printed: str) -> Iterator[Remark]:
    if key is None:
        yield Remark(
            "The class's secret is missing, and with it the key of the chain: whether its links "
            "are labkit's own cannot be told.",
            differs=True,
        )
    walk = _walked(connection, key, printed)
    if walk.broken:
        yield Remark(
            f"The chain breaks at {listed(walk.broken)}: links were changed or taken out there.",
            differs=True,
        )
    if walk.before:
        yield Remark(
            f"{walk.before} entries are older than the chain: what was done to them before it "
            "began cannot be told."
        )
    if walk.found_later:
        yield Remark(
            f"Written by a labkit that knows no chain, or past labkit: {listed(walk.found_later)}.",
            differs=True,
        )
    if printed and not walk.seen:
        yield _not_seen(printed)
    elif printed:
        yield Remark(f"All that was there when '{printed}' was printed is still linked.")
    if not walk.broken and key is not None:
        yield Remark(
            f"{walk.links} links without a break; the last one is {spoken(last_link(connection))}."
        )


def _not_seen(printed: str) -> Remark:
    return Remark(
        f"No state of these records has the code '{printed}'. Was it copied rightly? Otherwise "
        "they are not the records of that sheet or receipt, or were cut back since.",
        differs=True,
    )


def _walked(connection: Connection, key: bytes | None, printed: str) -> _Walk:
    walk, before = _Walk(), ""
    query = select(links).order_by(links.c.id)
    for row in _streamed(connection, query):
        walk.links += 1
        walk.seen |= bool(printed) and spoken(row["link"]) == printed
        if key is not None and link_after(before, key, row) != row["link"]:
            walk.broken.append(_called(row["of_table"], row["entry"]))
        if row["found"] and walk.before == walk.links - 1:
            walk.before += 1
        elif row["found"]:
            walk.found_later.append(_called(row["of_table"], row["entry"]))
        before = row["link"]
    return walk


def _entries(connection: Connection) -> Iterator[Remark]:
    changed: list[tuple[Table, dict[str, Any]]] = []
    unlinked: list[tuple[Table, dict[str, Any]]] = []
    gone, taken_out = [], 0
    for table in CHAINED:
        names = [column.name for column in table.columns]
        for row in _streamed(connection, _with_link(table)):
            entry = {name: row[name] for name in names}
            if row["commitment_"] is None:
                unlinked.append((table, _naming(entry)))
            elif commitment(row["salt_"] or "", entry) != row["commitment_"]:
                changed.append((table, _naming(entry)))
        for entry_id, held in connection.execute(_without_entry(table)):
            taken_out += not held
            if held:
                gone.append(_called(table.name, entry_id))
    told = partial(_described, connection)
    if changed:
        yield Remark(f"Changed after they were written: {listed(changed, told)}.", differs=True)
    if gone:
        yield Remark(f"Taken out, and by no erasure: {listed(gone)}.", differs=True)
    if unlinked:
        yield Remark(
            f"Written by a labkit that knows no chain, or past labkit: {listed(unlinked, told)}.",
            differs=True,
        )
    if taken_out:
        yield Remark(f"{taken_out} entries were taken out by erasures.")
    if not (changed or gone or unlinked):
        yield Remark("Every entry is as it was written.")


def _with_link(table: Table) -> Select[Any]:
    """Every entry with the commitment of its last link and the salt; None where there is none."""
    return (
        select(
            table,
            links.c.commitment.label("commitment_"),
            links.c.salt.label("salt_"),
        )
        .select_from(table)
        .outerjoin(links, links.c.id == _last_link_of(table).scalar_subquery())
        .order_by(table.c.id)
    )


def _last_link_of(table: Table) -> Select[Any]:
    one = links.alias()
    return (
        select(func.max(one.c.id))
        .where(one.c.of_table == table.name, one.c.entry == table.c.id)
        .correlate(table)
    )


def _without_entry(table: Table) -> Select[Any]:
    """The linked entries that are not there, and what their last link says of them."""
    later = links.alias()
    superseded = select(later.c.id).where(
        later.c.of_table == links.c.of_table,
        later.c.entry == links.c.entry,
        later.c.id > links.c.id,
    )
    there = select(table.c.id).where(table.c.id == links.c.entry)
    return (
        select(links.c.entry, links.c.commitment)
        .where(
            links.c.of_table == table.name,
            ~superseded.correlate(links).exists(),
            ~there.correlate(links).exists(),
        )
        .order_by(links.c.entry)
    )


def _streamed(connection: Connection, query: Select[Any]) -> Iterator[Any]:
    return iter(connection.execute(query, execution_options={"yield_per": _AT_ONCE}).mappings())


def _called(table: str, entry: int) -> str:
    return f"entry {entry} of '{table}'"


def _naming(entry: dict[str, Any]) -> dict[str, Any]:
    """What of an entry a person finds it by."""
    return {name: entry.get(name) for name in ("id", "workbook", "lab", "exercise")}


def _described(connection: Connection, found: tuple[Table, dict[str, Any]]) -> str:
    """An entry as a person finds it."""
    table, entry = found
    called = _called(table.name, entry["id"])
    told = [str(entry[name]) for name in ("lab", "exercise") if entry.get(name)]
    query = select(people.c.name).where(people.c.workbook == entry.get("workbook"))
    name = connection.execute(query).scalar() if entry.get("workbook") else None
    words = " ".join(filter(None, (name, "/".join(told))))
    return f"{called} ({words})" if words else called
