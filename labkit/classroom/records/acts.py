"""What somebody did with a class that no other entry tells: who, when, and what in a sentence."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from sqlalchemy import select

from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.records.schema import acts
from labkit.classroom.records.store import Records, Row
from labkit.exchange.clock import CLOCK

_TOLD: Final = 20


def act(what: str, by: str) -> Row:
    """An entry. `what` names no trainee: it stays when somebody is erased."""
    return {"what": what, "by": by, "at": CLOCK.now()}


def note(folder: ClassFolder, what: str, by: str) -> None:
    """Add an entry. A class of which nothing was dealt has no records yet: there nothing is noted.

    Raises `ClassError`.
    """
    if folder.deal_file.exists():
        Records.of(folder).add(acts, [act(what, by)])


def last_acts(folder: ClassFolder, records: Records) -> Iterator[str]:
    """The last acts in sentences, the latest first."""
    query = select(acts).order_by(acts.c.id.desc()).limit(_TOLD)
    for row in records.rows(query):
        yield f"{folder.fields.spoken(row['at'])}, {row['by']}: {row['what']}"
