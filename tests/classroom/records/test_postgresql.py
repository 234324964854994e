"""Records on a PostgreSQL server: the same marks, append-only, and no run doubles or loses one."""

from __future__ import annotations

import os
import sys
import time
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from runs_of_scoring import killed, two_at_once
from sqlalchemy import select
from tiny_class import MakeRoom, Room

from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.corrections.changes import Changes
from labkit.classroom.corrections.correcting import void
from labkit.classroom.errors import ClassError
from labkit.classroom.exports.exporting import export
from labkit.classroom.marks.by_hand import give
from labkit.classroom.marks.scoring import score
from labkit.classroom.marks.verifying import verify
from labkit.classroom.people.erasing import erase
from labkit.classroom.records.backup import back_up, restore
from labkit.classroom.records.current import current_marks
from labkit.classroom.records.guard import REFUSAL
from labkit.classroom.records.schema import (
    IN_PERSON,
    META,
    PERSONAL,
    erasing,
    erasures,
    links,
    manual,
    receipts,
)
from labkit.classroom.records.schema import marks as marks_table
from labkit.classroom.records.store import Records
from labkit.classroom.result import Result

if os.name != "posix":
    pytest.skip("the server of these tests listens on a POSIX socket", allow_module_level=True)

import psycopg
from postgresql import Server, programs, running

KEPT = [table.name for table in META.sorted_tables if table is not erasing]
TIMES = {
    "id",
    "marked_at",
    "received_at",
    "decided_at",
    "since",
    "erased_at",
    "exported_at",
    "written_at",
}
HASHES = {"content", "statement"}
"""Made of what a trainee wrote, which a server cannot hold to the letter."""


@pytest.fixture(scope="module")
def server() -> Iterator[Server]:
    """A server of our own, for the tests of this file."""
    found = programs()
    if found is None:
        if os.environ.get("LABKIT_REQUIRE_ALL"):
            pytest.fail("no PostgreSQL found, and LABKIT_REQUIRE_ALL asks for every test")
        pytest.skip("no PostgreSQL found (initdb): apt install postgresql")
    with running(found) as made:
        yield made


@pytest.fixture
def url(server: Server) -> str:
    return server.database()


def handed_in(room: Room) -> None:
    """One right with a hint, one with what no text on a server may hold."""
    room.hand_in("ann", hints=1)
    room.hand_in("ben", {**room.right("ben"), "double": "quite \x00 \N{SNOWMAN} wrong"})


def worked_on(room: Room) -> None:
    """Scored; a mark is put right, an exercise taken out of everybody's marks."""
    score(room.folder)
    give(room.folder, "ann", "tiny", "double", ["0.3333"], by="R. Ops", note="at the bench")
    void(room.folder, "tiny", "parity", reason="a misprint", by="R. Ops")
    export(room.folder, score(room.folder), room.path.with_name("out"))


@pytest.fixture
def scored(room: Room, url: str) -> Room:
    room.write_class(records=f"'{url}'")
    handed_in(room)
    worked_on(room)
    return room


def contents(records: Records) -> dict[str, list[dict[str, Any]]]:
    return {
        table.name: [
            {name: value for name, value in row.items() if name not in TIMES | HASHES}
            for row in records.rows(select(table).order_by(*table.primary_key))
        ]
        for table in META.sorted_tables
        if table is not links
    }


def told(results: Any) -> list[tuple[str, float, Any]]:
    def of(result: Result) -> tuple[str, float, Any]:
        marks = [replace(mark, since="") for mark in result.marks]
        return result.dealt.trainee, result.earned, marks

    return [of(result) for result in results]


def test_a_server_holds_what_a_file_would(room: Room, url: str) -> None:
    handed_in(room)
    worked_on(room)
    in_file, beside = told(score(room.folder).results), contents(Records.of(room.folder))
    room.write_class(records=f"'{url}'")
    worked_on(room)
    on_server, there = told(score(room.folder).results), contents(Records.of(room.folder))
    assert [earned for _, earned, _ in on_server] == [3.33, 3, 0]
    assert "quite \\x00 \N{SNOWMAN} wrong" in repr(in_file)
    # PostgreSQL's text has no U+0000: a mark stands for it.
    assert repr(on_server) == repr(in_file).replace("\\x00", "\ufffd")
    assert repr(there) == repr(beside).replace("\\x00", "\ufffd")


def test_a_dry_run_writes_nothing_on_a_server_and_tells_what_comes_out(scored: Room) -> None:
    before = contents(Records.of(scored.folder))

    def voided(*, dry_run: bool) -> Changes:
        return void(scored.folder, "tiny", "double", reason="x", by="R. Ops", dry_run=dry_run)

    told = voided(dry_run=True)
    assert contents(Records.of(scored.folder)) == before
    assert [change.after.earned for change in told.results] == [3, 3]
    assert voided(dry_run=False) == told
    assert "taken out of the marks already" in voided(dry_run=False).already
    assert len(contents(Records.of(scored.folder))["voids"]) == 2


def test_what_was_seen_in_person_holds_for_any_answer_on_a_server(scored: Room) -> None:
    records = Records.of(scored.folder)
    item = scored.dealt.dealt.find("ben", "tiny")
    assert item is not None
    seen = {
        "workbook": item.workbook,
        "exercise": "double",
        "answer_digest": IN_PERSON,
        "credit": 0.5,
        "shares": "{}",
        "by": "R. Ops",
        "note": "seen",
        "marked_at": "2026-11-20T10:00:00Z",
    }
    records.add(manual, [seen])
    assert score(scored.folder).results[1].marks[0].earned == 2


def test_no_program_changes_deletes_or_empties_an_entry(
    scored: Room, server: Server, url: str
) -> None:
    server.run(url, "INSERT INTO erasures VALUES (DEFAULT, 'erased-1', 'asked', true, '')")
    server.run(url, "INSERT INTO handed_on VALUES (DEFAULT, 'export', '/elsewhere', '')")
    renamed = "(DEFAULT, 'x', 'anne', 'misspelt', 'R. Ops', '')"
    server.run(url, f"INSERT INTO renamed VALUES {renamed}")
    pair = "(DEFAULT, 'e1', 'x', 'y', true, false, 'R. Ops', '')"
    server.run(url, f"INSERT INTO together VALUES {pair}")
    server.run(url, "INSERT INTO in_room VALUES (DEFAULT, 'd', 'x')")
    server.run(url, "INSERT INTO acts VALUES (DEFAULT, 'Workbooks dealt: 3.', 'R. Ops', '')")
    issued = "(DEFAULT, 's-1', 'x', '{}', 'c', 'R. Ops', '')"
    server.run(url, f"INSERT INTO certificates VALUES {issued}")
    server.run(url, "INSERT INTO ended VALUES (DEFAULT, 's-1', '', 'misprinted', 'R. Ops', '')")
    for table in KEPT:
        before = server.run(url, f"SELECT * FROM {table} ORDER BY id")
        assert before[0], f"there is something to protect in {table}"
        for statement in (
            f"UPDATE {table} SET id = id + 100",
            f"DELETE FROM {table}",
            f"TRUNCATE {table}",
            f"INSERT INTO {table} SELECT * FROM {table} ON CONFLICT (id) DO UPDATE SET id = 900",
        ):
            with pytest.raises(psycopg.errors.RestrictViolation, match=REFUSAL):
                server.run(url, statement)
        assert server.run(url, f"SELECT * FROM {table} ORDER BY id") == before, table
    assert Records.of(scored.folder).shown.startswith("postgresql://")


def test_triggers_that_were_taken_out_are_put_back(scored: Room, server: Server, url: str) -> None:
    server.run(url, "DROP TRIGGER keep_marks ON marks")
    score(scored.folder)
    with pytest.raises(psycopg.errors.RestrictViolation):
        server.run(url, "DELETE FROM marks")


def test_the_current_state_can_be_read_by_any_program(
    scored: Room, server: Server, url: str
) -> None:
    query = (
        "SELECT trainee, exercise, earned, earned_at_first, voided FROM current_marks "
        "ORDER BY trainee, number"
    )
    assert server.run(url, query)[0] == [
        ("ann", "double", 0.33, 3.0, False),
        ("ann", "parity", 1.0, 1.0, True),
        ("ann", "plan", 3.0, 3.0, False),
        ("ben", "double", 0.0, 0.0, False),
        ("ben", "parity", 1.0, 1.0, True),
        ("ben", "plan", 3.0, 3.0, False),
    ]
    assert len(scored.folder.trainees) == 3


def test_the_view_of_an_older_version_is_taken_over(scored: Room, server: Server, url: str) -> None:
    inside = current_marks().subquery()
    older = select(*[column for column in inside.c if column.name != "since"])
    options = {"literal_binds": True}
    shown = older.compile(Records.of(scored.folder).engine, compile_kwargs=options)
    server.run(url, "DROP VIEW current_marks")
    server.run(url, f"CREATE VIEW current_marks AS {shown}")
    score(scored.folder)
    assert server.run(url, "SELECT max(since) > '2026' FROM current_marks")[0] == [(True,)]


@pytest.mark.parametrize("keep_marks", [True, False])
def test_a_person_is_erased_from_a_server(
    scored: Room, server: Server, url: str, keep_marks: bool
) -> None:
    done = erase(scored.folder, "ann", reason="asked for it", keep_marks=keep_marks)
    records = Records.of(scored.folder)
    assert "ann" not in repr([records.rows(select(table)) for table in PERSONAL]).lower()
    marks_left = records.rows(select(marks_table))
    assert len(marks_left) == (6 if keep_marks else 3)
    assert len(records.rows(select(receipts))) == 1
    assert [row["tombstone"] for row in records.rows(select(erasures))] == [done.tombstone]
    assert records.rows(select(erasing)) == []
    with pytest.raises(psycopg.errors.RestrictViolation):
        server.run(url, "DELETE FROM people")


def test_entries_on_a_server_are_verified(scored: Room, server: Server, url: str) -> None:
    def differing() -> str:
        return "\n".join(each.sentence for each in verify(scored.folder) if each.differs)

    assert differing() == ""
    erase(scored.folder, "ben", reason="asked for it")
    assert differing() == ""
    server.run(
        url, "DROP TRIGGER keep_marks ON marks", "UPDATE marks SET earned = 3.5 WHERE id = 1"
    )
    told = differing()
    assert "Not as labkit made them: keep_marks." in told
    assert "Changed after they were written: entry 1 of 'marks' (Ann Orrel tiny/double)" in told
    score(scored.folder)
    assert "keep_marks" not in differing()
    server.run(
        url,
        "CREATE OR REPLACE FUNCTION labkit_erasable_marks() RETURNS trigger LANGUAGE plpgsql AS "
        "$$ BEGIN RETURN NEW; END $$",
        "ALTER TABLE voids DISABLE TRIGGER keep_voids",
        "CREATE VIEW other AS SELECT 1",
    )
    told = differing()
    assert "Not as labkit made them: keep_voids; labkit_erasable_marks." in told
    assert "not labkit's: other" in told


def test_a_backup_holds_what_the_server_does(scored: Room, tmp_path: Path) -> None:
    before = contents(Records.of(scored.folder))
    done = back_up(scored.folder, tmp_path / "stick.zip")
    back = restore(tmp_path / "stick.zip", tmp_path / "again")
    assert back.on_server
    fields = (tmp_path / "again" / "class.yaml").read_text("utf-8").splitlines()
    left = [line for line in fields if not line.startswith("records:")]
    (tmp_path / "again" / "class.yaml").write_text("\n".join(left), encoding="utf-8")
    folder = ClassFolder.open(tmp_path / "again")
    after = contents(Records.of(folder))
    assert after.pop("handed_on")[-1]["what"] == "backup"
    del before["handed_on"]
    assert after == before
    assert not any(remark.differs for remark in verify(folder, done.code))


@pytest.fixture
def many(make_room: MakeRoom, url: str) -> Room:
    made = make_room(*(f"t{number}" for number in range(20)), records=f"'{url}'")
    made.deal()
    for number in range(20):
        made.hand_in(f"t{number}", {"double": f"{number} m", "plan": {"pump": "1"}})
    return made


def counted(server: Server, url: str) -> list[int]:
    tables = ("marks", "receipts", "counting", "people", "editions")
    return [server.run(url, f"SELECT count(*) FROM {name}")[0][0][0] for name in tables]


def test_two_runs_at_once_write_the_same_as_one(many: Room, server: Server, url: str) -> None:
    assert two_at_once(many.path) == [0, 0]
    assert counted(server, url) == [60, 20, 20, 20, 1]


def test_a_run_that_is_killed_at_any_moment_leaves_no_mark_doubled_or_lost(
    many: Room, server: Server, url: str
) -> None:
    assert killed(many.path, 4, 0.3, seed=5)
    found = told(score(many.folder).results)
    assert counted(server, url) == [60, 20, 20, 20, 1]
    many.write_class()
    assert told(score(many.folder).results) == found


def test_a_run_waits_for_another_one_that_writes_and_then_says_so(
    scored: Room, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("labkit.classroom.records.store.PATIENCE_S", 0.2)
    first, second = Records.of(scored.folder), Records.of(scored.folder)
    with (
        first.writing(),
        pytest.raises(ClassError, match="Another labkit is writing there"),
        second.writing(),
    ):
        pass


def test_a_table_that_another_program_holds_is_said_soon(scored: Room) -> None:
    own, other = Records.of(scored.folder), Records.of(scored.folder)
    began = time.monotonic()
    with other.engine.connect() as connection:
        connection.exec_driver_sql("LOCK TABLE marks IN ACCESS EXCLUSIVE MODE")
        with pytest.raises(ClassError, match="holds them locked"):
            own.rows(select(marks_table))
    assert time.monotonic() - began < 6


def test_records_of_another_class_get_a_sentence(scored: Room, url: str) -> None:
    with pytest.raises(ClassError, match="another class"):
        Records.open(scored.path, url, class_id="room-8")


def test_a_server_that_cannot_be_reached_gets_a_sentence(room: Room, server: Server) -> None:
    for address in (
        server.address("none-such"),
        f"postgresql://someone:hush@/records?host={server.folder}/nowhere",
    ):
        room.write_class(records=f"'{address}'")
        with pytest.raises(ClassError, match="Does the server run") as told_:
            score(room.folder)
        assert "hush" not in str(told_.value)
        assert "\n" not in str(told_.value)


def test_a_driver_that_is_not_there_gets_a_sentence(
    room: Room, url: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "psycopg", None)
    room.write_class(records=f"'{url}'")
    with pytest.raises(ClassError, match=r"labkit\[postgresql\]"):
        score(room.folder)


def test_no_connection_is_left_open_between_two_transactions(
    room: Room, url: str, server: Server
) -> None:
    room.write_class(records=f"'{url}'")
    handed_in(room)
    worked_on(room)
    records = Records.of(room.folder)
    others = (
        "SELECT count(*) FROM pg_stat_activity "
        "WHERE datname = current_database() AND pid <> pg_backend_pid() "
        # The server's own workers clean up in a database, too.
        "AND backend_type = 'client backend'"
    )
    # A server ends its side a moment after the program has closed its own.
    until = time.monotonic() + 60
    while (found := server.run(url, others)) != [[(0,)]] and time.monotonic() < until:
        time.sleep(0.05)
    assert found == [[(0,)]]
    assert contents(records)[marks_table.name]
