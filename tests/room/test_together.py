"""Two at one bench: each act carries the hand that did it, and marks say "together"."""

from __future__ import annotations

import json
from typing import Any

from in_a_browser import Open
from tiny_class import Room as Class

from labkit.classroom.exports.sheet import score_table
from labkit.classroom.marks.scoring import score
from labkit.room.room import Room
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
