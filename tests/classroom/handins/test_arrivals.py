"""Who asks what waits for a mark, or how one came about, is told truly what came in."""

from __future__ import annotations

from hashlib import sha256

import pytest
from set_clock import SetClock
from tiny_class import MakeRoom, Room

from labkit.classroom.errors import ClassError
from labkit.classroom.handins.collecting import collect
from labkit.classroom.marks.by_hand import give, to_mark
from labkit.classroom.marks.explaining import explain
from labkit.classroom.marks.scoring import score


def state(room: Room) -> list[str]:
    return list(to_mark(room.folder).sentences(room.folder))


def told(room: Room, trainee: str) -> str:
    return "\n".join(explain(room.folder, trainee))


def test_before_the_deal(make_room: MakeRoom) -> None:
    made = make_room()
    with pytest.raises(ClassError, match="was not dealt yet: run 'labkit deal"):
        state(made)
    with pytest.raises(ClassError, match="was not dealt yet: run 'labkit deal"):
        told(made, "ann")


def test_before_any_hand_in(room: Room) -> None:
    (sentence,) = state(room)
    assert sentence.startswith("Nothing that counts was handed in yet: 3 workbook(s) are dealt.")
    assert "Nothing that counts was handed in." in told(room, "ann")


@pytest.mark.parametrize("held", ["laptops", "room"])
def test_how_it_comes_in_depends_on_where_the_lab_is_held(make_room: MakeRoom, held: str) -> None:
    made = make_room(held=held)
    made.deal()
    (sentence,) = state(made)
    assert ("once you close its lab there" in sentence) == (held == "room")
    assert ("labkit receive" in sentence) == (held == "laptops")


@pytest.mark.parametrize("received", [False, True])
def test_what_lies_there_unscored_is_said(room: Room, *, received: bool) -> None:
    file = room.hand_in("ann")
    (file.parent / "copy.json").write_bytes(file.read_bytes())
    room.hand_in("ben")
    if received:
        collect(room.folder)
    before = {path: sha256(path.read_bytes()).digest() for path in file.parent.iterdir()}
    assert state(room) == ["2 hand-in(s) came in and wait to be scored: run 'labkit score' first."]
    assert "came in and waits to be scored: run 'labkit score' first." in told(room, "ann")
    assert "Nothing that counts was handed in." in told(room, "cy")
    with pytest.raises(ClassError, match=r"waits to be scored: run 'labkit score' first\."):
        give(room.folder, "ann", "tiny", "double", ["1"], by="R. Ops")
    # Looking scores nothing.
    assert {path: sha256(path.read_bytes()).digest() for path in file.parent.iterdir()} == before
    assert not to_mark(room.folder).scored


def test_when_all_is_scored_nothing_is_said_to_wait(room: Room) -> None:
    room.hand_in("ann")
    score(room.folder)
    assert state(room) == ["Nothing waits for a mark by hand in the 1 scored hand-in(s)."]
    assert "waits" not in told(room, "ann")


def test_what_came_in_since_the_scoring_is_said(room: Room, clock: SetClock) -> None:
    room.hand_in("ann", {"double": "1 m"}).rename(room.path / "hand-ins" / "first.json")
    score(room.folder)
    clock.set("2031-01-01T00:00:00Z")
    room.hand_in("ann")
    assert [sentence[:25] for sentence in state(room)] == [
        "1 hand-in(s) came in and ",
        "Nothing waits for a mark ",
    ]
    text = told(room, "ann")
    assert "0 of 8 marks" in text
    assert "Besides what is scored: A hand-in came in and waits to be scored" in text


def test_files_that_cannot_be_used_and_files_that_are_lost_are_said(room: Room) -> None:
    file = room.hand_in("ann")
    collect(room.folder)
    file.unlink()
    (room.path / "hand-ins" / "torn.handin.json").write_text('{"format": "labkit hand-in"')
    lost, torn = state(room)
    assert lost.startswith("1 hand-in(s) were received and never scored, and their files are gone")
    assert torn.startswith("1 file(s) in ")
    assert "its file is gone: bring it back into 'hand-ins' from a copy" in told(room, "ann")
