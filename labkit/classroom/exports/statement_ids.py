"""Which xAPI statements were handed on before, and the ids that follow from it.

A statement once sent cannot be changed: what holds no more is voided by another statement. An id is
a UUID of RFC 9562, version 5, of what the statement says and of how many came before it in its
place: an unchanged result has the same id at every export, and one that comes back after it was
voided has a new one.
"""

from __future__ import annotations

import uuid
from collections.abc import Iterable, Iterator, Sequence
from hashlib import sha256
from itertools import pairwise
from typing import Any

import orjson
from sqlalchemy import Connection, select

from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.exports.statements import Said, voiding
from labkit.classroom.records.schema import exported
from labkit.classroom.records.store import Records
from labkit.exchange.clock import CLOCK

_Key = tuple[str, str]
_Entry = dict[str, Any]


def identified(
    records: Records, folder: ClassFolder, workbooks: Sequence[str], said: Iterable[Said]
) -> Iterator[dict[str, Any]]:
    """A trainee's statements with their ids, and those that void what was handed on before.

    `workbooks` are all that the trainee was dealt, of earlier attempts too.

    All that is handed on is in the records first: nothing can be sent that they do not know.
    """
    current = {(one.workbook, one.place): one for one in said}
    with records.writing() as connection:
        entries = _exported_before(connection, workbooks)
        new = []
        for key in dict.fromkeys((*current, *entries)):
            before = entries.setdefault(key, [])
            entry = _entry(key, current.get(key), len(before))
            if entry["content"] != (before[-1]["content"] if before else ""):
                before.append(entry)
                new.append(entry)
        records.add(exported, new, connection)
    for key, one in current.items():
        yield {"id": entries[key][-1]["statement"], **one.content}
    for before in entries.values():
        for old, later in pairwise(before):
            if old["statement"]:
                void = _uuid(f"void {old['statement']}")
                yield {"id": void, **voiding(folder, old["statement"], later["exported_at"])}


def _exported_before(connection: Connection, workbooks: Sequence[str]) -> dict[_Key, list[_Entry]]:
    query = select(exported).where(exported.c.workbook.in_(workbooks)).order_by(exported.c.id)
    found: dict[_Key, list[_Entry]] = {}
    for row in connection.execute(query).mappings():
        found.setdefault((row["workbook"], row["place"]), []).append(dict(row))
    return found


def _entry(key: _Key, said: Said | None, before: int) -> _Entry:
    content = sha256(orjson.dumps(said.content)).hexdigest() if said else ""
    workbook, place = key
    return {
        "workbook": workbook,
        "place": place,
        "content": content,
        "statement": _uuid(f"{workbook} {place} {content} {before}") if said else "",
        "exported_at": CLOCK.now(),
    }


def _uuid(name: str) -> str:
    return str(uuid.uuid5(uuid.NAMESPACE_URL, name))
