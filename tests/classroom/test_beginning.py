"""A class is begun whole or not at all, and its file says what was chosen."""

from __future__ import annotations

import os
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from labkit.classroom import beginning
from labkit.classroom.beginning import (
    ChosenLab,
    NewClass,
    begin_class,
    checked,
    class_text,
    proposed_name,
)
from labkit.classroom.errors import ClassError
from labkit.classroom.office_people import Person
from labkit.classroom.private_place import Place
from labkit.classroom.roster import Trainee, plain_text
from labkit.language.problems import DefinitionError

ANN = [Person(2, Trainee("007", "Ansa Mäler")), Person(3, Trainee("x", "Bo"), left_out=True)]
HALL = NewClass(
    "packing-hall",
    "Packing hall: November",
    [
        ChosenLab("plan-the-trunk"),
        ChosenLab("acceptance", "assessed"),
        ChosenLab("timing", held="laptops"),
    ],
    "2026-11-27",
    "Packing hall, Brindlemere Springs",
)


def test_a_class_is_written_as_an_instructor_would(tmp_path: Path) -> None:
    made = begin_class(tmp_path / "classes", HALL, ANN, "Mira\nid: other")
    head, *text = (made.path / "class.yaml").read_text("utf-8").splitlines()
    assert head.startswith("# Begun by Mira id: other on ")
    assert text == [
        "id: packing-hall",
        'title: "Packing hall: November"',
        "date: 2026-11-27",
        "place: Packing hall, Brindlemere Springs",
        "labs:",
        "  - lab: plan-the-trunk",
        "    held: room",
        "  - lab: acceptance",
        "    mode: assessed",
        "    held: room",
        "  - timing",
        "mode: practice",
        "held: laptops",
    ]
    fields = made.fields
    assert [fields.mode_of(lab) for lab in fields.labs] == ["practice", "assessed", "practice"]
    assert [fields.in_room(lab) for lab in fields.labs] == [True, True, False]
    assert made.trainees == (Trainee("007", "Ansa Mäler"),)
    if os.name == "posix":
        assert made.path.stat().st_mode & 0o777 == 0o700
        assert (made.path / "roster.csv").stat().st_mode & 0o777 == 0o600


def test_where_all_labs_are_held_alike_the_class_says_so() -> None:
    labs = [ChosenLab("timing", "assessed"), ChosenLab("acceptance", "assessed")]
    text = class_text(NewClass("a", "A", labs), "Mira")
    assert text.endswith("labs:\n  - timing\n  - acceptance\nmode: assessed\nheld: room\n")


def test_a_pass_mark_is_written_as_it_was_typed() -> None:
    said = NewClass("a", "A", [ChosenLab("timing")], pass_mark="62.5")
    assert checked(said).pass_mark == 62.5
    assert class_text(said, "Mira").endswith("held: room\npass_mark: 62.5\n")


@pytest.mark.parametrize("there", ["packing-hall", "PACKING-hall"])
def test_nothing_is_written_over(tmp_path: Path, there: str) -> None:
    (tmp_path / there).mkdir()
    (tmp_path / there / "notes.txt").write_text("mine")
    with pytest.raises(ClassError, match="is there already"):
        begin_class(tmp_path, HALL, ANN, "Mira")
    assert [each.name for each in (tmp_path / there).iterdir()] == ["notes.txt"]


def test_of_two_who_begin_the_same_class_at_once_one_has_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    first = begin_class(tmp_path, HALL, ANN, "Mira")
    monkeypatch.setattr(beginning, "_names_in", lambda _: set())
    with pytest.raises(ClassError, match="is there already"):
        begin_class(tmp_path, HALL, ANN, "Ana")
    assert "Begun by Mira" in (first.path / "class.yaml").read_text("utf-8")


@pytest.mark.parametrize("file", ["roster.csv", "class.yaml"])
def test_of_a_class_that_cannot_be_written_nothing_stays(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, file: str
) -> None:
    write = Place.write

    def full(place: Place, data: bytes | str, *steps: str) -> Path:
        if steps[-1] == file:
            raise OSError(28, "No space left on device", str(place.path / file))
        return write(place, data, *steps)

    monkeypatch.setattr(Place, "write", full)
    with pytest.raises(OSError, match="No space"):
        begin_class(tmp_path, HALL, ANN, "Mira")
    assert list(tmp_path.iterdir()) == []


def test_people_that_would_be_read_as_others_are_refused_and_nothing_stays(tmp_path: Path) -> None:
    # A spreadsheet's way to keep text is taken off again wherever it stands.
    odd = [Person(2, Trainee("a1", 'Bo x="y" Tarn'))]
    with pytest.raises(ClassError, match="would not be read as"):
        begin_class(tmp_path, HALL, odd, "Mira")
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"title": " \u200b "}, "title is empty"),
        ({"title": "x" * 201}, "at most 200"),
        ({"labs": []}, "No lab"),
        ({"labs": [ChosenLab("a: b")]}, "no such lab"),
        ({"name": "../x"}, "cannot be the folder"),
        ({"name": "con"}, "cannot be the folder"),
        ({"name": "Packing hall"}, "cannot be the folder"),
        ({"pass_mark": "a lot"}, "number from 0 to 100"),
        ({"pass_mark": "60\nmode: practice"}, "number from 0 to 100"),
    ],
)
def test_what_cannot_be_says_why(tmp_path: Path, change: dict[str, Any], words: str) -> None:
    said = replace(HALL, **change)
    with pytest.raises(ClassError, match=words):
        begin_class(tmp_path / "classes", said, ANN, "Mira")
    assert not (tmp_path / "classes").exists()


def test_a_day_that_is_none_and_a_lab_twice_are_refused_by_the_reader() -> None:
    with pytest.raises(DefinitionError, match="is not a day"):
        checked(NewClass("a", "A", [ChosenLab("timing")], "27 November"))
    with pytest.raises(DefinitionError, match="is there twice"):
        checked(NewClass("a", "A", [ChosenLab("timing"), ChosenLab("timing")]))


@pytest.mark.parametrize(
    ("title", "day", "name"),
    [
        ("Packing hall, November", "", "packing-hall-november"),
        ("Größe & Würde", "", "grosse-wurde"),
        ("  ", "2026-11-27", "class-2026-11-27"),
        ("Упаковка", "", "class"),
        ("CON", "", "class-con"),
        ("x" * 90, "", "x" * 40),
        ("../../etc", "", "etc"),
    ],
)
def test_a_folder_is_called_after_the_title(
    tmp_path: Path, title: str, day: str, name: str
) -> None:
    assert proposed_name(title, day, tmp_path / "none yet") == name


def test_a_name_that_is_there_is_counted_on(tmp_path: Path) -> None:
    (tmp_path / "Hall").mkdir()
    (tmp_path / "hall-2").symlink_to(tmp_path / "nowhere")
    assert proposed_name("Hall", "", tmp_path) == "hall-3"


@settings(deadline=None, max_examples=200)
@given(st.text(max_size=40), st.text(max_size=40), st.text(max_size=20))
def test_any_title_and_place_is_read_back_or_gets_a_sentence(
    tmp_path_factory: pytest.TempPathFactory, title: str, place: str, day: str
) -> None:
    name = proposed_name(title, day, tmp_path_factory.getbasetemp() / "none")
    try:
        fields = checked(NewClass(name, title, [ChosenLab("timing")], "", place), title)
    except ClassError as error:
        assert "The title is empty" in str(error)  # noqa: PT017
        return
    assert fields.id == name
    assert fields.title == plain_text(title).strip()
    assert fields.labs == ["timing"]
