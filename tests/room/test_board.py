"""The board of a room: what it tells of everybody, and that it tells it to trainers alone."""

from __future__ import annotations

import json
from collections.abc import Callable, Collection
from time import sleep
from typing import Any

import pytest
from in_a_browser import Browser, Open
from set_clock import SetClock
from tiny_class import MakeRoom
from tiny_class import Room as Class
from worked import after

from labkit.exchange.clock import written
from labkit.page import app as page_app
from labkit.room.app import room_app
from labkit.room.board import Board, Now
from labkit.room.presence import Presence
from labkit.room.room import Room
from labkit.room.trainers import Trainers


class Held:
    """A room without its pages: what somebody does, and the board after it."""

    def __init__(self, room: Room, clock: SetClock) -> None:
        self.room, self.board, self._clock = room, Board(room), clock
        self._sent = 0
        self.at(0)

    def at(self, minutes: float) -> None:
        self._clock.set(written(after(minutes)))

    def number(self, trainee: str) -> str:
        return self.room.workbooks.items[trainee, "tiny"].workbook

    def opens(self, *trainees: str) -> None:
        for trainee in trainees:
            self.room.workbooks.opened(self.room.workbooks.items[trainee, "tiny"])
        self.sees(*trainees)

    def sees(self, *trainees: str) -> None:
        self.board.sees({(self.number(trainee), trainee) for trainee in trainees})

    def answers(self, trainee: str, exercise: str, *answers: object) -> None:
        workbook = self.room.workbooks.opened(self.room.workbooks.items[trainee, "tiny"])
        for answer in answers:
            self._sent += 1
            message = {"do": "answer", "token": f"t{self._sent}", "answer": answer}
            heard = workbook.desk.hear({"exercise": exercise, "message": message})
            assert heard
            assert heard["reply"].get("saved")

    def now(self) -> Now:
        self.board.keep_up()
        return self.board.shown()

    def why(self) -> dict[str, list[str]]:
        return {need["trainee"]: need["why"] for need in self.now()["needs"]}


@pytest.fixture
def clock(monkeypatch: pytest.MonkeyPatch) -> SetClock:
    return SetClock(monkeypatch)


@pytest.fixture
def held(room: Room, clock: SetClock) -> Held:
    return Held(room, clock)


WRONG = ("1 km", "2 km", "3 km")
STUCK = "three different wrong answers in “Double it”"


def test_it_tells_where_somebody_is_and_how_it_goes(held: Held, in_class: Class) -> None:
    held.opens("ann", "ben")
    held.at(3)
    held.answers("ann", "double", "1 m", in_class.right("ann")["double"])
    held.at(4)
    held.answers("ann", "parity", "nothing that can be chosen")
    now = held.now()
    assert now["people"]["ann"]["tiny"] == {
        "exercise": "2. Even or odd",
        "last": written(after(4)),
        "tries": 1,
        "right": 0.5,
        "away": "",
    }
    assert now["people"]["ben"]["tiny"]["exercise"] == ""
    assert now["at_lab"] == {"ann": "tiny", "ben": "tiny"}
    assert now["needs"] == []


def test_stuck_is_told_as_soon_as_it_is_true_and_no_longer(held: Held, in_class: Class) -> None:
    held.opens("ann", "ben")
    held.answers("ann", "double", *WRONG[:2])
    assert held.why() == {}
    held.answers("ann", "double", WRONG[2])
    assert held.why() == {"ann": [STUCK]}
    held.answers("ann", "double", in_class.right("ann")["double"])
    assert held.why() == {}


def test_silence_is_told_while_a_page_is_open_and_who_waited_longest_comes_first(
    held: Held,
) -> None:
    held.opens("ann", "ben", "cy")
    held.at(20)
    held.answers("ann", "double", "1 m")
    held.at(200)
    held.sees("ann", "ben")  # Cy's page is closed: that is away, which is something else.
    held.at(210)
    needs = held.now()["needs"]
    assert [(need["trainee"], need["why"]) for need in needs] == [
        ("ben", ["nothing for 210 minutes"]),
        ("ann", ["nothing for 190 minutes"]),
    ]
    assert held.now()["people"]["cy"]["tiny"]["away"] == "ten minutes"


def test_what_is_shut_or_was_opened_again_lately_lets_nobody_be_stuck(held: Held) -> None:
    held.opens("ann")
    held.at(300)
    assert held.why()
    held.room.close_lab("tiny", "Mira")
    assert held.why() == {}
    held.room.open_lab("tiny", "Mira")
    assert held.why() == {}
    held.at(600)
    assert held.why()


def test_a_pause_is_no_silence(held: Held) -> None:
    held.opens("ann")
    held.at(300)
    assert held.why()
    held.room.pause("tiny", "", "Mira")
    assert held.why() == {}
    held.at(310)
    held.room.go_on("tiny", "Mira")
    held.room.end_in("tiny", 500, "Mira")
    held.at(312)
    assert held.why() == {}
    held.at(600)
    assert held.why() == {"ann": ["nothing for 290 minutes"]}


def test_a_room_that_is_opened_again_knows_what_was_answered(
    held: Held, in_class: Class, clock: SetClock
) -> None:
    held.opens("ann")
    held.answers("ann", "double", *WRONG)
    before = held.now()
    again = Held(Room(in_class.folder), clock)
    again.opens("ann")
    assert again.now()["needs"] == before["needs"]
    assert again.now()["people"]["ann"]["tiny"]["tries"] == 3


def test_of_two_at_one_bench_the_host_is_named_and_both_have_its_figures(held: Held) -> None:
    held.room.put_together("tiny", "ben", "ann", "Mira")
    held.opens("ann")
    held.board.sees({(held.number("ann"), name) for name in ("ann", "ben")})
    held.answers("ann", "double", *WRONG)
    now = held.now()
    assert [need["trainee"] for need in now["needs"]] == ["ann"]
    assert now["people"]["ben"]["tiny"]["tries"] == now["people"]["ann"]["tiny"]["tries"] == 3


def test_in_an_assessed_lab_the_trainer_is_told_and_the_trainee_is_not(
    make_class: MakeRoom, clock: SetClock
) -> None:
    made = make_class(mode="assessed")
    held = Held(Room(made.folder), clock)
    held.room.open_lab("tiny", "Mira")
    held.opens("ann")
    held.answers("ann", "double", *WRONG)
    held.answers("ann", "parity", made.right("ann")["parity"])
    assert held.now()["people"]["ann"]["tiny"]["right"] == 1 / 5
    held.answers("ann", "double", "4 km")
    assert held.why() == {"ann": ["four different wrong answers in “Double it”"]}
    opened = held.room.workbooks.opened(held.room.workbooks.items["ann", "tiny"]).desk.opened()
    assert opened["exercises"]["double"]["saved"]["verdict"] is None


def test_an_answer_that_was_not_kept_is_none(held: Held, monkeypatch: pytest.MonkeyPatch) -> None:
    held.opens("ann")

    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    workbook = held.room.workbooks.opened(held.room.workbooks.items["ann", "tiny"])
    message = {"do": "answer", "token": "t", "answer": "1 m"}
    with monkeypatch.context() as patch:
        patch.setattr("os.fsync", full)
        workbook.desk.hear({"exercise": "double", "message": message})
    assert held.now()["people"]["ann"]["tiny"]["tries"] == 0
    workbook.desk.hear({"exercise": "double", "message": message})
    assert held.now()["people"]["ann"]["tiny"]["tries"] == 1


def test_a_line_that_stands_twice_in_a_journal_is_one_try(
    held: Held, in_class: Class, clock: SetClock
) -> None:
    held.answers("ann", "double", "1 m")
    journal = in_class.folder.journals / "ann" / "tiny.answers.jsonl"
    lines = journal.read_bytes().splitlines(keepends=True)
    journal.write_bytes(b"".join([*lines, lines[-1]]))
    again = Held(Room(in_class.folder), clock)
    again.opens("ann")
    assert again.now()["people"]["ann"]["tiny"]["tries"] == 1


def test_while_the_room_is_open_the_board_keeps_up(
    app: Any, room: Room, trainers: Trainers, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("labkit.room.app._EVERY_S", 0.02)
    ann, mira = Browser(app).joined(room, "ann"), Browser(app).signed_in(trainers)
    with ann.client, ann.socket():
        for number, answer in enumerate(WRONG):
            ann.answers("double", answer, f"t{number}")
        for _ in range(2_000):
            needs = mira.client.get("/trainer/now").json()["board"]["needs"]
            if needs:
                break
            sleep(0.02)
    assert needs == [{"trainee": "ann", "hand": None, "lab": "tiny", "why": [STUCK]}]


def test_a_board_that_cannot_keep_up_says_so_and_goes_on(
    app: Any, room: Room, trainers: Trainers, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("labkit.room.app._EVERY_S", 0.02)
    ann, mira = Browser(app).joined(room, "ann"), Browser(app).signed_in(trainers)

    def comes(true: Callable[[dict[str, Any]], bool]) -> bool:
        for _ in range(2_000):
            if true(mira.client.get("/trainer/now").json()):
                return True
            sleep(0.02)
        return False

    with ann.client:
        with monkeypatch.context() as broken:
            broken.setattr("labkit.room.trail.verdict_on", lambda *_: 1 / 0)
            ann.answers("double", "1 m")
            assert comes(lambda now: "The board is not up to date" in now["trouble"])
        ann.answers("double", "2 m", "t2")
        assert comes(lambda now: now["board"]["people"]["ann"]["tiny"]["tries"] == 1)


def test_a_trainee_gets_none_of_it(make_class: MakeRoom, trainers: Trainers) -> None:
    made = make_class(mode="assessed")
    room = Room(made.folder)
    room.open_lab("tiny", "Mira")
    served = room_app(room, trainers)
    ann = Browser(served).joined(room, "ann")
    ann.client.cookies.set("labkit-trainer", ann.client.cookies["labkit-seat"])
    for number, answer in enumerate(WRONG):
        ann.answers("double", answer, f"t{number}")
    assert ann.client.get("/trainer/now").status_code == 403
    assert ann.post("/trainer/do", {"act": "hand seen to", "trainee": "ann"}).status_code == 403
    told = [ann.client.get(path).json() for path in ("/seat", "/lab/tiny/desk")]
    told.append(ann.answers("double", "4 km", "t9").json())
    names = set(_names(told))
    assert not names & {"board", "needs", "why", "at_lab", "people", "tries"}
    assert "wrong answers" not in json.dumps(told)


def _names(value: Any) -> Collection[str]:
    if isinstance(value, list):
        return [name for each in value for name in _names(each)]
    if isinstance(value, dict):
        return [*value, *(name for each in value.values() for name in _names(each))]
    return []


def test_a_page_that_is_loaded_anew_stays_and_a_longer_absence_is_one() -> None:
    ann, presence = ("w1", "ann"), Presence()
    presence.sees({ann}, after(0))
    presence.sees(set(), after(5))
    assert presence.here_since(*ann, after(5.4)) == after(0)
    presence.sees({ann}, after(5.4))
    assert presence.away_since(*ann) is None
    presence.sees(set(), after(9))
    presence.sees(set(), after(10))
    assert presence.away_since(*ann) == after(9)
    assert presence.here_since(*ann, after(10)) is None
    presence.sees({ann}, after(12))
    assert presence.here_since(*ann, after(12)) == after(12)
    assert presence.here_since("w1", "ben", after(12)) is None


def test_who_has_no_socket_is_here_as_long_as_their_page_asks(
    room: Room, browser: Open, trainers: Trainers, monkeypatch: pytest.MonkeyPatch
) -> None:
    now = [1000.0]
    monkeypatch.setattr(page_app, "monotonic", lambda: now[0])
    ann, mira = browser().joined(room, "ann"), browser().signed_in(trainers)

    def pages() -> int:
        people = mira.client.get("/trainer/now").json()["people"]
        return next(int(one["labs"]["tiny"]["pages"]) for one in people if one["id"] == "ann")

    assert ann.client.get("/lab/tiny/desk").status_code == 200
    assert pages() == 0
    assert ann.client.get("/lab/tiny/desk?plain").status_code == 200
    assert pages() == 1
    now[0] += 13
    ann.client.get("/lab/tiny/desk?plain")
    now[0] += 13
    assert pages() == 1
    now[0] += 13
    assert pages() == 0
