"""`labkit begin` does what the board's form does."""

from __future__ import annotations

from pathlib import Path

import pytest
from typer.testing import CliRunner

from labkit.classroom.class_folder import ClassFolder
from labkit.cli import app

LIST = "Staff list\n\nPersonalnr.;Name;Vorname;Mail\n007;Mäler;Ansa;a@x\n012;Tarn;Bo;b@x\nSum;;2;\n"


@pytest.fixture
def staff(tmp_path: Path) -> Path:
    file = tmp_path / "staff.csv"
    file.write_bytes(LIST.encode("cp1252"))
    return file


def begin(folder: Path, roster: Path, *more: str) -> tuple[int, str]:
    said = ["begin", str(folder), "--title", "Hall", "--roster", str(roster), *more]
    told = CliRunner().invoke(app, said, env={"COLUMNS": "400"})
    if told.exception and not isinstance(told.exception, SystemExit):
        return 1, str(told.exception)
    return told.exit_code, told.output


def test_a_class_is_begun_and_says_what_was_taken_for_what(tmp_path: Path, staff: Path) -> None:
    labs = ("--lab", "timing", "--lab", "acceptance:assessed:laptops")
    code, told = begin(tmp_path / "hall", staff, *labs, "--leave-out", "6")
    assert code == 0, told
    for words in (
        "id: 'Personalnr.', first name: 'Vorname', last name: 'Name'",
        "Not taken: 'Mail'",
        "read as cp1252",
        "'acceptance' is assessed, and its text comes with labkit",
        "2 people are in",
    ):
        assert words in told
    made = ClassFolder.open(tmp_path / "hall")
    assert made.fields.labs == ["timing", "acceptance"]
    assert [made.fields.in_room(lab) for lab in made.fields.labs] == [True, False]
    assert [each.name for each in made.trainees] == ["Ansa Mäler", "Bo Tarn"]


def test_what_is_wrong_or_not_sure_is_told_and_nothing_is_made(tmp_path: Path, staff: Path) -> None:
    hall, lab = tmp_path / "hall", ("--lab", "timing")
    odd = tmp_path / "odd.csv"
    odd.write_text("Key;Who\nk1;Ann Orrel\nk2;Ben Tasker\n", encoding="utf-8")
    for roster, more, words in (
        (staff, lab, "Line 6"),
        (staff, ("--lab", "nothing"), "no lab 'nothing'"),
        (staff, ("--lab", "timing:hard"), "nothing is known of 'hard'"),
        (odd, lab, "(--heading LINE)"),
        (odd, (*lab, "--heading", "1"), "(--column 'name=HEADING')"),
        (odd, (*lab, "--column", "name=Nobody"), "There are 'Key', 'Who'"),
        (odd, (*lab, "--column", "shoe=Key"), "nothing that a column can be"),
        (tmp_path / "none.csv", lab, "none.csv"),
    ):
        code, told = begin(hall, roster, *more)
        assert code != 0
        assert words in told
    assert not hall.exists()
    columns = ("--heading", "1", "--column", "name=Who", "--column", "id=made")
    assert begin(hall, odd, *lab, *columns)[0] == 0
    assert [each.id for each in ClassFolder.open(hall).trainees] == ["p01", "p02"]
