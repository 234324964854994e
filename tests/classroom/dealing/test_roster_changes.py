"""Who was dealt and is gone from the roster is told, and who is there again with another id."""

from __future__ import annotations

import pytest
from tiny_class import Room

from labkit.classroom.dealing.roster_changes import gone_from_roster, remarks_on_gone
from labkit.classroom.errors import ClassError
from labkit.classroom.marks.scoring import score
from labkit.classroom.pages.reports import overview_page


def told(room: Room) -> list[str]:
    return list(remarks_on_gone(room.folder, room.dealt))


def test_nobody_is_gone_from_a_roster_that_was_not_touched(room: Room) -> None:
    assert told(room) == []
    room.write_roster("ann,Ann Orrel", "ben,Ben Tasker", "cy,Cy Morland", "new,Ann Orrel Jr")
    assert told(room) == []


def test_who_left_is_told_and_dealing_goes_on(room: Room) -> None:
    room.write_roster("ben,Ben Tasker", "cy,Cy Morland", "dee,Dee Quist")
    (sentence,) = told(room)
    assert sentence.startswith("Ann Orrel (ann) was dealt workbooks and is no longer in roster.csv")
    assert room.deal().new == 1
    page = overview_page(room.folder, score(room.folder))
    assert "no longer in roster.csv" in page
    assert "not in the roster" in page


@pytest.mark.parametrize("name", ["Ann Orrel", "ORREL  ánn", "Orrel Ann."])
def test_nobody_is_dealt_a_second_first_workbook_for_a_changed_id(room: Room, name: str) -> None:
    before = {file: file.read_bytes() for file in room.path.rglob("*") if file.is_file()}
    room.write_roster(f"anne,{name}", "ben,Ben Tasker", "cy,Cy Morland", "dee,Dee Quist")
    with pytest.raises(ClassError, match=r"Nothing was dealt.*\(anne\).*the same.*'ann' back"):
        room.deal()
    del before[room.path / "roster.csv"]
    after = {file: file.read_bytes() for file in room.path.rglob("*") if file.is_file()}
    del after[room.path / "roster.csv"]
    assert after == before
    room.write_roster("ann,Ann Orrel", "ben,Ben Tasker", "cy,Cy Morland", "dee,Dee Quist")
    assert room.deal().new == 1
    room.write_roster("anne,Ann Orrel (2)", "ben,Ben Tasker", "cy,Cy Morland", "dee,Dee Quist")
    assert room.deal().new == 1, "two people of one name are told apart in the roster"


@pytest.mark.parametrize("name", ["Ann Orrell", "Anne Orrel"])
def test_nearly_the_same_name_is_told_and_stops_nobody(room: Room, name: str) -> None:
    room.write_roster("ben,Ben Tasker", "cy,Cy Morland", f"orrel,{name}")
    (sentence,) = told(room)
    assert f"{name} (orrel) there has nearly the same name" in sentence
    assert room.deal().new == 1
    assert told(room) == [sentence]


def test_numbered_people_are_not_taken_for_each_other(room: Room) -> None:
    room.write_roster("p1,Trainee 01", "p2,Trainee 02")
    room.deal()
    room.write_roster("p2,Trainee 02")
    assert "nearly" not in "".join(told(room))


def test_the_same_name_is_told_before_a_nearly_same_one(room: Room) -> None:
    room.write_roster("x,Ann Orrell", "y,Ann Orrel", "ben,Ben Tasker", "cy,Cy Morland")
    (gone,) = gone_from_roster(room.folder, room.dealt)
    assert gone.again
    assert gone.again.id == "y"


def test_many_who_are_gone_are_counted_those_with_another_id_first(room: Room) -> None:
    room.write_roster(*(f"p{n},Person {chr(65 + n)}" for n in range(15)), "ann,Ann Orrel")
    room.deal()
    room.write_roster("ann2,Ann Orel")
    sentences = told(room)
    assert len(sentences) == 11
    assert "(ann2)" in sentences[0]
    assert sentences[-1] == "8 more were dealt workbooks and are no longer in roster.csv."


def test_a_roster_that_cannot_be_read_says_so_elsewhere(room: Room) -> None:
    (room.path / "roster.csv").write_text("nothing")
    assert told(room) == []
