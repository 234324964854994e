"""Records only grow: no program changes an entry, and no run doubles or loses one."""

from __future__ import annotations

import errno
import itertools
import os
import re
import signal
import sqlite3
from collections.abc import Sequence
from contextlib import closing
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from runs_of_scoring import killed, two_at_once
from set_clock import SetClock
from sqlalchemy import Engine, event, select
from sqlalchemy.sql.compiler import SQLCompiler
from tiny_class import MakeRoom, Room

from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.errors import ClassError
from labkit.classroom.marks.scoring import score
from labkit.classroom.records.guard import REFUSAL
from labkit.classroom.records.schema import (
    META,
    acts,
    certificates,
    counting,
    ended,
    erasing,
    erasures,
    handed_on,
    in_room,
    marks,
    receipts,
    renamed,
    together,
)
from labkit.classroom.records.store import Records
from labkit.classroom.result import Result
from labkit.errors import sentences

KEPT = [table.name for table in META.sorted_tables if table is not erasing]


def file_of(room: Room) -> Path:
    return room.path / "records.sqlite"


def rows(room: Room, table: str) -> list[tuple[Any, ...]]:
    with closing(sqlite3.connect(file_of(room))) as opened:
        return opened.execute(f"SELECT * FROM {table} ORDER BY 1").fetchall()


@pytest.fixture
def scored(room: Room) -> Room:
    """Two have handed in; an entry stands in every table."""
    from labkit.classroom.corrections.correcting import void
    from labkit.classroom.exports.exporting import export
    from labkit.classroom.marks.by_hand import give

    for trainee in ("ann", "ben"):
        room.hand_in(trainee)
    score(room.folder)
    give(room.folder, "ann", "tiny", "double", ["0.5"], by="R. Ops", note="shown at the bench")
    void(room.folder, "tiny", "parity", reason="a misprint", by="R. Ops")
    export(room.folder, score(room.folder), room.path.with_name("out"))
    records = Records.of(room.folder)
    erased = {"tombstone": "erased-1", "reason": "asked", "marks_kept": True, "erased_at": ""}
    records.add(erasures, [erased])
    records.add(handed_on, [{"what": "export", "folder": "/elsewhere", "written_at": ""}])
    called = {"workbook": "x", "trainee": "anne", "reason": "misspelt", "by": "R. Ops", "since": ""}
    records.add(renamed, [called])
    pair = {"entry": "e1", "workbook": "x", "host": "y", "shared": True, "hand": False}
    records.add(together, [{**pair, "by": "R. Ops", "since": ""}])
    records.add(in_room, [{"digest": "d", "workbook": "x"}])
    records.add(acts, [{"what": "Workbooks dealt: 3.", "by": "R. Ops", "at": ""}])
    issued = {"serial": "s-1", "workbook": "x", "statement": "{}", "code": "c", "by": "R. Ops"}
    records.add(certificates, [{**issued, "issued_at": ""}])
    end = {"serial": "s-1", "successor": "", "reason": "misprinted", "by": "R. Ops", "since": ""}
    records.add(ended, [end])
    return room


@pytest.mark.parametrize("table", KEPT)
def test_no_program_changes_deletes_or_replaces_an_entry(scored: Room, table: str) -> None:
    before = rows(scored, table)
    assert before, "there is something to protect"
    with closing(sqlite3.connect(file_of(scored))) as opened:
        for statement in (f"UPDATE {table} SET id = id + 100", f"DELETE FROM {table}"):
            with pytest.raises(sqlite3.IntegrityError, match=REFUSAL):
                opened.execute(statement)
        columns = len(before[0])
        for first in before:
            spoilt = [first[0], *("x" for _ in range(columns - 1))]
            marks_ = ", ".join("?" * columns)
            opened.execute(f"INSERT OR REPLACE INTO {table} VALUES ({marks_})", spoilt)
        opened.commit()
    assert rows(scored, table) == before


def test_a_replacement_by_the_key_alone_is_ignored_too(scored: Room) -> None:
    before = rows(scored, "marks")
    with closing(sqlite3.connect(file_of(scored))) as opened, opened:
        opened.execute(
            "INSERT OR REPLACE INTO marks SELECT NULL, digest, workbook, lab, lab_digest, "
            "exercise, number, title, possible, 99, credit, message, slip, readable, awaits, "
            "answered, answer, answer_digest, tries, hints, hint_cost, marked_at FROM marks"
        )
    assert rows(scored, "marks") == before


def test_the_current_state_can_be_read_by_any_program(scored: Room) -> None:
    with closing(sqlite3.connect(file_of(scored))) as opened:
        found = opened.execute(
            "SELECT trainee, exercise, earned, earned_at_first, voided FROM current_marks "
            "ORDER BY trainee, number"
        ).fetchall()
    assert found == [
        ("ann", "double", 2.0, 4.0, 0),
        ("ann", "parity", 1.0, 1.0, 1),
        ("ann", "plan", 3.0, 3.0, 0),
        ("ben", "double", 4.0, 4.0, 0),
        ("ben", "parity", 1.0, 1.0, 1),
        ("ben", "plan", 3.0, 3.0, 0),
    ]


def test_scoring_again_adds_nothing(scored: Room) -> None:
    before = {table: rows(scored, table) for table in KEPT}
    for _ in range(2):
        score(scored.folder)
    assert {table: rows(scored, table) for table in KEPT} == before


def test_marks_stay_when_the_file_of_a_hand_in_is_gone(scored: Room) -> None:
    for file in (scored.path / "hand-ins").iterdir():
        file.unlink()
    assert [result.earned for result in score(scored.folder).results] == [5, 7, 0]


def test_records_that_were_lost_are_written_anew_from_the_hand_ins(room: Room) -> None:
    room.hand_in("ann")
    score(room.folder)
    before = [row[1:] for row in rows(room, "marks")]
    file_of(room).unlink()
    score(room.folder)
    assert [row[1:-1] for row in rows(room, "marks")] == [row[:-1] for row in before]


@pytest.mark.parametrize("jobs", [2, -1])
def test_several_processes_write_what_one_does(room: Room, jobs: int) -> None:
    for trainee in ("ann", "ben", "cy"):
        room.hand_in(trainee, {"double": "1 m"} if trainee == "cy" else None)
    score(room.folder)
    alone = [row[1:-1] for row in rows(room, "marks")]
    file_of(room).unlink()
    shared = score(room.folder, jobs=jobs)
    assert [row[1:-1] for row in rows(room, "marks")] == alone
    assert [result.earned for result in shared.results] == [8, 8, 0]


@pytest.mark.parametrize(
    ("options", "words"),
    [
        ({"jobs": 0}, "0 jobs cannot be had"),
        ({"jobs": -2}, "cannot be had"),
        ({"cluster": "tcp://127.0.0.1:1"}, "'distributed', which is not installed"),
    ],
)
def test_a_crew_that_cannot_be_had_gets_a_sentence(
    room: Room, monkeypatch: pytest.MonkeyPatch, options: dict[str, Any], words: str
) -> None:
    monkeypatch.setattr("importlib.util.find_spec", lambda _name: None)
    with pytest.raises(ClassError, match=words):
        score(room.folder, **options)


def told(results: Sequence[Result]) -> list[Any]:
    """Everybody's marks, but for when they came to hold."""
    return [
        (one.dealt.trainee, one.earned, [replace(mark, since="") for mark in one.marks])
        for one in results
    ]


@pytest.mark.skipif(os.name != "posix", reason="a kill that nothing can catch is POSIX's")
def test_a_run_that_is_killed_at_any_moment_leaves_no_mark_doubled_or_lost(
    make_room: MakeRoom,
) -> None:
    made = make_room(*(f"t{number}" for number in range(30)))
    made.deal()
    for number in range(30):
        made.hand_in(f"t{number}", {"double": f"{number} m", "plan": {"pump": "1"}})
    expected = told(score(made.folder).results)
    file_of(made).unlink()
    assert killed(made.path, 8, 0.35, seed=7)
    assert told(score(made.folder).results) == expected
    assert len(rows(made, "marks")) == 90
    assert len(rows(made, "receipts")) == 30
    assert len(rows(made, "counting")) == 30


def killed_at(room: Room, step: int) -> bool:
    """Score in a process that is killed right after its `step`-th write; whether it was.

    A write is a statement inside a transaction, or the moment before its commit.
    """
    child = os.fork()
    if not child:
        done = itertools.count(1)

        def count(connection: Any, *_: Any) -> None:
            if connection.get_execution_options().get("labkit_writes") and next(done) == step:
                os.kill(os.getpid(), signal.SIGKILL)

        event.listen(Engine, "after_cursor_execute", count)
        event.listen(Engine, "commit", count)
        try:
            score(room.folder)
        finally:
            os._exit(0)
    return os.WIFSIGNALED(os.waitpid(child, 0)[1])


@pytest.mark.skipif(os.name != "posix", reason="a kill that nothing can catch is POSIX's")
def test_a_run_that_is_killed_after_any_write_leaves_no_mark_doubled_or_lost(
    room: Room, clock: SetClock, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("labkit.classroom.handins.intake.BUNDLE_FILES", 1)
    clock.set("2026-11-20T10:00:00Z")
    for trainee in ("ann", "ben", "cy"):
        room.hand_in(trainee)
    tables = ("marks", "receipts", "journals", "counting", "grounds", "people", "editions")
    score(room.folder)
    whole = {name: rows(room, name) for name in tables}
    lengths = []
    # Every third one: a bundle is four writes, so each of them is met in one bundle or another.
    for step in itertools.count(1, 3):
        file_of(room).unlink()
        if not killed_at(room, step):
            break
        with closing(sqlite3.connect(file_of(room))) as opened:
            there = opened.execute("SELECT count(*) FROM sqlite_master WHERE name = 'marks'")
            lengths.append(len(rows(room, "marks")) if there.fetchone()[0] else -1)
        score(room.folder)
        assert {name: rows(room, name) for name in tables} == whole
    # A transaction is there whole or not at all: no tables, no marks, those of one, of two, of all.
    assert set(lengths) == {-1, 0, 3, 6, 9}
    assert len(lengths) > 10, "there were writes to be killed after"


def test_two_runs_at_once_write_the_same_as_one(make_room: MakeRoom) -> None:
    made = make_room(*(f"t{number}" for number in range(12)))
    made.deal()
    for number in range(12):
        made.hand_in(f"t{number}")
    assert two_at_once(made.path) == [0, 0]
    assert len(rows(made, "marks")) == 36
    assert len(rows(made, "receipts")) == 12
    assert len(rows(made, "counting")) == 12


def test_which_hand_in_counts_is_an_entry_of_its_own(room: Room, clock: SetClock) -> None:
    clock.set("2026-11-20T10:00:00Z")
    early = room.hand_in("ann", {"double": "1 m"})
    early.rename(early.with_name("early.json"))
    score(room.folder)
    clock.set("2026-11-20T11:00:00Z")
    room.hand_in("ann")
    assert score(room.folder).results[0].earned == 8
    room.write_class(deadline="2026-11-20 10:30+00:00", late="refuse")
    assert score(room.folder).results[0].earned == 0
    room.write_class(deadline="2026-11-20 09:30+00:00", late="refuse")
    assert not score(room.folder).results[0].counts
    found = Records.of(room.folder).rows(select(counting))
    assert [bool(row["digest"]) for row in found] == [True, True, True, False]


@pytest.mark.parametrize(("attempts", "earned"), [(1, 0), (2, 4), (3, 8)])
def test_attempts_beyond_those_allowed_do_not_count(
    room: Room, clock: SetClock, attempts: int, earned: int
) -> None:
    right = room.right("ann")
    turns = [{"double": "1 m"}, {"double": right["double"]}, {}, right]
    for number, answers in enumerate(turns):
        clock.set(f"2026-11-20T1{number}:00:00Z")
        made = room.hand_in("ann", answers)
        made.rename(made.with_name(f"{number}.json"))
    room.write_class(attempts=str(attempts))
    scoring = score(room.folder)
    assert scoring.results[0].earned == earned
    # The third hand-in holds the answers of the second: the button was pressed once more.
    told = [notice.file for notice in scoring.notices if notice.reason == "too many attempts"]
    assert told == [f"{number}.json" for number in range(4)][{1: 1, 2: 3, 3: 4}[attempts] :]


@pytest.mark.parametrize(
    ("damage", "words"),
    [
        (b"nonsense" * 100, r"cannot be used .* Bring the file back from a copy"),
        (b"SQLite format 3\x00" + bytes(900), "cannot be used"),
    ],
)
def test_damaged_records_get_a_sentence(room: Room, damage: bytes, words: str) -> None:
    file_of(room).write_bytes(damage)
    with pytest.raises(ClassError, match=words):
        score(room.folder)
    assert file_of(room).read_bytes() == damage


def test_on_a_full_disk_the_records_say_to_make_room_and_lose_nothing(
    room: Room, monkeypatch: pytest.MonkeyPatch
) -> None:
    room.hand_in("ann")
    score(room.folder)
    before = file_of(room).read_bytes()
    room.hand_in("ben", {"double": "x" * 19_000})
    records = Records.of

    def full(folder: ClassFolder) -> Records:
        opened = records(folder)
        with opened.engine.connect() as connection:
            # SQLite's own way to have no page more: "database or disk is full".
            pages = connection.exec_driver_sql("PRAGMA page_count").scalar_one()

            @event.listens_for(opened.engine, "checkout")
            def _no_more(connection: Any, *_: object) -> None:
                connection.execute(f"PRAGMA max_page_count = {pages}")

        return opened

    monkeypatch.setattr(Records, "of", full)
    with pytest.raises(ClassError, match=r"disk is full\)\. Make room .* what they hold stays"):
        score(room.folder)
    assert file_of(room).read_bytes() == before
    monkeypatch.undo()
    assert [result.counts for result in score(room.folder).results] == [True, True, False]


def test_records_in_a_file_that_cannot_be_made_say_who_must_be_let(room: Room) -> None:
    room.write_class(records="sqlite:///no/such/folder/records.sqlite")
    with pytest.raises(ClassError, match=r"unable to open .* Let this account write"):
        score(room.folder)


@pytest.mark.parametrize(
    ("number", "words"),
    [
        (errno.ENOSPC, r"No space left on device\. Make room"),
        (errno.EROFS, r"Read-only file system\. Let this account"),
        (errno.EIO, r"error\.$"),
    ],
)
def test_what_a_file_could_not_do_is_said_with_what_mends_it(number: int, words: str) -> None:
    assert re.search(words, sentences(OSError(number, os.strerror(number)))[0])
    assert sentences(OSError(number, os.strerror(number), "a.json"))[0].startswith("a.json: ")


def test_a_spreadsheet_that_is_held_open_is_to_be_closed() -> None:
    held = PermissionError(13, "Permission denied", ".x.part", None, "scores/score-sheet.xlsx")
    told = sentences(held)[0]
    assert told.startswith(
        "scores/score-sheet.xlsx: Permission denied. Close it in the spreadsheet"
    )


def test_records_of_another_class_or_version_get_a_sentence(room: Room) -> None:
    room.hand_in("ann")
    score(room.folder)
    with pytest.raises(ClassError, match="another class"):
        Records.open(room.path, class_id="room-8")
    with closing(sqlite3.connect(file_of(room))) as opened, opened:
        opened.execute("DROP TRIGGER keep_about_update")
        opened.execute("UPDATE about SET value = '99' WHERE name = 'version'")
    with pytest.raises(ClassError, match="another version of labkit"):
        score(room.folder)


def test_triggers_that_were_taken_out_are_put_back(scored: Room) -> None:
    with closing(sqlite3.connect(file_of(scored))) as opened, opened:
        opened.execute("DROP TRIGGER keep_marks_delete")
    score(scored.folder)
    with (
        closing(sqlite3.connect(file_of(scored))) as opened,
        pytest.raises(sqlite3.IntegrityError),
    ):
        opened.execute("DELETE FROM marks")


@pytest.mark.parametrize("url", ["nonsense", "mysql://server/x", "oracle://x", "file:///x", "://"])
def test_an_address_of_records_that_is_not_known_gets_a_sentence(room: Room, url: str) -> None:
    room.write_class(records=f"'{url}'")
    with pytest.raises(ClassError, match="records"):
        score(room.folder)


def test_records_can_lie_at_another_address(room: Room) -> None:
    room.hand_in("ann")
    room.write_class(records="sqlite:///elsewhere.sqlite")
    assert score(room.folder).results[0].earned == 8
    assert (room.path / "elsewhere.sqlite").exists()
    assert not file_of(room).exists()


def test_a_transaction_that_fails_keeps_nothing(room: Room) -> None:
    records = Records.of(room.folder)
    row = {"workbook": "w", "digest": "d", "reason": "r", "decided_at": "t"}

    def write_and_fail() -> None:
        with records.writing() as connection:
            records.add(counting, [row], connection)
            raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        write_and_fail()
    assert records.rows(select(counting)) == []


def test_every_mark_says_by_which_text_and_hand_in_it_was_given(scored: Room) -> None:
    records = Records.of(scored.folder)
    digests = {row["digest"] for row in records.rows(select(receipts))}
    for row in records.rows(select(marks)):
        assert row["digest"] in digests
        assert row["lab_digest"] == scored.dealt.labs["tiny"]["digest"]
        assert row["marked_at"].endswith("Z")


def test_a_statement_that_was_put_together_for_one_class_serves_all(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    put_together: list[str] = []
    compiled = SQLCompiler.__init__

    def noted(self: SQLCompiler, dialect: Any, statement: Any, **more: Any) -> None:
        put_together.append(str(type(statement)))
        compiled(self, dialect, statement, **more)

    first, second = (Records.temporary(name) for name in ("one", "another"))
    row = {"workbook": "w", "digest": "d", "reason": "r", "decided_at": "t"}
    first.add(counting, [row])
    found = first.rows(select(counting))
    monkeypatch.setattr(SQLCompiler, "__init__", noted)
    second.add(counting, [row])
    assert second.rows(select(counting)) == found
    assert put_together == []
