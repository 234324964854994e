"""Two at one bench: each act carries the hand that did it, and marks say "together"."""

from __future__ import annotations

import json
from typing import Any

import pytest
from in_a_browser import Browser, Open
from starlette.websockets import WebSocketDisconnect
from tiny_class import MakeRoom
from tiny_class import Room as Class

from labkit.classroom.errors import ClassError
from labkit.classroom.marks.scoring import score
from labkit.desk.tables import score_table
from labkit.room.room import RESTS, Room
from labkit.room.trainers import Trainers


def _number(room: Room, trainee: str) -> str:
    return room.workbooks.items[trainee, "tiny"].workbook


def _entries(in_class: Class, trainee: str) -> list[dict[str, Any]]:
    journal = in_class.folder.journals / trainee / "tiny.answers.jsonl"
    return [json.loads(line) for line in journal.read_text("utf-8").splitlines()]


def _said(exercise: str, answer: object, token: str = "t1", **more: str) -> str:
    message = {"do": "answer", "token": token, "answer": answer}
    return json.dumps({"exercise": exercise, "message": message, **more})


def test_both_work_over_their_own_sockets_and_the_marks_say_together(
    browser: Open, room: Room, in_class: Class, trainers: Trainers
) -> None:
    trainer = browser("192.0.2.9").signed_in(trainers)
    ann, ben = browser().joined(room, "ann"), browser("192.0.2.8").joined(room, "ben")
    done = trainer.does("put together", lab="tiny", guest="ben", host="ann")
    assert done.status_code == 200, done.text
    right = in_class.right("ann")
    with ann.socket() as anns, ben.socket() as bens:
        anns.send_text(_said("double", right["double"]))
        assert anns.receive_json()["reply"]["saved"]
        heard = bens.receive_json()
        assert (heard["exercise"], heard["by"]) == ("double", "Ann Orrel")
        bens.send_text(_said("parity", right["parity"], "t2"))
        assert bens.receive_json()["reply"]["saved"]
        assert anns.receive_json()["by"] == "Ben Tasker"
    opened = [one.client.get("/lab/tiny/desk").json() for one in (ann, ben)]
    assert {one["workbook"] for one in opened} == {_number(room, "ann")}
    told = [(one["person"], one["trainee"], one["together"]) for one in opened]
    assert told == [("ann", "Ann Orrel", "Ben Tasker"), ("ben", "Ben Tasker", "Ann Orrel")]
    assert ben.post("/lab/tiny/hand-in", {}).status_code == 200
    acts = [(one["event"], one["by"]) for one in _entries(in_class, "ann") if "by" in one]
    hands = {name: _number(room, name) for name in ("ann", "ben")}
    assert acts == [
        ("answer", hands["ann"]),
        ("answer", hands["ben"]),
        ("handed in", hands["ben"]),
    ]
    scoring = score(in_class.folder)
    anns_result, bens_result = [scoring.results.of(name)[0] for name in ("ann", "ben")]
    assert anns_result.earned == bens_result.earned == 5
    assert anns_result.with_whom == "together with Ben Tasker"
    assert bens_result.with_whom == "together with Ann Orrel"
    assert bens_result.dealt.trainee == "ben"
    with_whom = score_table(scoring)["together with"]
    assert list(with_whom.dropna()) == ["Ben Tasker", "Ann Orrel"]


def _together(trainer: Browser, guest: str = "ben", host: str = "ann") -> None:
    answer = trainer.does("put together", lab="tiny", guest=guest, host=host)
    assert answer.status_code == 200, answer.text


def _part(trainer: Browser, guest: str = "ben") -> None:
    answer = trainer.does("part", lab="tiny", guest=guest)
    assert answer.status_code == 200, answer.text


def test_who_is_parted_works_in_their_own_workbook_again_and_has_what_they_had(
    browser: Open, room: Room, in_class: Class, trainers: Trainers
) -> None:
    trainer, ben = browser("192.0.2.9").signed_in(trainers), browser().joined(room, "ben")
    own, other = in_class.right("ben"), in_class.right("ann")
    assert ben.answers("double", own["double"], "t1").json()["reply"]["saved"]
    _together(trainer)
    assert room.shut(room.workbooks.items["ben", "tiny"]) == RESTS
    # A page that has not heard of it yet shows the other numbers: its answer is not taken.
    said = {"do": "answer", "token": "t2", "answer": own["double"]}
    stale = {"exercise": "double", "message": said, "workbook": _number(room, "ben")}
    assert ben.post("/lab/tiny/say", stale).status_code == 400
    assert ben.answers("double", other["double"], "t3").json()["reply"]["saved"]
    _part(trainer)
    opened = ben.client.get("/lab/tiny/desk").json()
    assert (opened["workbook"], opened["together"]) == (_number(room, "ben"), "")
    assert opened["exercises"]["double"]["saved"]["answer"] == own["double"]
    assert ben.answers("parity", own["parity"], "t4").json()["reply"]["saved"]
    # What is done alone carries no hand, before and after.
    acts = [entry.get("by") for entry in _entries(in_class, "ben") if entry["event"] == "answer"]
    assert acts == [None, None]
    assert [one["by"] for one in _entries(in_class, "ann") if one["event"] == "answer"] == [
        _number(room, "ben")
    ]


def test_an_open_socket_ends_with_the_pair_and_takes_nothing_after_it(
    browser: Open, room: Room, in_class: Class, trainers: Trainers
) -> None:
    trainer, ben = browser("192.0.2.9").signed_in(trainers), browser().joined(room, "ben")
    with ben.socket() as own:
        _together(trainer)
        with pytest.raises(WebSocketDisconnect) as closed:
            own.receive_json()
        assert closed.value.code == 4403
    with ben.socket() as socket:
        _part(trainer)
        socket.send_text(_said("double", in_class.right("ann")["double"]))
        with pytest.raises(WebSocketDisconnect) as closed:
            socket.receive_json()
        assert closed.value.code == 4403
    assert not [one for one in _entries(in_class, "ann") if one["event"] == "answer"]


def test_what_waits_for_its_turn_is_not_done_once_they_are_parted(
    room: Room, in_class: Class
) -> None:
    room.put_together("tiny", "ben", "ann", "Mira")
    item = room.workbooks.items["ann", "tiny"]
    said = json.loads(_said("double", in_class.right("ann")["double"]))
    heard = room.workbooks.opened(item).desk.hear(said, by="b", why_not=lambda: "Not yours.")
    assert heard
    assert heard["reply"]["failed"] == "Not saved: Not yours."


def test_nobody_gets_at_anothers_workbook_by_what_a_page_says(
    browser: Open, room: Room, in_class: Class, trainers: Trainers
) -> None:
    ann, ben = browser().joined(room, "ann"), browser().joined(room, "ben")
    ann.client.get("/lab/tiny/desk")
    anns = _number(room, "ann")
    message = {"do": "answer", "token": "t1", "answer": "1 m", "by": anns, "person": "ann"}
    forged = {"exercise": "double", "message": message, "by": anns, "person": "ann"}
    assert ben.post("/lab/tiny/say", {**forged, "workbook": anns}).status_code == 400
    assert ben.post("/lab/tiny/say", forged).status_code == 200
    assert not [one for one in _entries(in_class, "ann") if one["event"] == "answer"]
    assert "by" not in _entries(in_class, "ben")[-1]
    # Nor may a trainee put two together.
    assert ben.does("put together", lab="tiny", guest="ben", host="ann").status_code == 403
    _together(browser("192.0.2.9").signed_in(trainers))
    assert ben.post("/lab/tiny/say", {**forged, "workbook": anns}).status_code == 200
    assert _entries(in_class, "ann")[-1]["by"] == _number(room, "ben")
    assert browser().client.get("/lab/tiny/desk").status_code == 403


@pytest.mark.parametrize(
    ("guest", "host", "sentence"),
    [
        ("ann", "ann", "two different"),
        ("ann", "cy", "Ann Orrel works together with somebody already"),
        ("ben", "cy", "Ben Tasker works together"),
        ("cy", "ann", "Ann Orrel works together"),
        ("cy", "ben", "Ben Tasker works together"),
        ("cy", "dee", "who were dealt this lab"),
    ],
)
def test_no_chains_and_no_third_one(room: Room, guest: str, host: str, sentence: str) -> None:
    room.put_together("tiny", "ben", "ann", "Mira")
    with pytest.raises(ClassError, match=sentence):
        room.put_together("tiny", guest, host, "Mira")
    with pytest.raises(ClassError, match="no lab of this class"):
        room.put_together("other", "cy", "ann", "Mira")
    with pytest.raises(ClassError, match="do not work together"):
        room.part("tiny", "ann", "Mira")


def test_an_assessed_attempt_that_was_begun_stays_whose_it_is(make_class: MakeRoom) -> None:
    in_class = make_class(mode="assessed")
    room = Room(in_class.folder)
    room.open_lab("tiny", "Mira")
    bens = room.workbooks.opened(room.workbooks.items["ben", "tiny"]).desk
    bens.hear(json.loads(_said("double", "1 m")))
    with pytest.raises(ClassError, match="let Ann Orrel work in it instead"):
        room.put_together("tiny", "ben", "ann", "Mira")
    room.put_together("tiny", "ann", "ben", "Mira")
    room.close_lab("tiny", "Mira")
    room.settle()
    score(in_class.folder)
    room.release("tiny", "Mira")
    with pytest.raises(ClassError, match="results are released"):
        room.part("tiny", "ann", "Mira")


def test_a_room_that_is_opened_again_knows_them_and_who_has_more_time_has_it_for_both(
    room: Room, in_class: Class
) -> None:
    room.put_together("tiny", "ben", "ann", "Mira")
    room.end_in("tiny", 10, "Mira")
    alone = room.ends("tiny", "cy")
    room.give_time("tiny", "ben", 15, "Mira")
    again = Room(in_class.folder)
    for one in (room, again):
        partner = one.pairs.partner(one.workbooks.items["ann", "tiny"])
        assert partner
        assert partner.trainee == "ben"
        given, later = one.ends("tiny", "ann"), one.ends("tiny", "ben")
        assert alone
        assert given == later
        assert given
        assert (given - alone).total_seconds() == 15 * 60


def test_another_device_of_one_ends_no_page_of_the_other(
    browser: Open, room: Room, trainers: Trainers
) -> None:
    _together(browser("192.0.2.9").signed_in(trainers))
    ann, ben = browser().joined(room, "ann"), browser()
    with ann.socket():
        # Ann's page there is none of Ben's.
        assert ben.post("/join", {"code": room.on_cards["ben"]}).json() == {"joined": True}
    with ann.socket() as anns, ben.socket() as bens:
        question = browser("192.0.2.10").post("/join", {"code": room.on_cards["ben"]})
        assert question.json() == {"question": "Ben Tasker is at work on another device."}
        browser("192.0.2.10").joined(room, "ben")
        with pytest.raises(WebSocketDisconnect):
            bens.receive_json()
        anns.send_text(_said("double", "1 m"))
        assert anns.receive_json()["reply"]["saved"]
