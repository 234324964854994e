"""No link is followed: neither to read what a stick only points to, nor to write where it leads."""

from __future__ import annotations

import os
import shutil
from pathlib import Path

import pytest
from tiny_class import Room

from labkit.classroom import unlinked
from labkit.classroom.errors import ClassError
from labkit.classroom.handins.collecting import Collected, collect
from labkit.classroom.handins.intake import files_in
from labkit.classroom.handins.receiving import RefusedError, read_bytes
from labkit.classroom.marks.scoring import score
from labkit.classroom.people.personal import held_of
from labkit.exchange.whole_file import write_whole

pytestmark = pytest.mark.skipif(os.name != "posix", reason="making a link needs rights elsewhere")


@pytest.fixture
def private(room: Room, tmp_path: Path) -> Path:
    """A folder of the trainer's own with a file that would be taken for a hand-in."""
    folder = tmp_path / "private"
    folder.mkdir()
    shutil.move(room.hand_in("ann"), folder / "tiny--ann.handin.json")
    (folder / "tiny--ann.handin.json").chmod(0o600)
    return folder


@pytest.fixture
def stick(tmp_path: Path) -> Path:
    folder = tmp_path / "stick"
    folder.mkdir()
    return folder


def taken(room: Room) -> list[str]:
    places = (room.path / "hand-ins", room.path / "set-aside")
    return [file.name for place in places for file in place.rglob("*") if not file.is_dir()]


def told(found: Collected) -> list[tuple[str, str]]:
    return [(notice.file, notice.reason) for notice in found.notices]


def test_a_link_to_a_file_is_named_and_not_followed(room: Room, private: Path, stick: Path) -> None:
    (stick / "mine.handin.json").symlink_to(private / "tiny--ann.handin.json")
    found = collect(room.folder, [stick])
    assert (found.new, taken(room)) == ([], [])
    assert told(found) == [("mine.handin.json", "not read")]
    assert "link" in found.notices[0].sentence


def test_a_link_to_a_folder_is_named_and_not_followed(
    room: Room, private: Path, stick: Path
) -> None:
    (stick / "deep").mkdir()
    (stick / "deep" / "photos").symlink_to(private)
    found = collect(room.folder, [stick])
    assert (found.new, taken(room)) == ([], [])
    assert told(found) == [("photos", "not read")]


def test_links_in_the_class_s_own_folder_are_not_followed(room: Room, private: Path) -> None:
    room.hand_in("ben")
    (room.path / "hand-ins" / "in").symlink_to(private)
    (room.path / "hand-ins" / "a.handin.json").symlink_to(private / "tiny--ann.handin.json")
    found = collect(room.folder)
    assert [item.dealt.trainee for item in found.new] == ["ben"]
    assert sorted(told(found)) == [("a.handin.json", "not read"), ("in", "not read")]
    scoring = score(room.folder)
    assert [result.counts for result in scoring.results] == [False, True, False]
    assert [notice.reason for notice in scoring.notices] == ["not read", "not read"]


def test_a_source_folder_that_is_a_link_was_named_by_the_trainer(
    room: Room, private: Path, stick: Path
) -> None:
    (stick / "way").symlink_to(private)
    assert [item.dealt.trainee for item in collect(room.folder, [stick / "way"]).new] == ["ann"]


def test_a_named_file_that_is_a_link_may_be_the_work_of_a_star(
    room: Room, private: Path, stick: Path
) -> None:
    (stick / "x.handin.json").symlink_to(private / "tiny--ann.handin.json")
    found = collect(room.folder, [stick / "x.handin.json"])
    assert (found.new, told(found)) == ([], [("x.handin.json", "not read")])


def test_a_named_file_that_became_a_link_is_refused(private: Path, stick: Path) -> None:
    file = stick / "x.handin.json"
    file.symlink_to(private / "tiny--ann.handin.json")
    with pytest.raises(RefusedError, match="link"):
        read_bytes(file, file)


def test_many_links_are_counted_not_all_named(room: Room, private: Path, stick: Path) -> None:
    for number in range(30):
        (stick / f"{number}.json").symlink_to(private)
    found = collect(room.folder, [stick])
    assert len(found.notices) == 21
    assert "10 more" in found.notices[-1].file


@pytest.mark.parametrize("by_steps", [True, False])
@pytest.mark.parametrize("swapped", ["file", "folder"])
def test_what_becomes_a_link_between_looking_and_opening_is_refused(
    private: Path, stick: Path, monkeypatch: pytest.MonkeyPatch, by_steps: bool, swapped: str
) -> None:
    if not by_steps:
        monkeypatch.setattr(unlinked, "_BY_STEPS", False)
    inner = stick / "inner"
    inner.mkdir()
    file = inner / "tiny--ann.handin.json"
    file.write_text("{}")
    (found,) = files_in(stick)
    assert read_bytes(found, stick) == b"{}"
    if swapped == "file":
        file.unlink()
        file.symlink_to(private / file.name)
    else:
        shutil.rmtree(inner)
        inner.symlink_to(private)
    with pytest.raises(RefusedError, match="link"):
        read_bytes(found, stick)


def test_a_link_that_comes_just_before_a_file_is_opened_is_refused(
    private: Path, stick: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    file = stick / "tiny--ann.handin.json"
    file.symlink_to(private / file.name)
    looked_at = os.stat(private / file.name)
    monkeypatch.setattr(Path, "lstat", lambda _: looked_at)
    with pytest.raises(RefusedError, match="link"):
        read_bytes(file, stick)


def test_a_link_that_comes_while_a_file_is_opened_is_noticed(
    private: Path, stick: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where a folder cannot be held open, the file that was opened must be the one looked at."""
    monkeypatch.setattr(unlinked, "_BY_STEPS", False)
    file = stick / "tiny--ann.handin.json"
    file.write_text("{}")
    real = os.open

    def elsewhere(path: Path, flags: int) -> int:
        return real(private / path.name, flags)

    monkeypatch.setattr(os, "open", elsewhere)
    with pytest.raises(RefusedError, match="link"):
        read_bytes(file, stick)


def test_a_pipe_or_a_folder_is_no_hand_in_and_stops_nothing(stick: Path) -> None:
    os.mkfifo(stick / "a.handin.json")
    (stick / "b.handin.json").mkdir()
    for name in ("a.handin.json", "b.handin.json"):
        with pytest.raises(RefusedError, match="not a file"):
            read_bytes(stick / name, stick)


def test_nothing_is_written_through_a_folder_that_is_a_link(
    room: Room, private: Path, stick: Path
) -> None:
    shutil.move(private / "tiny--ann.handin.json", stick / "tiny--ann.handin.json")
    (room.path / "hand-ins").mkdir(exist_ok=True)
    (room.path / "hand-ins" / "received").symlink_to(private)
    with pytest.raises(ClassError, match="received is a link"):
        collect(room.folder, [stick])
    assert list(private.iterdir()) == []


def test_a_workbook_is_not_dealt_through_a_link(room: Room, private: Path) -> None:
    shutil.rmtree(room.home("ben"))
    room.home("ben").symlink_to(private)
    with pytest.raises(ClassError, match="ben is a link"):
        room.deal()
    assert [file.name for file in private.iterdir()] == ["tiny--ann.handin.json"]


def test_what_lies_under_the_name_is_replaced_not_written_through(tmp_path: Path) -> None:
    other = tmp_path / "other"
    other.write_text("kept")
    target = tmp_path / "target"
    target.symlink_to(other)
    for part in ("target.part", ".target.part", f".target.{os.getpid()}.part"):
        (tmp_path / part).symlink_to(other)
    write_whole(target, b"new")
    assert other.read_text() == "kept"
    assert (target.read_text(), target.is_symlink()) == ("new", False)


def test_a_receipt_and_a_kept_hand_in_replace_a_link(
    room: Room, private: Path, stick: Path
) -> None:
    """A link to a file with the same bytes is not the file: it may hold others tomorrow."""
    shutil.copy(private / "tiny--ann.handin.json", stick)
    (item,) = collect(room.folder, [stick]).new
    (kept,) = (room.path / "hand-ins" / "received").iterdir()
    same = private / "same"
    for file in (kept, item.page):
        file.rename(same)
        file.symlink_to(same)
        (room.path / "records.sqlite").unlink()
        collect(room.folder, [stick])
        assert not file.is_symlink()
        same.unlink()


def test_what_is_held_of_a_person_does_not_look_through_their_links(
    room: Room, private: Path
) -> None:
    (private / "diary.txt").write_text("the trainer's own")
    (room.home("ann") / "note.txt").symlink_to(private / "diary.txt")
    (room.home("ann") / "more").symlink_to(private)
    assert "the trainer's own" not in str(held_of(room.folder, "ann"))
