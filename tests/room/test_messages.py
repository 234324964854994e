"""A trainer's messages: to whom they come, until they are put away, and who may see them."""

from __future__ import annotations

import json
import os
from typing import Any

import pytest
from in_a_browser import FROM_HERE, Browser, Open
from set_clock import SetClock
from tiny_class import Room as Class

from labkit.classroom.errors import ClassError
from labkit.classroom.people.erasing import erase
from labkit.classroom.people.personal import held_of
from labkit.room.app import room_app
from labkit.room.room import Room
from labkit.room.trainers import Trainers


def _texts(room: Room, trainee: str) -> list[str]:
    return [one.text for one in room.told.to(trainee)]


def _number(room: Room) -> str:
    return room.told.all()[-1].number


def test_a_message_to_one_to_several_and_to_all_waits_until_it_is_put_away(
    room: Room, in_class: Class
) -> None:
    room.told.send(["ann"], "  Look at\nthe caution ", "Mira")
    room.told.send(["ann", "ben", "ann"], "Come to the rig", "Mira")
    room.told.send([""], "Ten more minutes", "Mira")
    assert _texts(room, "ann") == ["Look at the caution", "Come to the rig", "Ten more minutes"]
    assert _texts(room, "ben") == ["Come to the rig", "Ten more minutes"]
    assert room.told.read(_number(room), "ann")
    assert not room.told.read(_number(room), "ann")
    # Who comes later, or after the room was opened again.
    again = Room(in_class.folder)
    assert _texts(again, "ann") == ["Look at the caution", "Come to the rig"]
    assert _texts(again, "cy") == ["Ten more minutes"]
    assert again.told.all() == room.told.all()


@pytest.mark.parametrize(
    ("to", "text", "why"),
    [
        (["ann"], " \n\x07 ", "Write something"),
        (["ann"], "x" * 301, "at most 300"),
        ([], "Hello", "to whom"),
        (["ann", "zoe"], "Hello", "nobody of this class"),
    ],
)
def test_what_cannot_be_read_or_goes_to_nobody_is_refused(
    room: Room, to: list[str], text: str, why: str
) -> None:
    with pytest.raises(ClassError, match=why):
        room.told.send(to, text, "Mira")
    assert room.told.all() == []


def test_a_message_is_taken_back_from_all_who_have_not_read_it(room: Room) -> None:
    room.told.send(["ann", "ben"], "Come to the rig", "Mira")
    room.told.read(_number(room), "ann")
    room.told.take_back(_number(room), "Olaf")
    assert _texts(room, "ben") == []
    assert not room.told.read(_number(room), "ben")
    with pytest.raises(ClassError, match="there no more"):
        room.told.take_back(_number(room), "Mira")
    room.told.send(["cy"], "Well done", "Mira")
    room.told.read(_number(room), "cy")
    with pytest.raises(ClassError, match="read already"):
        room.told.take_back(_number(room), "Mira")
    with pytest.raises(ClassError, match="there no more"):
        room.told.take_back("no such number", "Mira")


def test_each_act_is_an_entry_with_who_and_when(
    room: Room, in_class: Class, clock: SetClock
) -> None:
    clock.set("2026-11-29T13:00:00Z")
    room.told.send(["ann"], "Look up", "Mira")
    clock.set("2026-11-29T13:00:07Z")
    room.told.read(_number(room), "ann")
    room.told.send([""], "Wrong", "Mira")
    room.told.take_back(_number(room), "Olaf")
    lines = in_class.folder.room_log.read_text("utf-8").splitlines()
    told = [(one["act"], one["by"], one["at"][14:19]) for one in map(json.loads, lines)]
    assert told == [
        ("message", "Mira", "00:00"),
        ("read", "ann", "00:07"),
        ("message", "Mira", "00:07"),
        ("taken back", "Olaf", "00:07"),
    ]


def test_what_cannot_be_kept_is_not_sent(room: Room, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(OSError, match="No space"):
        room.told.send(["ann"], "Look up", "Mira")
    assert room.told.all() == []


def test_what_was_written_to_somebody_goes_when_they_are_erased(
    room: Room, in_class: Class
) -> None:
    room.told.send(["ann", "ben"], "Come to the rig", "Mira")
    room.told.send(["ann"], "You measured the wrong wire", "Mira")
    for one in room.told.all():
        room.told.read(one.number, "ann")
    said = held_of(in_class.folder, "ann")["room"]
    assert [entry["act"] for entry in said] == ["message", "message", "read", "read"]
    erase(in_class.folder, "ann", reason="asked for")
    kept = in_class.folder.room_log.read_text("utf-8")
    assert "ann" not in kept
    assert "wrong wire" not in kept
    assert _texts(Room(in_class.folder), "ben") == ["Come to the rig"]


# By the protocol


@pytest.fixture
def mira(browser: Open, trainers: Trainers) -> Browser:
    return browser("192.0.2.9").signed_in(trainers)


def _told(one: Browser) -> list[dict[str, str]]:
    told: list[dict[str, str]] = one.client.get("/lab/tiny/desk").json()["messages"]
    return told


def _reads(one: Browser, number: str) -> Any:
    return one.post("/read", {"message": number})


def test_it_comes_over_the_link_and_the_trainer_sees_who_read_it(
    browser: Open, room: Room, mira: Browser
) -> None:
    ann, ben = browser().joined(room, "ann"), browser("192.0.2.8").joined(room, "ben")
    for one in (ann, ben):
        one.client.get("/lab/tiny/desk")
    with ann.socket() as anns:
        assert mira.does("send", to=["ann"], text="<b>Look</b> up").json() == {"done": True}
        assert anns.receive_json() == {"news": True}
        [told] = _told(ann)
        assert (told["text"], told["by"]) == ("<b>Look</b> up", "Mira")
        assert ann.client.get("/seat").json()["messages"] == [told]
        [sent] = mira.client.get("/trainer/now").json()["messages"]
        assert (sent["to"], sent["read"], sent["to_all"]) == (["ann"], [], False)
        # Another never sees it, nor puts it away in somebody's stead.
        assert _told(ben) == []
        assert "Look" not in ben.client.get("/seat").text + ben.client.get("/lab/tiny/desk").text
        assert _reads(ben, told["number"]).json() == {"read": True}
        assert mira.client.get("/trainer/now").json()["messages"][0]["read"] == []
        _reads(ann, told["number"])
        # Their other windows put it away too.
        assert anns.receive_json() == {"news": True}
    assert _told(ann) == []
    assert mira.client.get("/trainer/now").json()["messages"][0]["read"] == ["ann"]


def test_who_joins_later_has_it_and_who_does_not_sit_here_has_none(
    browser: Open, room: Room, mira: Browser
) -> None:
    mira.does("send", to=[""], text="Welcome")
    [sent] = mira.client.get("/trainer/now").json()["messages"]
    assert (sent["to"], sent["to_all"]) == (["ann", "ben", "cy"], True)
    assert [one["text"] for one in _told(browser().joined(room, "cy"))] == ["Welcome"]
    nobody = browser("192.0.2.10")
    assert "messages" not in nobody.client.get("/seat").json()
    assert _reads(nobody, sent["number"]).status_code == 403
    ann = browser().joined(room, "ann")
    assert ann.does("send", to=[""], text="I am the trainer").status_code == 403
    stranger = {**FROM_HERE, "origin": "https://evil.example"}
    assert ann.post("/read", {"message": sent["number"]}, **stranger).status_code == 403
    assert mira.client.get("/trainer/now").json()["messages"][0]["read"] == []


def test_of_two_at_one_bench_each_has_their_own_messages(
    browser: Open, room: Room, mira: Browser
) -> None:
    ann, ben = browser().joined(room, "ann"), browser("192.0.2.8").joined(room, "ben")
    mira.does("put together", lab="tiny", guest="ben", host="ann")
    mira.does("send", to=["ben"], text="Let Ann measure")
    assert ben.client.get("/lab/tiny/desk").json()["together"] == "Ann Orrel"
    assert [one["text"] for one in _told(ben)] == ["Let Ann measure"]
    assert _told(ann) == []
    with ben.socket() as bens:
        _reads(ben, _number(room))
        assert bens.receive_json() == {"news": True}
    assert _told(ben) == []


def test_taken_back_it_is_gone_from_the_page(browser: Open, room: Room, mira: Browser) -> None:
    ann = browser().joined(room, "ann")
    mira.does("send", to=[""], text="Worng room")
    assert len(_told(ann)) == 1
    assert mira.does("take back", message=_number(room)).status_code == 200
    assert _told(ann) == []
    assert mira.client.get("/trainer/now").json()["messages"][0]["taken_back"]
    refused = mira.does("take back", message=_number(room))
    assert (refused.status_code, "no more" in refused.text) == (409, True)


@pytest.mark.parametrize("to", ["ann", [7], {"ann": 1}, None])
def test_a_message_of_another_form_goes_to_nobody(room: Room, mira: Browser, to: object) -> None:
    assert mira.does("send", to=to, text="Hello").status_code == 409
    assert room.told.all() == []


# A pause, by the protocol


def _say(token: str, answer: str) -> str:
    message = {"do": "answer", "token": token, "answer": answer}
    return json.dumps({"exercise": "double", "message": message})


def test_a_pause_is_told_to_every_page_and_what_was_on_its_way_is_kept_afterwards(
    browser: Open, room: Room, in_class: Class, mira: Browser
) -> None:
    ann, ben = browser().joined(room, "ann"), browser("192.0.2.8").joined(room, "ben")
    right = in_class.right("ann")["double"]
    with ann.socket() as anns, ben.socket() as bens:
        assert mira.does("pause", lab="", sentence="Fire alarm").json() == {"done": True}
        for one in (anns, bens):
            assert one.receive_json() == {"news": True}
        now = ann.client.get("/lab/tiny/desk").json()
        assert now["paused"]["sentence"] == "Fire alarm"
        assert now["clock"]["stands"] is True
        # It was on its way: it is neither taken nor said to be saved, and may come again.
        anns.send_text(_say("t1", right))
        heard = anns.receive_json()
        assert heard["reply"].get("saved") is None
        assert heard["reply"]["again"] is True
        assert heard["saved"]["answered"] is False
        refused = ann.post("/lab/tiny/hand-in", {})
        assert (refused.status_code, "paused" in refused.text) == (409, True)
        assert mira.client.get("/trainer/now").json()["labs"][0]["paused"]["by"] == "Mira"
        assert mira.does("go on", lab="").json() == {"done": True}
        assert anns.receive_json() == {"news": True}
        now = ann.client.get("/lab/tiny/desk").json()
        assert (now["paused"], now["shut"], now["clock"]["stands"]) == (None, "", False)
        anns.send_text(_say("t1", right))
        assert anns.receive_json()["reply"] == {"token": "t1", "saved": True}


def test_the_clock_that_a_page_is_told_stands_still(
    browser: Open, room: Room, mira: Browser, clock: SetClock
) -> None:
    clock.set("2026-11-29T13:40:00Z")
    ann = browser().joined(room, "ann")
    mira.does("end in", lab="tiny", minutes=20)
    mira.does("pause", lab="tiny", sentence="")
    clock.set("2026-11-29T13:48:00Z")
    told = ann.client.get("/lab/tiny/desk").json()["clock"]
    assert told == {
        "now": "2026-11-29T13:40:00Z",
        "deadline": "2026-11-29T14:00:00Z",
        "stands": True,
    }
    assert mira.client.get("/trainer/now").json()["labs"][0]["paused"]["left"] == 20 * 60
    mira.does("go on", lab="tiny")
    told = ann.client.get("/lab/tiny/desk").json()["clock"]
    assert (told["now"], told["deadline"]) == ("2026-11-29T13:48:00Z", "2026-11-29T14:08:00Z")


def test_who_joins_in_a_pause_sees_it(browser: Open, room: Room, mira: Browser) -> None:
    mira.does("pause", lab="tiny", sentence="")
    cy = browser().joined(room, "cy")
    [lab] = cy.client.get("/seat").json()["labs"]
    assert (lab["shut"], lab["may_see"]) == ("Your instructor paused this lab.", True)
    assert cy.client.get("/lab/tiny/desk").json()["paused"]["sentence"] == ""
    answered = cy.answers("double", "1 m").json()
    assert answered["reply"]["again"] is True


def test_a_second_trainer_hears_that_it_is_paused(
    room: Room, trainers: Trainers, mira: Browser
) -> None:
    olaf = Browser(room_app(room, trainers)).signed_in(trainers)
    mira.does("pause", lab="", sentence="")
    refused = olaf.does("pause", lab="tiny", sentence="Break")
    assert (refused.status_code, refused.text) == (409, "It is paused already, by Mira.")
    assert olaf.does("pause", lab="no such lab").status_code == 409
    assert olaf.does("go on", lab="tiny").status_code == 200
    assert mira.does("go on", lab="").text == "It goes on already."
