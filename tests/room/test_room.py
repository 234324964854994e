"""The room without a browser: who sits where, what is open and for how long, what is handed in."""

from __future__ import annotations

import pytest
from set_clock import SetClock
from tiny_class import MakeRoom
from tiny_class import Room as Class

from labkit.classroom.dealt import Dealt
from labkit.classroom.errors import ClassError
from labkit.classroom.handins.collecting import collect
from labkit.classroom.marks.scoring import score
from labkit.classroom.people.same_person import become
from labkit.page.desk import Heard
from labkit.room.room import CLOSED_NOW, NOT_YET, TIME_IS_UP, Room


def _item(room: Room, trainee: str = "ann") -> Dealt:
    return room.workbooks.items[trainee, "tiny"]


def _answer(room: Room, in_class: Class, trainee: str = "ann", token: str = "t1") -> Heard | None:
    answer = in_class.right(trainee)["double"]
    message = {"do": "answer", "token": token, "answer": answer}
    return room.workbooks.opened(_item(room, trainee)).desk.hear(
        {"exercise": "double", "message": message}
    )


def test_a_class_that_was_not_dealt_has_no_room(in_class: Class) -> None:
    in_class.folder.deal_file.unlink()
    (in_class.path / "class-secret.txt").unlink()
    with pytest.raises(ClassError, match="labkit deal"):
        Room(in_class.folder)


def test_the_code_on_a_card_leads_to_its_trainee(room: Room) -> None:
    for trainee, code in room.on_cards.items():
        assert room.trainee_of(f" {code[:3].lower()}-{code[3:]} ") == trainee
    assert room.trainee_of("") is None
    assert room.trainee_of("000000") is None


def test_a_card_of_a_corrected_id_leads_there_too_though_both_were_dealt(in_class: Class) -> None:
    printed = Room(in_class.folder).on_cards["ann"]
    in_class.write_roster("anne,Anne O. Orrel", "ben,Ben Tasker", "cy,Cy Morland")
    in_class.deal()
    later = Room(in_class.folder).on_cards["anne"]
    become(in_class.folder, "ann", "anne", reason="misspelt", by="R. Ops")
    room = Room(in_class.folder)
    assert (room.trainee_of(printed), room.trainee_of(later)) == ("anne", "anne")
    assert room.on_cards["anne"] == printed
    assert _item(room, "anne").attempt == 2


def test_a_second_device_takes_the_seat_and_a_room_opened_again_knows_it(
    room: Room, in_class: Class
) -> None:
    first = room.seated("ann", "192.0.2.7")
    assert room.seat(first)
    second = room.seated("ann", "192.0.2.8")
    for one in (room, Room(in_class.folder)):
        assert one.seat(first) is None
        seat = one.seat(second)
        assert seat
        assert (seat.trainee, seat.number) == ("ann", 2)


def test_who_left_the_roster_has_no_seat(room: Room, in_class: Class) -> None:
    shown = room.seated("ann", "192.0.2.7")
    in_class.write_roster("ben,Ben Tasker", "cy,Cy Morland")
    assert Room(in_class.folder).seat(shown) is None


def test_who_has_no_card_waits_until_the_trainer_says_who_it_is(room: Room) -> None:
    number = room.door.asks("  Ann\x07 Orrel ")
    assert room.door.waiting == {number: "Ann Orrel"}
    assert room.door.answer_to(number) is None
    room.door.let_in(number, "ann", "Mira")
    assert room.door.waiting == {}
    assert room.door.answer_to(number) == "ann"
    # Once: whoever learns the number later is nobody.
    assert room.door.answer_to(number) == ""


def test_who_is_turned_away_or_unknown_is_nobody(room: Room) -> None:
    number = room.door.asks("Somebody")
    with pytest.raises(ClassError, match="nobody of this class"):
        room.door.let_in(number, "zoe", "Mira")
    room.door.let_in(number, "", "Mira")
    assert room.door.answer_to(number) == ""
    assert room.door.answer_to("never asked") == ""
    with pytest.raises(ClassError, match="waits under that name"):
        room.door.let_in(number, "ann", "Mira")


def test_fifty_may_wait_and_no_name_is_empty(room: Room) -> None:
    with pytest.raises(ClassError, match="Type your name"):
        room.door.asks(" \u200b\t")
    for number in range(50):
        room.door.asks(f"Person {number}")
    with pytest.raises(ClassError, match="Too many wait"):
        room.door.asks("One more")


def test_practice_is_open_until_it_is_closed_and_assessed_once_told(make_class: MakeRoom) -> None:
    made = make_class(mode="assessed")
    room = Room(made.folder)
    assert room.shut(_item(room)) == NOT_YET
    assert not room.may_see(_item(room))
    room.open_lab("tiny", "Mira")
    assert room.shut(_item(room)) == ""
    assert room.may_see(_item(room))
    room.close_lab("tiny", "Mira")
    assert Room(made.folder).shut(_item(room)) == CLOSED_NOW


def test_a_lab_opens_by_itself_at_its_time(make_class: MakeRoom, clock: SetClock) -> None:
    opens = "[{lab: tiny, mode: assessed, opens: 2026-11-29 13:00}]"
    room = Room(make_class(labs=opens, time_zone="UTC").folder)
    clock.set("2026-11-29T12:59:59Z")
    assert room.shut(_item(room)) == NOT_YET
    assert room.opens("tiny") == "2026-11-29T13:00:00Z"
    clock.set("2026-11-29T13:00:00Z")
    assert room.shut(_item(room)) == ""
    assert room.opens("tiny") is None
    room.close_lab("tiny", "Mira")
    assert room.shut(_item(room)) == CLOSED_NOW


def test_time_is_given_to_one_or_to_all_and_goes_by_this_clock(
    make_class: MakeRoom, clock: SetClock
) -> None:
    room = Room(make_class(deadline="2026-11-29T14:00:00Z").folder)
    room.give_time("tiny", "ann", 10, "Mira")
    room.give_time("tiny", "", 5, "Mira")
    clock.set("2026-11-29T14:04:59Z")
    assert room.shut(_item(room, "ben")) == ""
    clock.set("2026-11-29T14:05:00Z")
    assert room.shut(_item(room, "ben")) == TIME_IS_UP
    clock.set("2026-11-29T14:14:59Z")
    assert room.shut(_item(room, "ann")) == ""
    clock.set("2026-11-29T14:15:00Z")
    assert room.shut(_item(room, "ann")) == TIME_IS_UP
    # Opened again by hand: the old end holds no more, a new one may be set.
    room.open_lab("tiny", "Mira")
    assert room.shut(_item(room, "ben")) == ""
    room.end_in("tiny", 20, "Mira")
    clock.set("2026-11-29T14:40:00Z")
    assert room.shut(_item(room, "ben")) == TIME_IS_UP
    assert room.shut(_item(room, "ann")) == ""


@pytest.mark.parametrize("minutes", [0, -5, 601])
def test_no_other_minutes_are_given(room: Room, minutes: int) -> None:
    with pytest.raises(ClassError, match="from 1 to 600"):
        room.end_in("tiny", minutes, "Mira")


def test_there_is_no_time_to_give_where_there_is_no_end(room: Room) -> None:
    with pytest.raises(ClassError, match="no end"):
        room.give_time("tiny", "", 5, "Mira")


def test_what_is_handed_in_here_meets_the_same_records(room: Room, in_class: Class) -> None:
    _answer(room, in_class)
    taken = room.hand_in([_item(room)])[_item(room).workbook]
    assert room.receipt(_item(room)) == (taken.code, taken.received_at)
    assert Room(in_class.folder).receipt(_item(room)) == (taken.code, taken.received_at)
    # The same workbook on a stick, by another trainee the other way.
    in_class.hand_in("ben")
    results = {result.dealt.trainee: result for result in score(in_class.folder).results}
    assert results["ann"].share.earned == 4
    assert results["ben"].share.earned == 8
    assert not collect(in_class.folder).new


def test_what_is_shut_takes_nothing_and_says_why(room: Room, in_class: Class) -> None:
    room.close_lab("tiny", "Mira")
    heard = _answer(room, in_class)
    assert heard
    assert heard["reply"] == {"token": "t1", "failed": f"Not saved: {CLOSED_NOW}"}
    assert not room.workbooks.opened(_item(room)).desk.saved["double"]["answered"]


def test_what_is_shut_is_handed_in_once_and_again_after_more_work(
    room: Room, in_class: Class
) -> None:
    _answer(room, in_class)
    assert room.settle() == []
    room.close_lab("tiny", "Mira")
    # Who did nothing hands nothing in.
    assert room.settle() == [_item(room)]
    assert room.settle() == []
    room.open_lab("tiny", "Mira")
    _answer(room, in_class, token="t2")
    room.close_lab("tiny", "Mira")
    assert room.settle() == [_item(room)]
    # What a room before this one left shut and not handed in.
    room.open_lab("tiny", "Mira")
    _answer(room, in_class, token="t3")
    room.close_lab("tiny", "Mira")
    assert Room(in_class.folder).settle() == [_item(room)]


def test_what_is_opened_while_it_is_handed_in_is_handed_in_again_later(
    room: Room, in_class: Class, monkeypatch: pytest.MonkeyPatch
) -> None:
    _answer(room, in_class)
    room.close_lab("tiny", "Mira")
    real = Room.hand_in

    def opened_meanwhile(one: Room, items: list[Dealt]) -> object:
        taken = real(one, items)
        one.open_lab("tiny", "Mira")
        return taken

    with monkeypatch.context() as patch:
        patch.setattr(Room, "hand_in", opened_meanwhile)
        assert room.settle() == [_item(room)]
    _answer(room, in_class, token="t2")
    assert room.settle() == []
    room.close_lab("tiny", "Mira")
    assert room.settle() == [_item(room)]


def test_a_hand_in_that_the_records_could_not_take_is_taken_with_the_next(
    room: Room, in_class: Class, monkeypatch: pytest.MonkeyPatch
) -> None:
    _answer(room, in_class)
    _answer(room, in_class, "ben")
    with monkeypatch.context() as patch:

        def full(*_: object, **__: object) -> None:
            raise OSError(28, "No space left on device")

        patch.setattr("labkit.classroom.handins.collecting.collect", full)
        with pytest.raises(OSError, match="No space"):
            room.hand_in([_item(room)])
    taken = Room(in_class.folder).hand_in([_item(room, "ben")])
    assert set(taken) == {_item(room).workbook, _item(room, "ben").workbook}


def test_results_of_an_assessed_lab_wait_until_nobody_can_answer(make_class: MakeRoom) -> None:
    room = Room(make_class(mode="assessed").folder)
    room.open_lab("tiny", "Mira")
    with pytest.raises(ClassError, match="Close the lab first"):
        room.release("tiny", "Mira")
    assert not room.is_released("tiny")
    room.close_lab("tiny", "Mira")
    room.release("tiny", "Mira")
    assert room.is_released("tiny")
    with pytest.raises(ClassError, match="retake"):
        room.open_lab("tiny", "Mira")
    with pytest.raises(ClassError, match="no lab of this class"):
        room.release("other", "Mira")
