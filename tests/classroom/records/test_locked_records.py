"""Records that another program holds locked are said soon; another run is waited for."""

from __future__ import annotations

import sqlite3
import threading
import time
from collections.abc import Iterator
from contextlib import closing, contextmanager

import pytest
from sqlalchemy import select
from tiny_class import Room

from labkit.classroom.errors import ClassError
from labkit.classroom.marks.scoring import score
from labkit.classroom.records import store
from labkit.classroom.records.schema import counting
from labkit.classroom.records.store import Records

PATIENCE_S = 1
SOON_S = 20.0
"""On a busy machine too; who waits again and again does not end at all."""


@pytest.fixture
def scored(room: Room) -> Room:
    room.hand_in("ann")
    score(room.folder)
    return room


@contextmanager
def held(room: Room, *statements: str) -> Iterator[None]:
    with closing(sqlite3.connect(room.path / "records.sqlite", isolation_level=None)) as other:
        for statement in statements:
            other.execute(statement).fetchall()
        yield


LOCKS = {
    "whole": ["BEGIN EXCLUSIVE"],
    "writing": ["BEGIN IMMEDIATE"],
    "reading": ["BEGIN", "SELECT * FROM people"],
}


@pytest.fixture
def less_patience(monkeypatch: pytest.MonkeyPatch) -> None:
    assert store.PATIENCE_S <= 5
    monkeypatch.setattr(store, "PATIENCE_S", PATIENCE_S)


@pytest.mark.usefixtures("less_patience")
def test_scoring_says_it_soon(scored: Room) -> None:
    began = time.monotonic()
    with held(scored, *LOCKS["whole"]), pytest.raises(ClassError, match="holds them locked"):
        score(scored.folder)
    assert time.monotonic() - began < SOON_S


@pytest.mark.usefixtures("less_patience")
@pytest.mark.parametrize("lock", LOCKS)
def test_whichever_lock_it_is_nothing_is_lost(scored: Room, lock: str) -> None:
    records = Records.of(scored.folder)
    row = {"workbook": "w", "digest": "d", "reason": "r", "decided_at": "t"}
    began = time.monotonic()
    with held(scored, *LOCKS[lock]), pytest.raises(ClassError, match="holds them locked"):
        records.add(counting, [row])
    assert time.monotonic() - began < SOON_S
    before = len(records.rows(select(counting)))
    records.add(counting, [row])
    assert len(records.rows(select(counting))) == before + 1


def test_another_run_that_gets_on_is_waited_for(
    scored: Room, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(store, "PATIENCE_S", 0.5)
    records = Records.of(scored.folder)
    begun, ends = threading.Event(), time.monotonic() + 3

    def write_on_and_on() -> None:
        other, number = Records.of(scored.folder), 0
        while time.monotonic() < ends:
            with other.writing() as connection:
                number += 1
                row = {"workbook": f"w{number}", "digest": "d", "reason": "", "decided_at": ""}
                other.add(counting, [row], connection)
                begun.set()
                # Longer than a waiting run looks away: it seldom finds a gap.
                time.sleep(0.3)

    writer = threading.Thread(target=write_on_and_on)
    writer.start()
    begun.wait()
    for number in range(3):
        row = {"workbook": f"own{number}", "digest": "d", "reason": "", "decided_at": ""}
        records.add(counting, [row])
    writer.join()
    assert len(records.rows(select(counting).where(counting.c.workbook.startswith("own")))) == 3
