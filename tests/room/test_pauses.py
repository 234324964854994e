"""A pause: nothing is taken, no time runs, and everybody has it back to the second."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from set_clock import SetClock
from tiny_class import TINY_LAB, MakeRoom
from tiny_class import Room as Class

from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.dealt import Dealt
from labkit.classroom.errors import ClassError
from labkit.classroom.marks.scoring import score
from labkit.exchange.clock import read_moment, written
from labkit.room.log import RoomLog
from labkit.room.pauses import PAUSED, Pause, Pauses
from labkit.room.room import CLOSED_NOW, NOT_YET, PAUSED_NOW, TIME_IS_UP, Room
from labkit.room.second import Second

DEADLINE = "2026-11-29T14:00:00Z"


def _at(time: str) -> str:
    return f"2026-11-29T{time}Z"


@pytest.fixture
def made(make_class: MakeRoom) -> Class:
    """A class whose lab ends at two o'clock, and which refuses what is late."""
    return make_class(deadline=DEADLINE, late="refuse")


@pytest.fixture
def room(made: Class, clock: SetClock) -> Room:
    clock.set(_at("13:00:00"))
    return Room(made.folder)


def _item(room: Room, trainee: str = "ann", lab: str = "tiny") -> Dealt:
    return room.workbooks.items[trainee, lab]


def _ends(room: Room, trainee: str = "ann", lab: str = "tiny") -> str | None:
    end = room.ends(lab, trainee)
    return written(end)[11:19] if end else None


def _left(room: Room, trainee: str = "ann") -> timedelta:
    end = room.ends("tiny", trainee)
    assert end
    return end - room.clock("tiny")


def _answer(room: Room, made: Class, trainee: str = "ann", token: str = "t1") -> Any:
    message = {"do": "answer", "token": token, "answer": made.right(trainee)["double"]}
    desk = room.workbooks.opened(_item(room, trainee)).desk
    heard = desk.hear({"exercise": "double", "message": message})
    assert heard
    return heard["reply"]


def test_nothing_is_taken_and_the_page_is_told_to_ask_again(room: Room, made: Class) -> None:
    room.pause("tiny", "Fire alarm", "Mira")
    said = f"{PAUSED_NOW}: Fire alarm."
    assert room.shut(_item(room)) == said
    told = {"token": "t1", "failed": f"Not saved: {said}", "again": True}
    assert _answer(room, made) == told
    assert not room.workbooks.opened(_item(room)).desk.saved["double"]["answered"]
    room.go_on("tiny", "Mira")
    assert room.shut(_item(room)) == ""
    assert _answer(room, made) == {"token": "t1", "saved": True}


def test_what_was_saved_before_is_confirmed_in_a_pause_too(room: Room, made: Class) -> None:
    assert _answer(room, made)["saved"]
    room.pause("tiny", "", "Mira")
    assert room.shut(_item(room)) == f"{PAUSED_NOW}."
    assert _answer(room, made) == {"token": "t1", "saved": True}
    assert _answer(room, made, token="t2")["again"]


@pytest.mark.parametrize("do", ["hint", "step", "drill"])
def test_hints_steps_and_drills_wait_too(room: Room, do: str) -> None:
    room.pause("", "", "Mira")
    desk = room.workbooks.opened(_item(room)).desk
    heard = desk.hear({"exercise": "double", "message": {"do": do, "token": "t1"}})
    assert heard
    assert heard["reply"] == {"token": "t1", "failed": f"Not saved: {PAUSED_NOW}.", "again": True}


def test_everybody_has_the_time_back_and_no_time_is_up_meanwhile(
    room: Room, made: Class, clock: SetClock
) -> None:
    _answer(room, made)
    room.give_time("tiny", "ben", 10, "Mira")
    clock.set(_at("13:50:00"))
    room.pause("tiny", "", "Mira")
    # The deadline in class.yaml goes by.
    clock.set(_at("14:30:17"))
    assert PAUSED_NOW in room.shut(_item(room))
    assert (_left(room), _left(room, "ben")) == (timedelta(minutes=10), timedelta(minutes=20))
    assert room.settle() == []
    room.go_on("tiny", "Mira")
    assert (_ends(room), _ends(room, "ben")) == ("14:40:17", "14:50:17")
    clock.set(_at("14:40:16"))
    assert room.shut(_item(room)) == ""
    clock.set(_at("14:40:17"))
    assert room.shut(_item(room)) == TIME_IS_UP
    assert room.shut(_item(room, "ben")) == ""


def test_a_second_pause_adds_to_the_first(room: Room, clock: SetClock) -> None:
    for begin, end in (("13:10:00", "13:15:00"), ("14:04:59", "14:05:30")):
        clock.set(_at(begin))
        room.pause("tiny", "", "Mira")
        clock.set(_at(end))
        room.go_on("tiny", "Mira")
    assert _ends(room) == "14:05:31"


def test_who_had_no_time_left_gets_none_by_a_pause(room: Room, clock: SetClock) -> None:
    room.give_time("tiny", "ben", 10, "Mira")
    clock.set(_at("14:00:00"))
    room.pause("tiny", "", "Mira")
    assert room.shut(_item(room)) == TIME_IS_UP
    assert PAUSED_NOW in room.shut(_item(room, "ben"))
    clock.set(_at("14:08:00"))
    room.go_on("tiny", "Mira")
    assert (_ends(room), _ends(room, "ben")) == ("14:00:00", "14:18:00")
    assert room.shut(_item(room)) == TIME_IS_UP


def test_extra_time_in_a_pause_comes_on_top(room: Room, clock: SetClock) -> None:
    clock.set(_at("13:50:00"))
    room.pause("tiny", "", "Mira")
    clock.set(_at("14:05:00"))
    room.give_time("tiny", "", 5, "Mira")
    assert _left(room) == timedelta(minutes=15)
    clock.set(_at("14:10:00"))
    room.go_on("tiny", "Mira")
    assert _ends(room) == "14:25:00"


def test_an_end_that_is_set_in_a_pause_counts_from_going_on(room: Room, clock: SetClock) -> None:
    clock.set(_at("13:10:00"))
    room.pause("tiny", "", "Mira")
    clock.set(_at("13:20:00"))
    room.go_on("tiny", "Mira")
    clock.set(_at("13:30:00"))
    room.pause("tiny", "", "Mira")
    clock.set(_at("13:35:00"))
    room.end_in("tiny", 20, "Mira")
    assert _left(room) == timedelta(minutes=20)
    clock.set(_at("13:40:00"))
    room.go_on("tiny", "Mira")
    # The pause before it was set is no part of it.
    assert _ends(room) == "14:00:00"


def test_a_lab_without_an_end_is_paused_too(make_class: MakeRoom) -> None:
    room = Room(make_class().folder)
    room.pause("tiny", "", "Mira")
    assert PAUSED_NOW in room.shut(_item(room))
    assert room.ends("tiny") is None
    room.go_on("tiny", "Mira")
    assert room.shut(_item(room)) == ""


def test_closing_ends_a_pause_and_opening_goes_on(room: Room, made: Class, clock: SetClock) -> None:
    _answer(room, made)
    clock.set(_at("13:10:00"))
    room.pause("tiny", "", "Mira")
    clock.set(_at("13:15:00"))
    room.close_lab("tiny", "Mira")
    assert room.pause_of("tiny") is None
    assert room.shut(_item(room)) == CLOSED_NOW
    assert room.settle() == [_item(room)]
    with pytest.raises(ClassError, match="goes on already"):
        room.go_on("tiny", "Mira")
    with pytest.raises(ClassError, match="nothing to pause"):
        room.pause("tiny", "", "Mira")
    clock.set(_at("13:20:00"))
    room.open_lab("tiny", "Mira")
    # Five minutes of pause; being closed gives nothing back, as ever.
    assert (room.shut(_item(room)), _ends(room)) == ("", "14:05:00")
    clock.set(_at("13:30:00"))
    room.pause("tiny", "", "Mira")
    clock.set(_at("13:32:00"))
    room.open_lab("tiny", "Mira")
    assert (room.shut(_item(room)), _ends(room)) == ("", "14:07:00")


def test_opened_again_without_an_end_a_pause_makes_none(room: Room, clock: SetClock) -> None:
    clock.set(_at("14:30:00"))
    room.open_lab("tiny", "Mira")
    room.pause("tiny", "", "Mira")
    clock.set(_at("14:45:00"))
    room.go_on("tiny", "Mira")
    assert room.ends("tiny", "ann") is None


def test_all_that_is_open_is_paused_and_nothing_else(make_class: MakeRoom) -> None:
    made = make_class()
    for lab in ("other", "later"):
        (made.library / lab).mkdir()
        text = TINY_LAB.replace("id: tiny", f"id: {lab}").replace("LAST", "60")
        (made.library / lab / "lab.md").write_text(text)
    made.write_class(labs="[tiny, other, {lab: later, mode: assessed}]")
    made.deal()
    room = Room(made.folder)
    room.pause("other", "first", "Mira")
    room.pause("", "then", "Olaf")
    said = {lab: room.shut(_item(room, lab=lab)) for lab in ("tiny", "other", "later")}
    assert said == {
        "tiny": f"{PAUSED_NOW}: then.",
        "other": f"{PAUSED_NOW}: first.",
        "later": NOT_YET,
    }
    room.open_lab("later", "Mira")
    assert room.shut(_item(room, lab="later")) == ""
    room.go_on("tiny", "Mira")
    assert room.shut(_item(room, lab="tiny")) == ""
    assert room.shut(_item(room, lab="other"))
    room.go_on("", "Mira")
    assert room.shut(_item(room, lab="other")) == ""


def test_of_two_trainers_who_press_pause_at_once_one_does(room: Room, made: Class) -> None:
    def press(name: str) -> str:
        try:
            room.pause("", f"by {name}", name)
        except ClassError as error:
            return str(error)
        return ""

    with ThreadPoolExecutor(4) as four:
        heard = list(four.map(press, ("Ada", "Bo", "Cleo", "Dag")))
    assert heard.count("") == 1
    first = ("Ada", "Bo", "Cleo", "Dag")[heard.index("")]
    assert set(heard) == {"", f"It is paused already, by {first}."}
    assert made.folder.room_log.read_text().count('"paused"') == 1
    room.go_on("", "Bo")
    with pytest.raises(ClassError, match="goes on already"):
        room.go_on("", "Ada")


@pytest.mark.parametrize("sentence", ["x" * 301, "word " * 61])
def test_a_sentence_that_nobody_reads_is_refused(room: Room, sentence: str) -> None:
    with pytest.raises(ClassError, match="at most 300"):
        room.pause("", sentence, "Mira")
    assert room.pause_of("tiny") is None
    room.pause("", "x" * 300, "Mira")


def test_a_paused_assessed_lab_releases_nothing(make_class: MakeRoom) -> None:
    room = Room(make_class(mode="assessed").folder)
    room.open_lab("tiny", "Mira")
    room.pause("tiny", "", "Mira")
    with pytest.raises(ClassError, match="Close the lab first"):
        room.release("tiny", "Mira")


def test_a_guest_stands_still_with_the_host_and_both_have_the_time_back(
    room: Room, clock: SetClock
) -> None:
    room.give_time("tiny", "ben", 10, "Mira")
    clock.set(_at("13:50:00"))
    room.pause("tiny", "", "Mira")
    room.put_together("tiny", "ben", "ann", "Mira")
    clock.set(_at("14:05:00"))
    assert PAUSED_NOW in room.shut(_item(room))
    room.go_on("tiny", "Mira")
    assert _ends(room) == _ends(room, "ben") == "14:25:00"


def test_a_room_that_is_opened_again_in_a_pause_and_one_that_takes_over_agree(
    made: Class, clock: SetClock, tmp_path_factory: pytest.TempPathFactory
) -> None:
    clock.set(_at("13:00:00"))
    second = Second(made.folder, tmp_path_factory.mktemp("stick"))
    clock.set(_at("13:50:07"))
    Room(made.folder, second).pause("tiny", "Fire alarm", "Mira")
    second.close()
    clock.set(_at("14:20:00"))
    taken_over = Room(ClassFolder.open(second.copy))
    again = Room(made.folder)
    for one in (again, taken_over):
        assert one.shut(_item(one)) == f"{PAUSED_NOW}: Fire alarm."
        assert _left(one) == timedelta(minutes=9, seconds=53)
    clock.set(_at("14:31:30"))
    for one in (again, taken_over):
        one.go_on("tiny", "Olaf")
        assert _ends(one) == "14:41:23"
    assert _ends(Room(made.folder)) == "14:41:23"


def test_a_clock_that_is_set_back_in_a_pause_takes_time_from_nobody(
    room: Room, clock: SetClock
) -> None:
    clock.set(_at("13:50:00"))
    room.pause("tiny", "", "Mira")
    clock.set(_at("13:40:00"))
    room.go_on("tiny", "Mira")
    assert _ends(room) == "14:00:00"


def test_the_first_of_two_pauses_in_a_log_holds() -> None:
    first, second = (read_moment(_at(time)) for time in ("13:40:00", "13:45:00"))
    assert first
    assert second
    pauses = Pauses()
    pauses.begin("tiny", Pause(first, "Mira", "Fire alarm"))
    pauses.begin("tiny", Pause(second, "Olaf", "Break"))
    pauses.end("tiny", second)
    pauses.end("tiny", second)
    assert pauses.moved("tiny", second) == second + timedelta(minutes=5)


def test_what_stands_in_the_log_says_who_and_when(tmp_path: Path, clock: SetClock) -> None:
    clock.set(_at("13:40:00"))
    log = RoomLog(tmp_path / "room.jsonl")
    log.add(PAUSED, "Mira", labs=["tiny"], sentence="Fire alarm")
    pause = RoomLog(tmp_path / "room.jsonl").state.pauses.now["tiny"]
    assert (pause.since, pause.by) == (read_moment(_at("13:40:00")), "Mira")


# Scoring afterwards


def test_nobody_is_late_by_the_trainers_pause(room: Room, made: Class, clock: SetClock) -> None:
    clock.set(_at("13:50:00"))
    room.pause("tiny", "", "Mira")
    clock.set(_at("14:20:00"))
    room.go_on("tiny", "Mira")
    clock.set(_at("14:25:00"))
    _answer(room, made)
    taken = room.hand_in([_item(room)])[_item(room).workbook]
    assert not taken.late
    assert "after the deadline" not in taken.page.read_text("utf-8")
    result = score(made.folder).results.of("ann")[0]
    assert (result.earned, result.late) == (4, False)


def test_nobody_is_late_who_was_given_time_or_whom_the_room_hands_in_at_the_end(
    room: Room, made: Class, clock: SetClock
) -> None:
    room.give_time("tiny", "ben", 10, "Mira")
    _answer(room, made)
    # The room looks each second: what is shut is handed in after the end.
    clock.set(_at("14:00:02"))
    assert room.settle() == [_item(room)]
    clock.set(_at("14:09:59"))
    _answer(room, made, "ben")
    clock.set(_at("14:10:02"))
    assert room.settle() == [_item(room, "ben")]
    scoring = score(made.folder)
    for trainee in ("ann", "ben"):
        result = scoring.results.of(trainee)[0]
        assert (result.earned, result.late) == (4, False)
    assert not [notice for notice in scoring.notices if "deadline" in notice.sentence]


def test_what_the_records_took_only_after_the_end_is_told_as_no_matter_of_clocks(
    room: Room, made: Class, clock: SetClock, monkeypatch: pytest.MonkeyPatch
) -> None:
    for trainee in ("ann", "ben"):
        _answer(room, made, trainee)
    clock.set(_at("13:59:59"))
    with monkeypatch.context() as patch:

        def full(*_: object, **__: object) -> None:
            raise OSError(28, "No space left on device")

        patch.setattr("labkit.classroom.handins.collecting.collect", full)
        with pytest.raises(OSError, match="No space"):
            room.hand_in([_item(room)])
    clock.set(_at("14:00:09"))
    taken = room.hand_in([_item(room, "ben")])[_item(room).workbook]
    assert (taken.made_at, taken.received_at) == (_at("13:59:59"), _at("14:00:09"))
    assert "after the deadline" not in taken.page.read_text("utf-8")
    assert not [one for one in score(made.folder).notices if "deadline" in one.sentence]


def test_what_comes_on_a_stick_is_late_by_class_yaml_as_ever(
    room: Room, made: Class, clock: SetClock
) -> None:
    clock.set(_at("13:50:00"))
    room.pause("tiny", "", "Mira")
    clock.set(_at("14:20:00"))
    room.go_on("tiny", "Mira")
    made.hand_in("cy")
    scoring = score(made.folder)
    assert "late" in [notice.reason for notice in scoring.notices]
    assert not scoring.results.of("cy")[0].counts
