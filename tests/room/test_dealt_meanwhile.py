"""What is dealt by another command while the room is open: late trainees and retakes."""

from __future__ import annotations

from pathlib import Path

import pytest
from in_a_browser import Browser
from starlette.websockets import WebSocketDisconnect
from tiny_class import Room as Class

from labkit.classroom.dealing.deal import deal_again
from labkit.classroom.dealt import Dealt
from labkit.page.app import NO_SEAT
from labkit.page.desk import Heard
from labkit.room.app import room_app
from labkit.room.room import ANOTHER_ATTEMPT, Room
from labkit.room.second import Second
from labkit.room.trainers import Trainers

EVERYBODY = ("ann,Ann Orrel", "ben,Ben Tasker", "cy,Cy Morland")


def _item(room: Room, trainee: str = "ann") -> Dealt:
    return room.workbooks.items[trainee, "tiny"]


def _answer(room: Room, item: Dealt, token: str = "t1") -> Heard:
    said = {"exercise": "double", "message": {"do": "answer", "token": token, "answer": "1 m"}}
    heard = room.workbooks.opened(item).desk.hear(said)
    assert heard
    return heard


def test_a_late_trainee_joins_the_room_that_is_open(room: Room, in_class: Class) -> None:
    assert room.look_again() == []
    in_class.write_roster(*EVERYBODY, "dee,Dee Late")
    in_class.deal()
    assert room.look_again() == []
    assert room.people["dee"] == "Dee Late"
    assert room.trainee_of(room.on_cards["dee"]) == "dee"
    assert _answer(room, _item(room, "dee"))["saved"]["answered"]


def test_a_retake_is_worked_at_from_then_on_and_what_was_saved_before_is_handed_in(
    room: Room, in_class: Class
) -> None:
    first = _item(room)
    _answer(room, first)
    deal_again(in_class.folder, in_class.library, ["ann"])
    assert room.look_again() == [first]
    second = _item(room)
    assert (second.attempt, first.attempt) == (2, 1)
    assert not room.workbooks.opened(second).desk.saved["double"]["answered"]
    assert _answer(room, first, "t2")["reply"] == {
        "token": "t2",
        "failed": f"Not saved: {ANOTHER_ATTEMPT}",
    }
    assert room.settle() == [first]
    assert room.settle() == []
    assert room.receipt(first)
    assert not room.receipt(second)


def test_a_room_opened_after_a_retake_hands_in_what_was_saved_before(
    room: Room, in_class: Class
) -> None:
    first = _item(room)
    _answer(room, first)
    deal_again(in_class.folder, in_class.library, ["ann"])
    later = Room(in_class.folder)
    assert later.settle() == [first]
    assert later.receipt(first)


def test_whoever_is_gone_from_the_roster_sits_here_no_more(room: Room, in_class: Class) -> None:
    app = room_app(room, Trainers(["http://192.0.2.1:8642"]))
    ben = Browser(app).joined(room, "ben")
    gone = _item(room, "ben")
    in_class.write_roster("ann,Ann Orrel", "cy,Cy Morland", "dee,Dee Late")
    in_class.deal()
    assert room.look_again() == [gone]
    assert ben.answers("double", "1 m").status_code == 403


def test_a_page_that_shows_the_earlier_attempt_is_let_go(room: Room, in_class: Class) -> None:
    app = room_app(room, Trainers(["http://192.0.2.1:8642"]))
    ann = Browser(app)
    with ann.client:
        ann.joined(room, "ann")
        with ann.socket() as socket:
            deal_again(in_class.folder, in_class.library, ["ann"])
            with pytest.raises(WebSocketDisconnect) as closed:
                socket.receive_json()
        assert closed.value.code == NO_SEAT
        workbook = ann.client.get("/lab/tiny/desk").json()["workbook"]
        assert workbook == _item(room).workbook != in_class.dealt.dealt[0].workbook


def test_the_second_disk_knows_whom_was_dealt_what(in_class: Class, tmp_path: Path) -> None:
    stick = tmp_path / "stick"
    stick.mkdir()
    second = Second(in_class.folder, stick)
    room = Room(in_class.folder, second)
    in_class.write_roster(*EVERYBODY, "dee,Dee Late")
    in_class.deal()
    room.look_again()
    for file in ("deal.json", "roster.csv"):
        assert (second.copy / file).read_bytes() == (in_class.path / file).read_bytes()
    second.close()
