"""Who is one person in several classes, and whose certificate is renewed by which."""

from __future__ import annotations

from datetime import date

import pytest

from labkit.classroom.across.persons import due, persons
from labkit.classroom.across.seen import Attendance, result_in_words
from labkit.classroom.certificates.register import Issued
from labkit.classroom.certificates.statement import LabDone, Statement


def attendance(folder: str, trainee: str, name: str, day: str = "", ids_of: str = "") -> Attendance:
    return Attendance(folder, f"Class {folder}", day, ids_of, trainee, name, labs=1)


def certified(one: Attendance, until: str, *labs: str) -> Attendance:
    done = tuple(LabDone(lab, "1.0") for lab in labs)
    said = Statement(
        *("AAAAA-BBBBB-1", one.name, one.title, "", "", one.day, one.day, until),
        *("80.0", False, "", "60", done, ()),
    )
    held = Issued("AAAAA-BBBBB-1", "w", said, "", "Mira", one.day)
    return Attendance(
        *(one.folder, one.title, one.day, one.ids_of, one.trainee, one.name), certificate=held
    )


def shown(*attendances: Attendance) -> list[tuple[str, list[str]]]:
    return [(one.name, [each.folder for each in one.classes]) for one in persons(attendances)]


def test_ids_of_one_list_are_one_person_whatever_the_name() -> None:
    found = shown(
        attendance("b", "P7", "Ann Orrel-Tasker", "2026-05-02", "https://people.example/"),
        attendance("a", "p7", "Ann Orrel", "2025-03-01", "https://people.example/"),
        attendance("c", "p7", "Ann Orrel", "2026-06-01", "https://others.example/"),
    )
    assert found == [("Ann Orrel", ["c"]), ("Ann Orrel-Tasker", ["a", "b"])]


@pytest.mark.parametrize("name", ["Orrel, Ann", "ann  orrel", "ORREL ANN"])
def test_without_a_list_the_same_id_and_name_are_one_person(name: str) -> None:
    people = persons([attendance("a", "p7", "Ann Orrel"), attendance("b", "p7", name)])
    assert len(people) == 1
    assert people[0].remark == ""


def test_the_same_id_with_another_name_is_two_people_and_told_of_both() -> None:
    people = persons([attendance("a", "p7", "Ann Orrel"), attendance("b", "p7", "Ben Tasker")])
    assert [person.name for person in people] == ["Ann Orrel", "Ben Tasker"]
    assert "Ben Tasker" in people[0].remark
    assert "Ann Orrel" in people[1].remark


def test_a_name_alone_makes_nobody_the_same() -> None:
    assert (
        len(persons([attendance("a", "p7", "Ann Orrel"), attendance("b", "p8", "Ann Orrel")])) == 2
    )


def test_what_ends_is_told_the_soonest_first_unless_a_later_certificate_covers_it() -> None:
    ann = [
        certified(attendance("a", "p1", "Ann", "2024-01-10"), "2026-01-10", "Plan", "Find"),
        certified(attendance("b", "p1", "Ann", "2025-12-01"), "2027-12-01", "Plan"),
        certified(attendance("c", "p1", "Ann", "2026-02-01"), "", "Accept"),
    ]
    ben = certified(attendance("a", "p2", "Ben", "2024-01-10"), "2026-01-10", "Plan")
    renewed = certified(attendance("b", "p2", "Ben", "2026-01-05"), "2028-01-05", "Plan", "Find")
    found = due(persons([*ann, ben, renewed]), date(2026, 1, 11))
    assert [(one.person.name, one.title, one.until, one.over) for one in found] == [
        ("Ann", "Class a", "2026-01-10", True),
        ("Ann", "Class b", "2027-12-01", False),
        ("Ben", "Class b", "2028-01-05", False),
    ]
    assert not due(persons([ben]), date(2026, 1, 10))[0].over


@pytest.mark.parametrize(
    ("more", "words"),
    [
        ({}, "nothing handed in"),
        ({"handed_in": 1, "spoken": "59.96 %", "passed": False}, "59.96 %, not passed"),
        ({"handed_in": 1, "labs": 2, "spoken": "80.0 %"}, "80.0 %, 1 of 2 labs handed in"),
        ({"handed_in": 1, "waits": "2 of 5 marks wait"}, "not marked yet, 2 of 5 marks wait"),
    ],
)
def test_how_somebody_did_is_said_in_words(more: dict[str, object], words: str) -> None:
    one = Attendance("a", "A", "", "", "p1", "Ann", **{"labs": 1, **more})  # type: ignore[arg-type]
    assert result_in_words(one) == words
