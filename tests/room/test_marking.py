"""Marking on the trainer's pages: who may, what they see; no mark is lost or overwritten."""

from __future__ import annotations

import json
import shutil
from pathlib import Path
from typing import Any

import pytest
from in_a_browser import FROM_HERE, Browser, Open
from marking_class import ANSWERS, LAB, NOTES_LAB, READY, MarkingClass
from set_clock import SetClock
from sqlalchemy import select

from labkit.classroom.corrections.correcting import correct
from labkit.classroom.handins.collecting import collect
from labkit.classroom.marks.by_hand import give as give_by_command
from labkit.classroom.records.schema import IN_PERSON, manual
from labkit.classroom.records.store import Records
from labkit.room.app import room_app
from labkit.room.room import Room
from labkit.room.second import Second
from labkit.room.trainers import Trainers

ALL = {"echo": 1.0, "both": 1.0}
HALF = {"echo": 0.5, "both": 0.0}


@pytest.fixture
def in_class(tmp_path: Path) -> MarkingClass:
    """Six people; five have handed a text in, and ann said that her bench is ready."""
    made = MarkingClass.made(tmp_path)
    for name in ANSWERS:
        made.hands_in(name, ready=READY if name == "ann" else None)
    return made


@pytest.fixture
def mira(browser: Open, trainers: Trainers) -> Browser:
    return browser().signed_in(trainers)


@pytest.fixture
def quin(browser: Open, trainers: Trainers) -> Browser:
    other = browser("192.0.2.8")
    said = {"key": trainers.key, "name": "Quin"}
    assert other.post("/trainer/sign-in", said).status_code == 200
    return other


def the_list(who: Browser) -> dict[str, Any]:
    [lab] = who.client.get("/trainer/marking/list").json()["labs"]
    found: dict[str, Any] = lab
    return found


def works(who: Browser, exercise: str = "why") -> list[str]:
    asked = {"lab": LAB, "exercise": exercise}
    answer = who.client.get("/trainer/marking/exercise", params=asked)
    return [one["work"] for one in answer.json()["works"]]


def looked(who: Browser, work: str, exercise: str = "why", **more: str) -> dict[str, Any]:
    asked = {"work": work, "exercise": exercise, **more}
    answer = who.client.get("/trainer/marking/answer", params=asked)
    assert answer.status_code == 200, answer.text
    found: dict[str, Any] = answer.json()
    return found


def given(who: Browser, seen: dict[str, Any], shares: Any, **more: object) -> Any:
    """Give a mark for an answer as it was `seen`."""
    said = {name: seen[name] for name in ("work", "exercise", "digest", "last")}
    return who.post("/trainer/marking/give", {**said, "shares": shares, **more})


def entries(in_class: MarkingClass) -> list[tuple[str, float]]:
    rows = Records.of(in_class.folder).rows(select(manual).order_by(manual.c.id))
    return [(row["by"], round(row["credit"], 2)) for row in rows]


def test_the_list_has_what_came_in_and_says_who_is_still_at_work(
    mira: Browser, room: Room, browser: Open
) -> None:
    lab = the_list(mira)
    assert (lab["title"], lab["handed_in"], lab["missing"]) == ("Notes at the bench", 5, 1)
    said = [(one["title"], one["waiting"], one["of"], one["in_person"]) for one in lab["exercises"]]
    assert said == [("Why two terminators", 5, 5, False), ("The bench is safe", 1, 1, True)]
    # One hands in through the room meanwhile.
    flo = browser("192.0.2.6").joined(room, "flo")
    message = {"do": "answer", "token": "t1", "answer": "It takes the echo away."}
    assert flo.post(f"/lab/{LAB}/say", {"exercise": "why", "message": message}).status_code == 200
    assert the_list(mira)["missing"] == 1, "what is not handed in cannot be marked"
    assert flo.post(f"/lab/{LAB}/hand-in", {}).status_code == 200
    lab = the_list(mira)
    assert (lab["exercises"][0]["waiting"], lab["missing"]) == (6, 0)


def test_what_comes_on_a_stick_waits_in_the_same_list(
    mira: Browser, in_class: MarkingClass, tmp_path: Path
) -> None:
    assert the_list(mira)["exercises"][0]["of"] == 5
    stick = tmp_path / "stick"
    stick.mkdir()
    shutil.move(in_class.hands_in("flo", "It takes the echo away."), stick)
    collect(in_class.folder, [stick])
    assert the_list(mira)["exercises"][0]["of"] == 6


def test_nobody_but_a_signed_in_trainer_sees_or_gives_a_mark(
    browser: Open, room: Room, mira: Browser, in_class: MarkingClass
) -> None:
    the_list(mira)
    seen = looked(mira, in_class.work("ben"))
    ben = browser("192.0.2.5").joined(room, "ben")
    for path in (
        "",
        "/list",
        "/exercise?lab=notes&exercise=why",
        f"/answer?work={seen['work']}&exercise=why",
    ):
        assert ben.client.get(f"/trainer/marking{path}").status_code == 403
    for path in ("", "/people"):
        assert ben.client.get(f"/trainer/sign-offs{path}").status_code == 403
    assert given(ben, seen, ALL).status_code == 403
    assert ben.post("/trainer/marking/results", {}).status_code == 403
    said = {name: seen[name] for name in ("work", "exercise", "digest", "last")}
    elsewhere = {"origin": "http://192.0.2.66"}
    text = json.dumps({**said, "shares": ALL})
    assert (
        mira.client.post("/trainer/marking/give", content=text, headers=elsewhere).status_code
        == 403
    )
    assert entries(in_class) == []


def test_answers_come_without_names_in_an_order_of_their_own(
    mira: Browser, in_class: MarkingClass
) -> None:
    the_list(mira)
    in_order = [in_class.work(name) for name in ANSWERS]
    assert sorted(works(mira)) == sorted(in_order)
    assert works(mira) == works(mira)
    text = json.dumps([looked(mira, work) for work in works(mira)])
    for word in ("Orrel", "Tasker", "Morland", "Harnow", "Pallister", '"ann"', "(ann)"):
        assert word not in text
    assert looked(mira, in_class.work("cy"), names="1")["who"] == "Cy Morland (cy)"


def test_an_order_tells_nothing_of_another_exercise(tmp_path: Path, trainers: Trainers) -> None:
    people = [f"t{n:02},Person {n}" for n in range(12)]
    made = MarkingClass.made(tmp_path, people)
    for n in range(12):
        made.hands_in(f"t{n:02}", "An open end.", ready=READY)
    mira = Browser(room_app(Room(made.folder), trainers)).signed_in(trainers)
    the_list(mira)
    dealt = [made.work(f"t{n:02}") for n in range(12)]
    orders = [works(mira, exercise) for exercise in ("why", "safe")]
    assert orders[0] != orders[1]
    assert dealt not in orders
    assert sorted(orders[0]) == sorted(orders[1]) == sorted(dealt)


def test_an_answer_comes_with_its_own_numbers_and_what_it_is_marked_by(
    mira: Browser, in_class: MarkingClass
) -> None:
    the_list(mira)
    seen = looked(mira, in_class.work("cy"))
    number = seen["question"].partition("trunk of ")[2][:2]
    assert f"{number} m a terminator at <em>each</em> end" in seen["question"]
    assert f"both ends of the {number} m" in seen["model"]
    assert seen["answer"] == ANSWERS["cy"], "as it was typed: the page shows it as text"
    assert [(item["id"], item["worth"]) for item in seen["rubric"]] == [("echo", 2), ("both", 1)]
    assert (seen["given"], seen["last"]) == (None, 0)


def test_a_mark_is_an_entry_in_the_name_of_whoever_signed_in(
    mira: Browser, in_class: MarkingClass
) -> None:
    the_list(mira)
    seen = looked(mira, in_class.work("ann"))
    heard = given(mira, seen, {"echo": 1, "both": 0.5}, note="well put", by="Quin").json()
    assert heard["trainer"] == "Mira"
    now = heard["saved"]["given"]
    assert (now["by"], now["note"], now["earned"]) == ("Mira", "well put", 2.5)
    assert entries(in_class) == [("Mira", 0.83)]
    assert the_list(mira)["exercises"][0]["waiting"] == 4
    # To take it back is to mark again; the earlier entry stays.
    assert given(mira, heard["saved"], HALF).json()["saved"]["given"]["earned"] == 1
    assert len(entries(in_class)) == 2


def test_a_message_that_comes_twice_is_one_entry(mira: Browser, in_class: MarkingClass) -> None:
    the_list(mira)
    seen = looked(mira, in_class.work("ann"))
    for _ in range(3):
        assert given(mira, seen, ALL).json()["saved"]["given"]["earned"] == 3
    assert entries(in_class) == [("Mira", 1)]


@pytest.mark.parametrize("order", [("Mira", "Quin"), ("Quin", "Mira")])
def test_of_two_trainers_the_second_sees_what_the_first_gave_and_must_say_so(
    mira: Browser, quin: Browser, in_class: MarkingClass, order: tuple[str, str]
) -> None:
    by_name = {"Mira": mira, "Quin": quin}
    first, second = by_name[order[0]], by_name[order[1]]
    the_list(mira)
    work = in_class.work("ben")
    seen = {name: looked(who, work) for name, who in by_name.items()}
    assert "saved" in given(first, seen[order[0]], HALF).json()
    heard = given(second, seen[order[1]], ALL).json()
    assert "saved" not in heard
    now = heard["meanwhile"]
    assert (now["given"]["by"], now["given"]["earned"]) == (order[0], 1)
    assert entries(in_class) == [(order[0], 0.33)]
    # Having seen it they say so: both marks stay, the later one holds.
    assert given(second, now, ALL).json()["saved"]["given"]["by"] == order[1]
    assert [by for by, _ in entries(in_class)] == list(order)
    # What the first one's page sends once more, late, is not taken over it.
    assert "meanwhile" in given(first, seen[order[0]], HALF).json()
    assert len(entries(in_class)) == 2


def test_a_mark_that_the_command_gave_meanwhile_is_not_overwritten(
    mira: Browser, in_class: MarkingClass
) -> None:
    the_list(mira)
    seen = looked(mira, in_class.work("ann"))
    give_by_command(in_class.folder, "ann", LAB, "why", ["1"], by="R. Ops")
    assert given(mira, seen, HALF).json()["meanwhile"]["given"]["by"] == "R. Ops"


def test_whoever_hands_in_anew_is_not_marked_by_what_was_read_before(
    mira: Browser, in_class: MarkingClass, clock: SetClock
) -> None:
    the_list(mira)
    seen = looked(mira, in_class.work("ann"))
    clock.set("2031-01-01T00:00:00Z")
    in_class.hands_in("ann", "Quite another answer than before.")
    the_list(mira)
    now = given(mira, seen, ALL).json()["meanwhile"]
    assert now["answer"] == "Quite another answer than before."
    assert entries(in_class) == []
    assert "saved" in given(mira, now, ALL).json()


@pytest.mark.parametrize(
    "shares",
    [{}, {"echo": 1}, {"echo": 2, "both": 1}, {"echo": "much", "both": 1}, {"words": 1}, [1], None],
)
def test_points_that_are_none_are_refused_with_a_sentence(
    mira: Browser, in_class: MarkingClass, shares: Any
) -> None:
    the_list(mira)
    answer = given(mira, looked(mira, in_class.work("ann")), shares)
    assert answer.status_code == 409
    assert answer.text.endswith(".")
    assert "Orrel" not in answer.text
    assert entries(in_class) == []


def test_what_is_no_answer_is_refused(mira: Browser, in_class: MarkingClass) -> None:
    the_list(mira)
    seen = looked(mira, in_class.work("ann"))
    for wrong in ({"work": "nobody's"}, {"exercise": "whose"}, {"work": 7}):
        assert given(mira, {**seen, **wrong}, ALL).status_code == 409
    # Flo has handed in nothing.
    assert given(mira, {**seen, "work": in_class.work("flo")}, ALL).status_code == 200
    assert entries(in_class) == []


def test_after_the_release_a_change_needs_a_reason_and_can_be_shown(
    mira: Browser, room: Room, in_class: MarkingClass, browser: Open
) -> None:
    the_list(mira)
    given(mira, looked(mira, in_class.work("ann")), HALF)
    assert mira.does("release", lab=LAB).status_code == 200
    seen = looked(mira, in_class.work("ann"))
    assert seen["released"]
    refused = given(mira, seen, ALL)
    assert refused.status_code == 409
    assert "say why" in refused.text
    # The same mark is no change, and a first mark needs no reason.
    assert "saved" in given(mira, seen, HALF).json()
    assert "saved" in given(mira, looked(mira, in_class.work("ben")), HALF).json()
    assert given(mira, seen, ALL, note="read once more").json()["saved"]["given"]["earned"] == 3
    ann = browser("192.0.2.6").joined(room, "ann")
    assert ann.client.get(f"/lab/{LAB}/marks").json()["earned"] == 1
    assert mira.post("/trainer/marking/results", {}).json()["done"]
    assert ann.client.get(f"/lab/{LAB}/marks").json()["earned"] == 3


def test_what_two_did_together_is_there_once(mira: Browser, in_class: MarkingClass) -> None:
    assert the_list(mira)["exercises"][0]["of"] == 5
    assert mira.does("put together", lab=LAB, guest="ben", host="ann").status_code == 200
    lab = the_list(mira)
    assert (lab["exercises"][0]["of"], lab["handed_in"], lab["missing"]) == (4, 4, 1)
    assert in_class.work("ben") not in works(mira)
    seen = looked(mira, in_class.work("ann"))
    assert seen["together"] == 1
    assert "Tasker" not in json.dumps(seen)
    assert "Ben Tasker" in looked(mira, in_class.work("ann"), names="1")["who"]


def test_with_a_second_disk_saved_means_on_both(
    in_class: MarkingClass, trainers: Trainers, tmp_path: Path
) -> None:
    stick = tmp_path / "stick"
    stick.mkdir()
    second = Second(in_class.folder, stick)
    try:
        room = Room(in_class.folder, second)
        mira = Browser(room_app(room, trainers)).signed_in(trainers)
        the_list(mira)
        seen = looked(mira, in_class.work("ann"))
        assert "saved" in given(mira, seen, ALL).json()
        copy = Records.open(second.copy, class_id="room-7")
        assert [row["by"] for row in copy.rows(select(manual))] == ["Mira"]
        stick.rename(tmp_path / "gone")
        other = looked(mira, in_class.work("ben"))
        assert given(mira, other, ALL).status_code == 503
        (tmp_path / "gone").rename(stick)
        assert mira.does("second again").status_code == 200
        assert "saved" in given(mira, other, ALL).json()
        assert len(entries(in_class)) == 2, "what is asked for again is one entry"
    finally:
        second.close()


# Sign-offs


def states(who: Browser) -> dict[str, str]:
    said = who.client.get("/trainer/sign-offs/people").json()["people"]
    return {one["id"]: one["labs"][0]["exercises"][0]["state"] for one in said}


def test_a_sign_off_has_its_cautions_and_the_name_of_whoever_saw_it(
    mira: Browser, in_class: MarkingClass
) -> None:
    assert states(mira)["ann"] == "ready"
    assert states(mira)["ben"] == "nothing ready"
    assert states(mira)["flo"] == "not handed in"
    seen = looked(mira, in_class.work("ann"), "safe", names="1")
    assert "alone" in "".join(seen["cautions"])
    assert "permitted" in seen["caution"]
    assert seen["not_ready"] == []
    done = given(mira, seen, {"locked": 1, "dead": 1}).json()["saved"]
    assert (done["given"]["by"], done["given"]["earned"]) == ("Mira", 3)
    assert states(mira)["ann"] == "signed"


def test_what_was_not_said_to_be_ready_is_signed_off_as_the_command_demands(
    mira: Browser, in_class: MarkingClass
) -> None:
    states(mira)
    for name in ("ben", "flo"):
        seen = looked(mira, in_class.work(name), "safe")
        assert seen["not_ready"] == ["dead", "locked"]
        assert seen["cautions"], "shown whether or not anything is handed in"
        assert seen["caution"]
        ticked = {"locked": 1, "dead": 0}
        assert given(mira, seen, ticked).status_code == 409
        assert given(mira, seen, ticked, not_ready=True).status_code == 409
        assert given(mira, seen, ticked, note="saw the lock").status_code == 409
        done = given(mira, seen, ticked, not_ready=True, note="saw the lock").json()
        assert done["saved"]["given"]["by"] == "Mira"
    rows = Records.of(in_class.folder).rows(select(manual))
    assert {row["answer_digest"] for row in rows} == {IN_PERSON}
    assert states(mira)["flo"] == "seen before"
    # It counts once it is handed in.
    in_class.hands_in("flo", "It takes the echo away.")
    assert states(mira)["flo"] == "signed"
    assert looked(mira, in_class.work("flo"), "safe")["given"]["earned"] == 2


def test_what_came_in_meanwhile_is_scored_before_a_sign_off_of_nothing(
    mira: Browser, in_class: MarkingClass
) -> None:
    states(mira)
    seen = looked(mira, in_class.work("flo"), "safe")
    in_class.hands_in("flo", "It takes the echo away.", ready=READY)
    ticked = {"locked": 1, "dead": 1}
    refused = given(mira, seen, ticked, not_ready=True, note="saw it")
    assert refused.status_code == 409
    assert "waits to be scored" in refused.text
    assert states(mira)["flo"] == "ready"
    now = given(mira, seen, ticked, not_ready=True, note="saw it").json()["meanwhile"]
    assert now["not_ready"] == []
    assert given(mira, now, ticked).json()["saved"]["given"]["earned"] == 3


def test_a_corrected_text_is_what_is_marked_by_at_once(
    mira: Browser, in_class: MarkingClass
) -> None:
    the_list(mira)
    seen = looked(mira, in_class.work("ann"))
    source = in_class.path.parent / "corrected"
    source.mkdir()
    text = NOTES_LAB.replace("Says that the signal runs to both ends.", "Names both ends.")
    (source / "lab.md").write_text(text, encoding="utf-8")
    correct(in_class.folder, LAB, source, reason="clearer", by="R. Ops")
    now = looked(mira, seen["work"])
    assert "Names both ends." in now["rubric"][1]["text"]
    assert "saved" in given(mira, now, ALL).json()
    assert the_list(mira)["exercises"][0]["waiting"] == 4


def test_who_is_dealt_later_and_who_is_put_together_is_there_at_once(
    mira: Browser, room: Room, in_class: MarkingClass
) -> None:
    assert "gus" not in states(mira)
    with (in_class.path / "roster.csv").open("a", encoding="utf-8") as roster:
        roster.write("gus,Gus Hallow\n")
    in_class.deal()
    room.look_again()
    assert states(mira)["gus"] == "not handed in"
    seen = looked(mira, in_class.work("gus"), "safe", names="1")
    assert seen["who"] == "Gus Hallow (gus)"
    assert mira.does("put together", lab=LAB, guest="gus", host="ann").status_code == 200
    assert states(mira)["gus"] == "ready", "what is together is the host's"


def test_pages_hold_no_script_or_style_of_their_own(mira: Browser) -> None:
    for path in ("/trainer/marking", "/trainer/sign-offs"):
        page = mira.client.get(path)
        assert page.status_code == 200
        assert "script-src 'self'" in page.headers["content-security-policy"]
        assert mira.client.get(path, headers=FROM_HERE).text == page.text
