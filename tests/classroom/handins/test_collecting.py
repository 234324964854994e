"""Hand-ins come from anywhere, in any order, as often as liked; a stick is only read."""

from __future__ import annotations

import json
import os
import shutil
import zipfile
from pathlib import Path

import pytest
from tiny_class import MakeRoom, Room

from labkit.classroom.errors import ClassError
from labkit.classroom.handins.collecting import Collected, collect
from labkit.classroom.marks.scoring import score


@pytest.fixture
def stick(room: Room, tmp_path: Path) -> Path:
    """A stick with the hand-ins of two, one cut off, and other people's files."""
    folder = tmp_path / "stick"
    (folder / "deep" / "er").mkdir(parents=True)
    for trainee in ("ann", "ben", "cy"):
        made = room.hand_in(trainee)
        shutil.move(made, folder / made.name)
    (folder / "tiny--ben.handin.json").rename(folder / "deep" / "er" / "mail (1).json")
    cut = folder / "tiny--cy.handin.json"
    cut.write_bytes(cut.read_bytes()[:200])
    (folder / "package.json").write_text('{"private": true}')
    (folder / "diary.txt").write_text("private")
    (folder / "holiday.jpg").write_bytes(b"\xff\xd8")
    with zipfile.ZipFile(folder / "all.zip", "w") as packed:
        packed.writestr("x.handin.json", "{}")
    return folder


def files(folder: Path) -> dict[str, bytes]:
    return {
        str(file.relative_to(folder)): file.read_bytes()
        for file in folder.rglob("*")
        if file.is_file()
    }


def names(found: Collected) -> list[str]:
    return [taken.dealt.trainee for taken in found.new]


def test_a_stick_is_taken_in_once_however_often_it_comes(room: Room, stick: Path) -> None:
    before = files(stick)
    found = collect(room.folder, [stick])
    assert sorted(names(found)) == ["ann", "ben"]
    assert [notice.file for notice in found.notices] == ["tiny--cy.handin.json"]
    assert [item.name for item in found.missing] == ["Cy Morland"]
    assert found.left_alone.count == 4
    assert files(stick) == before
    mine = files(room.path)
    again = collect(room.folder, [stick, stick, stick / "deep"])
    assert (names(again), again.known.count) == ([], 5)
    mine.pop("records.sqlite")
    now = files(room.path)
    now.pop("records.sqlite")
    assert now == mine, "nothing else was written"
    shutil.rmtree(stick)
    scoring = score(room.folder)
    assert [result.earned for result in scoring.results] == [8, 8, 0]
    assert scoring.notices == (), "our own copies are not taken for second hand-ins"


def test_nothing_private_is_copied(room: Room, stick: Path) -> None:
    collect(room.folder, [stick])
    held = b"".join(files(room.path).values())
    assert b"private" not in held
    assert {file.name for file in (room.path / "set-aside").iterdir()} == {
        next((room.path / "set-aside").glob("*.handin.json")).name
    }


def test_a_single_file_is_a_source_too(room: Room, stick: Path) -> None:
    assert names(collect(room.folder, [stick / "tiny--ann.handin.json"])) == ["ann"]


def test_the_folder_hand_ins_is_the_source_where_none_is_named(room: Room) -> None:
    room.hand_in("ann")
    found = collect(room.folder)
    assert names(found) == ["ann"]
    assert not (room.path / "hand-ins" / "received").exists()
    assert names(collect(room.folder)) == []


def test_a_source_that_is_not_there_gets_a_sentence(room: Room, tmp_path: Path) -> None:
    with pytest.raises(ClassError, match="Is the stick"):
        collect(room.folder, [tmp_path / "gone"])


def test_a_receipt_says_who_what_when_and_which_file(room: Room, stick: Path) -> None:
    from hashlib import sha256

    room.write_class(deadline="2020-01-01", time_zone="Asia/Kathmandu")
    data = (stick / "tiny--ann.handin.json").read_bytes()
    (taken,) = collect(room.folder, [stick / "tiny--ann.handin.json"]).new
    page = taken.page.read_text("utf-8")
    digest = sha256(data).hexdigest()
    assert taken.code == f"{digest[:5]}-{digest[5:10]}".upper()
    for words in ("Ann Orrel", "(ann)", "tiny", taken.code, digest, "UTC+05:45", "(late:"):
        assert words in page
    assert "<script" not in page


def test_what_was_scored_first_gets_its_receipt_too(room: Room) -> None:
    room.hand_in("ann")
    score(room.folder)
    assert not (room.path / "receipts").exists()
    assert names(collect(room.folder)) == []
    (page,) = (room.path / "receipts").glob("tiny--ann--*.html")
    text = page.read_text("utf-8")
    assert "Ann Orrel" in text
    page.write_text("the trainer's own words", encoding="utf-8")
    collect(room.folder)
    assert page.read_text("utf-8") == "the trainer's own words", "what is there is left alone"


def test_names_that_are_traps_stay_text_in_a_receipt(make_room: MakeRoom) -> None:
    made = make_room('t1,"<script>alert(1)</script>"')
    made.deal()
    made.hand_in("t1")
    (taken,) = collect(made.folder).new
    assert "<script>alert" not in taken.page.read_text("utf-8")
    assert taken.page.parent == made.path / "receipts"


def test_half_a_copy_is_never_taken_for_a_hand_in(
    room: Room, stick: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def pulled(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(os, "fsync", pulled)
    with pytest.raises(KeyboardInterrupt):
        collect(room.folder, [stick])
    monkeypatch.undo()
    scoring = score(room.folder)
    assert scoring.notices == ()
    assert not any(result.counts for result in scoring.results)
    assert sorted(names(collect(room.folder, [stick]))) == ["ann", "ben"]


def test_a_hand_in_that_was_foreign_counts_once_its_trainee_is_dealt_to(room: Room) -> None:
    made = room.hand_in("ann")
    record = room.path / "deal.json"
    whole = record.read_bytes()
    content = json.loads(whole)
    content["dealt"] = content["dealt"][1:]
    record.write_text(json.dumps(content))
    assert [notice.reason for notice in collect(room.folder).notices] == ["foreign"]
    record.write_bytes(whole)
    assert names(collect(room.folder)) == ["ann"]
    assert made.exists()
    assert score(room.folder).results[0].earned == 8
