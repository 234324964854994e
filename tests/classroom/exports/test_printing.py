"""The handouts of a class: one a trainee, with the very numbers that were dealt."""

from __future__ import annotations

import os
import re
from pathlib import Path

import pytest
from tiny_class import MakeRoom, Room

from labkit.classroom.errors import ClassError
from labkit.classroom.exports.pdf import find_browser, write_pdf
from labkit.classroom.exports.printing import lab_file, print_class, print_lab

LIBRARY = Path(__file__).parents[2] / "library"


def test_every_trainee_gets_the_numbers_that_were_dealt(room: Room) -> None:
    printed = print_class(room.folder)
    assert [file.stem for file in printed.each] == ["ann", "ben", "cy"]
    together = printed.together.read_text("utf-8")
    copy = printed.instructor.read_text("utf-8")
    for file in printed.each:
        number = room.number(file.stem)
        page = file.read_text("utf-8")
        assert f"Your length is {number} m." in page
        assert f"Your length is {number} m." in together
        assert f"{2 * number} m" not in page
        assert f"{2 * number} m" in copy
    assert together.count("<article") == 3
    assert f"{2 * room.number('ann')} m" not in together


def test_the_copy_with_answers_is_not_among_what_is_given_out(room: Room) -> None:
    printed = print_class(room.folder)
    assert {file.parent for file in printed.each} == {room.path / "print" / "handouts"}
    assert printed.instructor.parent == room.path / "print"
    assert sorted(file.name for file in (room.path / "print" / "handouts").iterdir()) == [
        "ann.html",
        "ben.html",
        "cy.html",
    ]


def test_printing_changes_nothing_of_the_class_and_is_repeatable(room: Room) -> None:
    before = {file: file.read_bytes() for file in room.path.rglob("*") if file.is_file()}
    first = [file.read_bytes() for file in print_class(room.folder).files]
    assert [file.read_bytes() for file in print_class(room.folder).files] == first
    assert {file: file.read_bytes() for file in before} == before


def test_assessed_and_practice_give_the_same_paper(make_room: MakeRoom) -> None:
    room = make_room(mode="assessed")
    room.deal()
    page = print_class(room.folder).each[0].read_text("utf-8")
    room.write_class(mode="practice")
    assert print_class(room.folder).each[0].read_text("utf-8") == page


def test_a_class_that_was_not_dealt_gets_a_sentence(make_room: MakeRoom) -> None:
    room = make_room()
    with pytest.raises(ClassError, match="was not dealt yet"):
        print_class(room.folder)
    assert not (room.path / "print").exists()


def test_a_lab_that_was_changed_after_dealing_gets_a_sentence(room: Room) -> None:
    file = room.path / "labs" / "tiny" / "lab.md"
    file.write_text(file.read_text("utf-8").replace("twice: 2 * a", "twice: 3 * a"))
    with pytest.raises(ClassError, match="was changed after it was dealt"):
        print_class(room.folder)


def test_a_lab_is_printed_as_the_sample_that_its_seed_decides(tmp_path: Path) -> None:
    file = lab_file(Path("bench-day"), LIBRARY)
    one, two = (print_lab(file, seed, tmp_path / seed) for seed in ("one", "two"))
    again = print_lab(file, "one", tmp_path / "again")
    assert [f.read_bytes() for f in one.files] == [f.read_bytes() for f in again.files]
    assert one.together.read_bytes() != two.together.read_bytes()
    assert [f.name for f in one.files] == ["bench-day.html", "bench-day-instructors-copy.html"]


def test_a_path_is_a_file_a_folder_or_the_id_of_a_lab(tmp_path: Path) -> None:
    file = LIBRARY / "bench-day" / "lab.md"
    for path in (file, file.parent, Path("bench-day")):
        assert lab_file(path, LIBRARY).samefile(file)
    with pytest.raises(ClassError, match="neither a class nor a lab"):
        lab_file(tmp_path, LIBRARY)


@pytest.mark.browser
def test_a_pdf_is_made_beside_the_page(tmp_path: Path) -> None:
    browser = find_browser()
    if browser is None:
        if os.environ.get("LABKIT_REQUIRE_ALL"):
            pytest.fail("no Chromium found, and LABKIT_REQUIRE_ALL asks for every test")
        pytest.skip("no Chromium found: install the package 'chromium' to make PDF")
    printed = print_lab(lab_file(Path("bench-day"), LIBRARY), "pdf", tmp_path)
    data = write_pdf(browser, printed.together).read_bytes()
    assert data.startswith(b"%PDF-")
    # ISO 32000: each page is an object of type Page; A4 is 595 by 842 points.
    assert len(re.findall(rb"/Type\s*/Page\b", data)) >= 2
    box = re.search(rb"/MediaBox\s*\[\s*0 0 ([\d.]+) ([\d.]+)", data)
    assert box
    assert [round(float(side)) for side in box.groups()] == [595, 842]


@pytest.mark.skipif(os.name != "posix", reason="the browser that fails is a script")
@pytest.mark.parametrize(
    "body",
    [
        "exit 3",
        "exit 0",
        'for a; do case "$a" in --print-to-pdf=*) echo %PDF-half > "${a#*=}";; esac; done; exit 3',
        'for a; do case "$a" in --print-to-pdf=*) echo nonsense > "${a#*=}";; esac; done; exit 0',
    ],
    ids=["fails", "writes nothing", "fails half way", "writes nonsense"],
)
def test_a_browser_that_fails_gets_a_sentence_and_leaves_no_half_a_pdf(
    tmp_path: Path, body: str
) -> None:
    browser = tmp_path / "browser"
    browser.write_text(f"#!/bin/sh\n{body}\n")
    browser.chmod(0o755)
    page = tmp_path / "page.html"
    page.write_text("<p>x</p>")
    with pytest.raises(ClassError, match="print it from there"):
        write_pdf(str(browser), page)
    assert not list(tmp_path.glob("*.pdf*"))
