"""The morning's warm-up in the room, and a topic's line that counts all of one's workbooks."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from in_a_browser import HERE, Browser, Open
from set_clock import SetClock
from tiny_class import MakeRoom
from tiny_class import Room as Class
from topic_class import DROP, MONDAY, TUESDAY, room_journal, with_topics

from labkit.classroom.dealing.seeds import scenario_of
from labkit.classroom.dealt import Dealt
from labkit.classroom.marks.by_topic import by_topic
from labkit.classroom.marks.marking import marks_of
from labkit.exchange.journal import ANSWER, DRILL
from labkit.lab.definition import Exercise
from labkit.lab.draw import Scenario, draw
from labkit.room.room import Room

LINE = "Voltage drop: {} of 3 right at once, in a row."


@pytest.fixture
def in_class(make_room: MakeRoom) -> Class:
    """Two labs with the same topics, both practice."""
    made = with_topics(make_room, labs="[tiny, twin]")
    twin = made.library / "twin"
    twin.mkdir()
    text = (made.library / "tiny" / "lab.md").read_text("utf-8")
    (twin / "lab.md").write_text(
        text.replace("id: tiny", "id: twin").replace("Tiny lab", "Twin lab"), encoding="utf-8"
    )
    made.deal()
    return made


@pytest.fixture
def ann(browser: Open, room: Room, in_class: Class, clock: SetClock) -> Browser:
    """On Monday her first answer in each lab was wrong; it is Tuesday."""
    clock.set(MONDAY.format(1))
    found = browser().joined(room, "ann")
    says(found, "twin", "double", "1 mm")
    clock.set(MONDAY.format(2))
    says(found, "tiny", "double", "1 mm")
    says(found, "tiny", "parity", in_class.option("ann", "It is even."))
    says(found, "tiny", "plan", {"pump": "0"})  # wrong, but it has no other numbers
    clock.set(TUESDAY.format(1))
    return found


def says(browser: Browser, lab: str, exercise: str, answer: object) -> Any:
    message = {"do": "answer", "token": f"{lab} {exercise} {answer}", "answer": answer}
    answered = browser.post(f"/lab/{lab}/say", {"exercise": exercise, "message": message})
    assert answered.status_code == 200, answered.text
    return answered.json()["saved"]["verdict"].get("topic")


def drills(browser: Browser, in_class: Class, lab: str, token: str, *, right: bool = True) -> str:
    """The line below one more like the first exercise."""

    def say(**message: object) -> Any:
        said = {"exercise": "double", "message": {"do": "drill", "token": token, **message}}
        return browser.post(f"/lab/{lab}/say", said).json()["reply"]

    seed = say()["drawn"]["id"]
    twice = draw(in_class.folder.lab(lab, dealt=True), seed).names["twice"]
    answer = {"do": "answer", "token": f"{token} a", "answer": f"{twice + (not right)} m"}
    return str(say(of=seed, message=answer)["drilled"]["saved"]["verdict"].get("topic"))


def warm_up(browser: Browser) -> Any:
    return browser.client.get("/seat").json()["warm_up"]


def next_place(browser: Browser, **after: str) -> str:
    answer = browser.client.get("/warm-up/next", params=after, follow_redirects=False)
    assert answer.status_code == 303
    return str(answer.headers["location"]).removeprefix(HERE)


def test_yesterdays_mistakes_are_asked_again_in_new_numbers(ann: Browser, in_class: Class) -> None:
    double = {"exercise": "double", "title": "Double it", "right": None}
    questions = [
        {"lab": "tiny", "lab_title": "Tiny lab", **double},
        {"lab": "twin", "lab_title": "Twin lab", **double},
    ]
    expected = {"day": "2031-05-05", "yesterday": True, "questions": questions}
    assert warm_up(ann) == expected
    assert next_place(ann) == "/lab/tiny/?warm-up#more:double"
    assert next_place(ann, lab="tiny", exercise="double") == "/lab/twin/?warm-up#more:double"
    assert next_place(ann, lab="twin", exercise="double") == "/lab/tiny/?warm-up#more:double"
    drills(ann, in_class, "tiny", "d1")
    assert [one["right"] for one in warm_up(ann)["questions"]] == [True, None]
    assert next_place(ann) == "/lab/twin/?warm-up#more:double"
    drills(ann, in_class, "twin", "d2", right=False)
    drills(ann, in_class, "twin", "d3")
    assert [one["right"] for one in warm_up(ann)["questions"]] == [True, False]
    assert next_place(ann) == "/"


def test_it_counts_in_no_mark(ann: Browser, in_class: Class) -> None:
    folder, item = in_class.folder, in_class.dealt.dealt.find("ann", "tiny")
    assert item is not None
    scenario = scenario_of(folder.secret(), "room-7", folder.lab("tiny", dealt=True), item)
    journal = room_journal(in_class, "ann")
    before = marks_of(scenario, journal.read().entries)
    drills(ann, in_class, "tiny", "d1")
    assert [each["event"] for each in journal.read().entries].count(DRILL) == 1
    assert marks_of(scenario, journal.read().entries) == before


def test_nobody_elses_and_no_closed_labs_mistakes_are_asked(
    ann: Browser, browser: Open, room: Room
) -> None:
    ben = browser().joined(room, "ben")
    assert warm_up(ben) is None
    assert next_place(ben) == "/"
    assert next_place(browser()) == "/"
    room.close_lab("tiny", "Mira")
    assert [one["lab"] for one in warm_up(ann)["questions"]] == ["twin"]
    room.close_lab("twin", "Mira")
    assert warm_up(ann) is None


def test_on_the_day_itself_there_is_none_and_days_later_it_is_still_the_last_one(
    ann: Browser, clock: SetClock
) -> None:
    clock.set(MONDAY.format(50))
    assert warm_up(ann) is None
    clock.set("2031-05-09T08:00:00Z")
    found = warm_up(ann)
    assert (found["day"], found["yesterday"], len(found["questions"])) == ("2031-05-05", False, 2)


def test_a_room_that_is_opened_again_asks_the_same(
    ann: Browser, in_class: Class, room: Room
) -> None:
    drills(ann, in_class, "tiny", "d1")
    again = Room(in_class.folder).workbooks.practice.warm_up("ann", lambda _: True)
    assert again == warm_up(ann)
    assert again
    assert room.workbooks.practice.warm_up("ann", lambda _: False) is None


def test_the_line_counts_all_workbooks_as_the_board_does(ann: Browser, in_class: Class) -> None:
    assert drills(ann, in_class, "tiny", "d1") == LINE.format(1)
    assert drills(ann, in_class, "twin", "d2") == LINE.format(2)
    found = by_topic(in_class.folder, lambda *_: None)
    [of_ann] = [one for one in found.people if one.id == "ann"]
    assert (of_ann.standings[DROP].running, of_ann.standings[DROP].tried) == (2, 4)
    assert drills(ann, in_class, "twin", "d3", right=False) == LINE.format(0)


def test_a_line_looks_at_labs_about_its_topic_alone(
    ann: Browser, in_class: Class, room: Room, monkeypatch: pytest.MonkeyPatch
) -> None:
    again = Room(in_class.folder)
    own, drawn = again.workbooks.items["ann", "tiny"], []
    real = again.workbooks.scenario

    def scenario(item: Dealt) -> Scenario:
        drawn.append(item.lab)
        return real(item)

    twin = again.workbooks.lab("twin")
    without = [replace(one, topic="") if isinstance(one, Exercise) else one for one in twin.body]
    monkeypatch.setattr(again.workbooks, "scenario", scenario)
    monkeypatch.setitem(again.workbooks._labs, "twin", replace(twin, body=tuple(without)))
    assert again.workbooks.practice.line(own, "double") == LINE.format(0)
    assert drawn == ["tiny"]
    assert room.workbooks.practice.line(own, "parity") == ""
    assert warm_up(ann)


def test_two_at_one_bench_are_told_of_no_topic(
    ann: Browser, browser: Open, room: Room, in_class: Class
) -> None:
    ben = browser().joined(room, "ben")
    room.pairs.join(
        room.workbooks.items["ben", "tiny"], room.workbooks.items["ann", "tiny"], "Mira"
    )
    assert says(ben, "tiny", "plan", {"pump": "1", "valve": "2", "scale": "3"}) is None
    entries = room_journal(in_class, "ann").read().entries
    assert entries[-1]["event"] == ANSWER
    assert entries[-1]["by"]
    assert drills(ann, in_class, "tiny", "d1") == "None"
