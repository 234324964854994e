"""The second disk: saved means on both, and the copy can be held in the class's stead."""

from __future__ import annotations

import os
import shutil
import sqlite3
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient
from tiny_class import Room as Class

from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.errors import ClassError
from labkit.classroom.held import holding
from labkit.classroom.marks.scoring import score
from labkit.classroom.people.erasing import erase
from labkit.classroom.private_place import Place
from labkit.page.desk import Heard
from labkit.room import second as second_disk
from labkit.room.app import room_app
from labkit.room.results import results_page, work_out_results
from labkit.room.room import Room
from labkit.room.second import Second, remarks_on_copies
from labkit.room.trainers import Trainers

JOURNAL = Path("room", "journals", "ann", "tiny.answers.jsonl")
LOG = Path("room", "room.jsonl")


@pytest.fixture
def stick(tmp_path: Path) -> Path:
    stick = tmp_path / "stick"
    stick.mkdir()
    return stick


@pytest.fixture
def second(in_class: Class, stick: Path) -> Second:
    return Second(in_class.folder, stick)


@pytest.fixture
def held(in_class: Class, second: Second) -> Room:
    room = Room(in_class.folder, second)
    room.held()
    return room


def _answer(room: Room, answer: object, token: str = "t1") -> Heard:
    item = room.workbooks.items["ann", "tiny"]
    message = {"do": "answer", "token": token, "answer": answer}
    heard = room.workbooks.opened(item).desk.hear({"exercise": "double", "message": message})
    assert heard
    return heard


def _equal(in_class: Class, second: Second, *files: Path) -> bool:
    return all(
        (in_class.path / file).read_bytes() == (second.copy / file).read_bytes()
        for file in files or (JOURNAL, LOG)
    )


def _fails(patch: pytest.MonkeyPatch) -> None:
    """The second disk takes half of what it is given, and says that it is full."""

    def full(file: Path, data: bytes) -> None:
        with file.open("ab") as stream:
            stream.write(data[: len(data) // 2])
        raise OSError(28, "No space left on device")

    patch.setattr(second_disk, "_append", full)


def test_what_is_needed_to_hold_the_class_is_copied_for_its_owner_alone(
    in_class: Class, stick: Path
) -> None:
    score(in_class.folder)
    (in_class.path / "print").mkdir()
    (in_class.path / "print" / "cards.html").write_text("", "utf-8")
    Place(in_class.folder.played).write("{}", "ann", "tiny.a-bench.played.json")
    told: list[tuple[int, int]] = []
    copy = Second(in_class.folder, stick, lambda *told_now: told.append(told_now)).copy
    assert copy == stick / "class"
    names = {path.name for path in copy.iterdir()}
    assert {"class.yaml", "roster.csv", "class-secret.txt", "deal.json", "labs", "room"} <= names
    assert "records.sqlite" in names
    assert not names & {"workbooks", "scores", "print"}
    assert not (copy / "room" / "played").exists()
    assert told[-1][0] == told[-1][1] == len(told)
    for path in copy.rglob("*"):
        assert path.stat().st_mode & 0o077 == 0, path


def test_every_entry_is_on_both_disks_byte_for_byte(
    held: Room, in_class: Class, second: Second
) -> None:
    assert _answer(held, "1 m")["reply"].get("saved")
    assert _answer(held, "Ω \ud800", "t2")["reply"].get("saved")
    held.seated("ann", "192.0.2.7")
    held.close_lab("tiny", "Mira")
    assert b"t2" in (second.copy / JOURNAL).read_bytes()
    assert _equal(in_class, second)


def test_what_the_second_disk_does_not_take_is_not_confirmed_and_nowhere(
    held: Room, in_class: Class, second: Second, monkeypatch: pytest.MonkeyPatch
) -> None:
    _answer(held, "1 m")
    before = (in_class.path / JOURNAL).read_bytes()
    with monkeypatch.context() as patch:
        _fails(patch)
        failed = str(_answer(held, "2 m", "t2")["reply"].get("failed"))
    assert failed.startswith("Not saved: the second disk")
    assert str(in_class.path) not in failed
    assert "nothing is confirmed" in second.trouble
    assert "No space left" in second.trouble
    # Also where the disk has room again: the trainer decides.
    assert "failed" in _answer(held, "2 m", "t2")["reply"]
    with pytest.raises(OSError, match="second disk"):
        held.close_lab("tiny", "Mira")
    assert held.is_open("tiny")
    assert (in_class.path / JOURNAL).read_bytes() == before
    assert _equal(in_class, second)


def test_the_room_goes_on_without_it_and_with_it_again(
    held: Room, in_class: Class, second: Second, monkeypatch: pytest.MonkeyPatch
) -> None:
    with monkeypatch.context() as patch:
        _fails(patch)
        with pytest.raises(OSError, match="second disk"):
            held.seated("ann", "192.0.2.7")
    held.without_second("Mira")
    assert not second.trouble
    assert not second.used
    assert _answer(held, "2 m", "t2")["reply"].get("saved")
    assert not (second.copy / JOURNAL).exists()
    held.second_again("Mira")
    assert second.used
    assert _equal(in_class, second)
    _answer(held, "3 m", "t3")
    assert _equal(in_class, second)
    log = (in_class.path / LOG).read_text("utf-8")
    assert log.count('"by": "Mira", "act": "without second"') == 1
    assert log.count('"by": "Mira", "act": "second again"') == 1


def test_a_disk_that_is_pulled_out_is_noticed_and_nothing_is_written_in_its_place(
    held: Room, in_class: Class, second: Second, stick: Path
) -> None:
    _answer(held, "1 m")
    stick.rename(stick.with_name("pulled"))
    with pytest.raises(OSError, match="second disk"):
        held.settle()
    assert second.trouble
    assert "failed" in _answer(held, "2 m", "t2")["reply"]
    with pytest.raises(ClassError, match="cannot be used yet"):
        held.second_again("Mira")
    assert not stick.exists()
    stick.with_name("pulled").rename(stick)
    held.second_again("Mira")
    assert _answer(held, "2 m", "t2")["reply"].get("saved")
    assert _equal(in_class, second)


def test_another_disk_in_its_place_is_not_written_to(
    held: Room, in_class: Class, second: Second, monkeypatch: pytest.MonkeyPatch
) -> None:
    """An empty place of a disk is a folder of the machine's own disk."""
    before = (in_class.path / LOG).stat().st_mtime_ns
    monkeypatch.setattr(second, "_disk", -1)
    monkeypatch.setattr(second, "_apart", True)
    with pytest.raises(OSError, match="second disk"):
        held.seated("ann", "192.0.2.7")
    assert "not connected" in second.trouble
    # Nor was it written here, to be taken back.
    assert (in_class.path / LOG).stat().st_mtime_ns == before
    with pytest.raises(ClassError, match="not connected"):
        held.second_again("Mira")


@pytest.mark.parametrize("torn", [False, True])
def test_a_line_that_a_crash_left_on_the_first_disk_alone_is_completed_on_the_second(
    held: Room, in_class: Class, second: Second, stick: Path, *, torn: bool
) -> None:
    _answer(held, "1 m")
    second.close()
    for file in (JOURNAL, LOG):
        lines = (second.copy / file).read_bytes().splitlines(keepends=True)
        rest = lines[-1][:20] if torn else b""
        (second.copy / file).write_bytes(b"".join(lines[:-1]) + rest)
    again = Second(in_class.folder, stick)
    assert _equal(in_class, again)
    assert _answer(Room(in_class.folder, again), "1 m")["saved"]["answer"] == "1 m"
    assert _equal(in_class, again)


def test_answers_that_the_second_disk_alone_still_has_come_back(
    held: Room, in_class: Class, second: Second, stick: Path
) -> None:
    _answer(held, "1 m")
    _answer(held, "2 m", "t2")
    second.close()
    whole = (in_class.path / JOURNAL).read_bytes()
    (in_class.path / JOURNAL).write_bytes(whole[: len(whole) - 30])
    with (second.copy / JOURNAL).open("ab") as file:
        file.write(b'{"event": "ans')
    again = Second(in_class.folder, stick)
    assert (in_class.path / JOURNAL).read_bytes() == whole
    assert _equal(in_class, again)


def test_what_was_handed_in_is_on_both_before_there_is_a_receipt(
    held: Room, in_class: Class, second: Second
) -> None:
    _answer(held, in_class.right("ann")["double"])
    item = held.workbooks.items["ann", "tiny"]
    taken = held.hand_in([item])[item.workbook]
    second.close()
    assert _equal(in_class, second)
    copy = ClassFolder.open(second.copy)
    assert Room(copy).receipt(item) == (taken.code, taken.received_at)
    assert (second.copy / "receipts" / taken.page.name).read_bytes() == taken.page.read_bytes()
    with closing(sqlite3.connect(second.copy / "records.sqlite")) as records:
        assert records.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    for one, other in zip(score(copy).results, score(in_class.folder).results, strict=True):
        assert (one.dealt, one.share) == (other.dealt, other.share)


def test_a_hand_in_that_came_onto_one_disk_is_confirmed_once_it_is_on_both(
    held: Room, in_class: Class, second: Second, monkeypatch: pytest.MonkeyPatch
) -> None:
    _answer(held, "1 m")
    item = held.workbooks.items["ann", "tiny"]
    with monkeypatch.context() as patch:

        def locked(*_: Any) -> None:
            raise ClassError("The records cannot be copied now.")

        patch.setattr(second, "_keep_records", locked)
        with pytest.raises(ClassError, match="cannot be copied"):
            held.hand_in([item])
        assert held.receipt(item) is None
    held.settle()
    receipt = held.receipt(item)
    assert receipt
    second.close()
    assert Room(ClassFolder.open(second.copy)).receipt(item) == receipt
    assert _equal(in_class, second)


def test_what_other_commands_bring_into_the_records_is_copied_too(
    held: Room, in_class: Class, second: Second
) -> None:
    in_class.hand_in("ben")
    score(in_class.folder)
    held.settle()
    second.close()
    marks = "SELECT count(*) FROM marks"
    with closing(sqlite3.connect(second.copy / "records.sqlite")) as records:
        assert records.execute(marks).fetchone()[0] > 0
    assert list((second.copy / "hand-ins").iterdir())


def test_a_copy_that_was_held_since_is_never_written_over(
    held: Room, in_class: Class, second: Second, stick: Path
) -> None:
    _answer(held, "1 m")
    second.close()
    taken_over = Room(ClassFolder.open(second.copy))
    assert "must not hold the class any more" in remarks_on_copies(taken_over.folder, None)[0]
    taken_over.held()
    _answer(taken_over, "2 m", "t2")
    newer = (second.copy / JOURNAL).read_bytes()
    with pytest.raises(ClassError, match="held since"):
        Second(in_class.folder, stick)
    with pytest.raises(ClassError, match="held since"):
        remarks_on_copies(in_class.folder, None)
    with pytest.raises(ClassError, match="held since"):
        held.second_again("Mira")
    assert (second.copy / JOURNAL).read_bytes() == newer


def test_a_class_that_had_a_copy_reminds_of_it_where_that_cannot_be_looked_at(
    held: Room, in_class: Class, second: Second, stick: Path
) -> None:
    assert held.second is second
    # The copy is there and no newer: nothing to be said.
    assert remarks_on_copies(in_class.folder, None) == []
    stick.rename(stick.with_name("pulled"))
    (said,) = remarks_on_copies(in_class.folder, None)
    assert str(second.copy) in said
    assert "go on with the copy" in said
    assert remarks_on_copies(in_class.folder, second) == []


def test_a_copy_is_held_by_nobody_else_meanwhile(second: Second, in_class: Class) -> None:
    copy = ClassFolder.open(second.copy)
    with pytest.raises(ClassError, match="is open"), holding(copy):
        pass
    second.drop()
    with holding(copy):
        pass
    assert in_class.path.exists()


def test_no_other_folder_is_written_into(in_class: Class, stick: Path, tmp_path: Path) -> None:
    with pytest.raises(ClassError, match="Is the second disk connected"):
        Second(in_class.folder, tmp_path / "none")
    for place in (in_class.path, in_class.path.parent):
        with pytest.raises(ClassError, match="class itself"):
            Second(in_class.folder, place)
    (stick / "class").mkdir()
    (stick / "class" / "holiday.txt").write_text("", "utf-8")
    with pytest.raises(ClassError, match="no copy that labkit keeps"):
        Second(in_class.folder, stick)
    assert [path.name for path in (stick / "class").iterdir()] == ["holiday.txt"]
    shutil.rmtree(stick / "class")
    Second(in_class.folder, stick).close()
    (stick / "class" / "class-secret.txt").write_text("0" * 64, "utf-8")
    with pytest.raises(ClassError, match="no copy that labkit keeps"):
        Second(in_class.folder, stick)


@pytest.mark.skipif(os.name != "posix" or os.geteuid() == 0, reason="root may write anywhere")
def test_a_disk_that_may_not_be_written_to_is_a_sentence(in_class: Class, stick: Path) -> None:
    stick.chmod(0o500)
    with pytest.raises(ClassError, match="let this account write"):
        Second(in_class.folder, stick)


def test_who_is_erased_is_told_to_be_on_the_second_disk(
    held: Room, in_class: Class, second: Second, stick: Path
) -> None:
    _answer(held, "1 m")
    second.close()
    in_class.write_roster("ben,Ben Tasker", "cy,Cy Morland")
    erased = erase(in_class.folder, "ann", reason="asked for it")
    assert any(str(second.copy) in sentence for sentence in erased.left_to_do)
    again = Second(in_class.folder, stick)
    assert _equal(in_class, again, LOG)
    assert not (in_class.path / JOURNAL).exists()


def test_the_trainers_page_says_what_is_wrong_and_lets_the_trainer_decide(
    held: Room, in_class: Class, second: Second, monkeypatch: pytest.MonkeyPatch
) -> None:
    trainers = Trainers(["http://192.0.2.1:8642"])
    app = room_app(held, trainers)
    mira = TestClient(
        app, base_url=trainers.addresses[0], headers={"origin": trainers.addresses[0]}
    )
    mira.post("/trainer/sign-in", json={"key": trainers.key, "name": "Mira"}).raise_for_status()
    now = mira.get("/trainer/now").json()
    assert now["second"] == {"place": str(second.copy), "used": True, "trouble": ""}
    with monkeypatch.context() as patch:
        _fails(patch)
        joined = mira.post("/join", json={"code": held.on_cards["ann"]})
    assert joined.status_code == 503
    assert "second disk does not take" in mira.get("/trainer/now").json()["trouble"]
    assert mira.post("/trainer/do", json={"act": "without second"}).json() == {"done": True}
    now = mira.get("/trainer/now").json()
    assert (now["second"]["used"], now["second"]["trouble"]) == (False, "")
    assert mira.post("/join", json={"code": held.on_cards["ann"]}).json() == {"joined": True}
    assert mira.post("/trainer/do", json={"act": "second again"}).json() == {"done": True}
    assert mira.get("/trainer/now").json()["second"]["used"]
    assert _equal(in_class, second, LOG)


def test_results_that_were_released_are_there_after_a_take_over(
    held: Room, in_class: Class, second: Second
) -> None:
    _answer(held, in_class.right("ann")["double"])
    item = held.workbooks.items["ann", "tiny"]
    held.hand_in([item])
    work_out_results(in_class.folder)
    held.release("tiny", "Mira")
    held.settle()
    second.close()
    copy = ClassFolder.open(second.copy)
    assert Room(copy).is_released("tiny")
    assert results_page(copy, item) == results_page(in_class.folder, item)


def test_without_a_second_disk_there_is_none_to_be_used(room: Room) -> None:
    for act in (room.without_second, room.second_again):
        with pytest.raises(ClassError, match="without a second disk"):
            act("Mira")
