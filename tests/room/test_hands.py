"""Raised hands: in order, whose they are, and that they survive."""

from __future__ import annotations

import json
from typing import Any

import pytest
from in_a_browser import Browser, Open
from set_clock import SetClock
from tiny_class import Room as Class
from worked import after

from labkit.classroom.errors import ClassError
from labkit.classroom.people.erasing import erase
from labkit.classroom.people.personal import held_of
from labkit.exchange.clock import written
from labkit.room.hands import LONGEST
from labkit.room.room import Room
from labkit.room.trainers import Trainers


@pytest.fixture(autouse=True)
def patient(monkeypatch: pytest.MonkeyPatch) -> None:
    """Here people press fast."""
    monkeypatch.setattr("labkit.room.hands._AGAIN_AFTER_S", 0.0)


def hand_of(browser: Browser) -> Any:
    return browser.client.get("/lab/tiny/desk").json()["hand"]


def raises(browser: Browser, words: object = "", **more: object) -> Any:
    return browser.post("/lab/tiny/hand", {"up": True, "words": words, **more})


def needs(mira: Browser) -> list[tuple[str, str]]:
    now = mira.client.get("/trainer/now").json()["board"]["needs"]
    return [(need["trainee"], need["hand"]["words"]) for need in now]


def log_of(in_class: Class) -> list[dict[str, Any]]:
    text = in_class.folder.room_log.read_text("utf-8")
    return [entry for entry in map(json.loads, text.splitlines()) if "hand " in entry["act"]]


def test_hands_are_seen_first_come_first_and_both_hear_when_they_are_down(
    browser: Open, room: Room, in_class: Class, trainers: Trainers
) -> None:
    ann, ben = browser().joined(room, "ann"), browser("192.0.2.8").joined(room, "ben")
    mira = browser().signed_in(trainers)
    assert hand_of(ann) is None
    assert raises(ben, "what is R_c?").json() == {"hand": {"words": "what is R_c?"}}
    assert raises(ann).json() == {"hand": {"words": ""}}
    assert needs(mira) == [("ben", "what is R_c?"), ("ann", "")]
    assert hand_of(ben) == {"words": "what is R_c?"}
    with ben.socket() as socket:
        assert mira.does("hand seen to", trainee="ben").json() == {"done": True}
        assert socket.receive_json() == {"news": True}
    assert hand_of(ben) is None
    assert needs(mira) == [("ann", "")]
    assert ann.post("/lab/tiny/hand", {"up": False}).json() == {"hand": None}
    assert needs(mira) == []
    acts = [(entry["act"], entry["by"], entry["trainee"]) for entry in log_of(in_class)]
    assert acts == [
        ("hand up", "ben", "ben"),
        ("hand up", "ann", "ann"),
        ("hand down", "Mira", "ben"),
        ("hand down", "ann", "ann"),
    ]
    assert all(entry["at"] for entry in log_of(in_class))


def test_who_says_something_else_keeps_their_place_and_the_same_again_is_nothing_new(
    room: Room, in_class: Class, monkeypatch: pytest.MonkeyPatch
) -> None:
    clock = SetClock(monkeypatch)
    for minutes, (trainee, words) in enumerate(
        [("ann", "a"), ("ben", ""), ("ann", "b"), ("ann", "b")]
    ):
        clock.set(written(after(minutes)))
        room.hands.goes_up(trainee, "tiny", words)
    up = [(hand.trainee, hand.words, hand.at) for hand in room.hands.up()]
    assert up == [("ann", "b", written(after(0))), ("ben", "", written(after(1)))]
    assert len(log_of(in_class)) == 3


def test_a_hand_survives_the_room(room: Room, in_class: Class) -> None:
    room.hands.goes_up("cy", "tiny", "")
    room.hands.goes_up("ann", "tiny", "why?")
    room.hands.goes_up("ben", "tiny", "")
    room.hands.seen_to("ben", "Mira")
    assert [hand.trainee for hand in Room(in_class.folder).hands.up()] == ["cy", "ann"]
    assert Room(in_class.folder).hands.up() == room.hands.up()


def test_nobody_raises_or_takes_down_somebody_elses(
    browser: Open, room: Room, in_class: Class
) -> None:
    ann, ben = browser().joined(room, "ann"), browser("192.0.2.8").joined(room, "ben")
    raises(ben, "mine")
    more = {"trainee": "ben", "person": "ben", "by": "ben", "lab": "tiny"}
    assert raises(ann, "not Ben's", **more).status_code == 200
    assert hand_of(ben) == {"words": "mine"}
    ann.post("/lab/tiny/hand", {"up": False, **more})
    assert hand_of(ben) == {"words": "mine"}
    # Nor does anybody read it there.
    assert "mine" not in ann.client.get("/lab/tiny/desk").text + ann.client.get("/seat").text
    for nobody in (browser(), browser()):
        assert raises(nobody).status_code == 403
    assert (
        ann.post("/lab/tiny/hand", {"up": True}, origin="https://evil.example").status_code == 403
    )
    assert ann.post("/lab/none/hand", {"up": True}).status_code == 403
    # Whose seat is lost to another device has no hand there either.
    browser("192.0.2.9").joined(room, "ann")
    assert raises(ann).status_code == 403
    assert [entry["trainee"] for entry in log_of(in_class)] == ["ben", "ann", "ann"]


def test_what_goes_with_it_is_one_line_of_so_many_characters(browser: Open, room: Room) -> None:
    ann = browser().joined(room, "ann")
    raises(ann, " two\nlines\t\u202e and \x07 more " + "x" * 500)
    words = hand_of(ann)["words"]
    assert words.startswith("two lines and more xxx")
    assert len(words) == LONGEST
    for no_words in (None, 5, ["a"], {"a": 1}):
        raises(ann, no_words)
        assert hand_of(ann) == {"words": ""}


def test_who_presses_again_and_again_is_asked_to_wait(
    browser: Open, room: Room, in_class: Class, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("labkit.room.hands._AGAIN_AFTER_S", 60.0)
    ann, ben = browser().joined(room, "ann"), browser("192.0.2.8").joined(room, "ben")
    raises(ann)
    ann.post("/lab/tiny/hand", {"up": False})
    refused = raises(ann)
    assert refused.status_code == 409
    assert refused.text == "Wait a moment, then press again."
    assert raises(ben).status_code == 200
    assert len(log_of(in_class)) == 3


def test_a_hand_that_is_down_already_cannot_be_seen_to(
    browser: Open, trainers: Trainers, in_class: Class
) -> None:
    mira = browser().signed_in(trainers)
    for trainee in ("ann", "zoe", ""):
        refused = mira.does("hand seen to", trainee=trainee)
        assert (refused.status_code, refused.text) == (409, "That hand is down already.")
    assert log_of(in_class) == []


def test_a_hand_that_is_not_on_disk_is_not_up(room: Room, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as patch:
        patch.setattr("os.fsync", full)
        with pytest.raises(OSError, match="No space"):
            room.hands.goes_up("ann", "tiny", "")
    assert room.hands.up() == []
    with pytest.raises(ClassError):
        room.hands.seen_to("ann", "Mira")


def test_with_a_person_their_hands_are_erased(room: Room, in_class: Class) -> None:
    room.hands.goes_up("ann", "tiny", "my question")
    room.hands.seen_to("ann", "Mira")
    assert [entry["act"] for entry in held_of(in_class.folder, "ann")["room"]] == [
        "hand up",
        "hand down",
    ]
    erase(in_class.folder, "ann", reason="asked for it")
    assert b"my question" not in in_class.folder.room_log.read_bytes()
    assert log_of(in_class) == []
