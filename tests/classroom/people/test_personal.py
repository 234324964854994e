"""What is held of a person comes out whole, and is erased without a trace or harm to others."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from sqlalchemy import select
from tiny_class import MakeRoom, Room

from labkit.classroom.errors import ClassError
from labkit.classroom.exports.sheet import write_sheets
from labkit.classroom.handins.collecting import collect
from labkit.classroom.keeping import retention_remark
from labkit.classroom.marks.by_hand import give
from labkit.classroom.marks.scoring import score
from labkit.classroom.pages.reports import write_pages
from labkit.classroom.people.erasing import erase
from labkit.classroom.people.personal import held_of
from labkit.classroom.records.schema import erasing, erasures, marks, people, receipts
from labkit.classroom.records.store import Records

NAME, ANSWER = "Zelda Quillfeather", "quite unmistakable"


@pytest.fixture
def full(make_room: MakeRoom, tmp_path: Path) -> Room:
    """Zelda has left a trace in every corner; somebody's id begins as hers does."""
    made = make_room(f"zq7,{NAME}", "zq7.b,Bo Tarn", "zq,Cy Morland")
    made.deal()
    for trainee in ("zq7.b", "zq"):
        made.hand_in(trainee)
    made.hand_in("zq7", {"double": ANSWER})
    stick = tmp_path / "stick"
    stick.mkdir()
    bad = (made.path / "hand-ins" / "tiny--zq7.handin.json").read_bytes()
    (stick / "tiny--zq7.handin.json").write_bytes(bad[:300])
    (stick / "other.handin.json").write_bytes(bad.replace(b"quite", b"never"))
    # Cut off as well, and somebody else's: its name alone tells whose.
    (made.path / "hand-ins" / "tiny--zq7.b.handin.json.txt").write_bytes(b"{ zq7.b")
    collect(made.folder)
    collect(made.folder, [stick])
    scoring = score(made.folder)
    write_pages(made.folder, scoring)
    write_sheets(scoring, made.folder.scores)
    give(made.folder, "zq7", "tiny", "double", ["0.5"], by="R. Ops", note=f"{NAME} was ill")
    return made


def traces(room: Room, *words: str) -> list[str]:
    return sorted(
        file.name
        for file in room.path.rglob("*")
        if file.is_file()
        and any(word.encode() in file.read_bytes() or word in file.name for word in words)
    )


def test_everything_held_of_a_person_comes_out_and_nothing_of_others(full: Room) -> None:
    held = held_of(full.folder, "zq7")
    text = json.dumps(held)
    assert held["roster"] == [{"id": "zq7", "name": NAME, "bench": "", "seat": ""}]
    assert len(held["records"]["people"]) == 1
    assert len(held["records"]["marks"]) == 3
    assert len(held["records"]["manual_marks"]) == 1
    # The hand-in, the one that was cut off, and the one that was changed.
    assert len(held["records"]["receipts"]) == 3
    names = sorted(item["file"] for item in held["files"])
    assert len([name for name in names if name.startswith("set-aside")]) == 2
    assert "hand-ins/tiny--zq7.handin.json" in names
    assert "scores/tiny--zq7.html" in names
    assert "workbooks/zq7/tiny.answers.jsonl" in names
    assert ANSWER in text
    assert "Tarn" not in text
    assert "Morland" not in text
    assert full.folder.secret() not in text


@pytest.mark.parametrize("keep_marks", [True, False])
def test_an_erasure_leaves_no_trace_and_harms_nobody_else(full: Room, keep_marks: bool) -> None:
    others = {
        file: file.read_bytes()
        for file in full.path.rglob("*")
        if file.is_file() and ("zq7.b" in str(file) or "--zq." in file.name)
    }
    assert len(others) > 6
    done = erase(full.folder, "zq7", reason="asked for it", keep_marks=keep_marks)
    assert "Take their line out" in done.left_to_do[0]
    (full.path / "roster.csv").write_text("id,name\nzq7.b,Bo Tarn\nzq,Cy Morland\n")
    assert traces(full, NAME, ANSWER) == []
    assert not (full.path / "workbooks" / "zq7").exists()
    assert {file: file.read_bytes() for file in others} == others
    records = Records.of(full.folder)
    left = records.rows(select(marks).where(marks.c.workbook.like(f"{done.tombstone}%")))
    assert len(left) == (3 if keep_marks else 0)
    assert sum(row["earned"] for row in left) == 0
    assert len(records.rows(select(marks))) == (9 if keep_marks else 6)
    assert not [row for row in records.rows(select(people)) if row["trainee"] == "zq7"]
    assert len(records.rows(select(receipts))) == 3
    (entry,) = records.rows(select(erasures))
    assert (entry["reason"], entry["tombstone"]) == ("asked for it", done.tombstone)
    scoring = score(full.folder)
    assert [result.dealt.trainee for result in scoring.results] == ["zq7.b", "zq"]
    assert [result.earned for result in scoring.results] == [8, 8]


def test_the_door_is_shut_again_after_an_erasure(full: Room) -> None:
    import sqlite3
    from contextlib import closing

    erase(full.folder, "zq7", reason="asked")
    assert Records.of(full.folder).rows(select(erasing)) == []
    with (
        closing(sqlite3.connect(full.path / "records.sqlite")) as opened,
        pytest.raises(sqlite3.IntegrityError),
    ):
        opened.execute("DELETE FROM marks")


def test_an_erasure_that_was_cut_short_is_finished_by_the_next(
    full: Room, monkeypatch: pytest.MonkeyPatch
) -> None:
    from labkit.classroom.people import erasing

    def pulled(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(erasing, "_take_out", pulled)
    with pytest.raises(KeyboardInterrupt):
        erase(full.folder, "zq7", reason="asked")
    monkeypatch.undo()
    erase(full.folder, "zq7", reason="asked")
    assert traces(full, NAME, ANSWER) == ["roster.csv"]


def test_a_hand_in_that_comes_back_on_a_stick_is_not_taken_in(full: Room, tmp_path: Path) -> None:
    file = tmp_path / "again.handin.json"
    file.write_bytes((full.path / "hand-ins" / "tiny--zq7.handin.json").read_bytes())
    erase(full.folder, "zq7", reason="asked")
    found = collect(full.folder, [file])
    assert found.new == []
    assert [notice.reason for notice in found.notices] == ["foreign"]
    assert [name for name in traces(full, NAME, ANSWER) if name != "roster.csv"] == []


def test_who_is_not_there_or_no_reason_gets_a_sentence(full: Room) -> None:
    with pytest.raises(ClassError, match="Nobody with the id 'zz'"):
        erase(full.folder, "zz", reason="asked")
    with pytest.raises(ClassError, match="Nobody"):
        held_of(full.folder, "zz")
    with pytest.raises(ClassError, match="Say why"):
        erase(full.folder, "zq7", reason=" ")


@pytest.mark.parametrize(
    ("until", "over"), [("2020-01-01", True), ("2999-01-01", False), ("", False)]
)
def test_it_is_said_when_the_time_to_keep_is_over(full: Room, until: str, over: bool) -> None:
    full.write_class(keep_until=until)
    assert bool(retention_remark(full.folder)) == over
