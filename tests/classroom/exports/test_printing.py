"""The handouts of a class: one a trainee, with the very numbers that were dealt."""

from __future__ import annotations

import os
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from tiny_class import MakeRoom, Room

from labkit.classroom.errors import ClassError
from labkit.classroom.exports.pdf import find_browser, write_pdfs
from labkit.classroom.exports.printing import lab_file, print_class, print_lab
from labkit.lab.draw import Scenario
from labkit.workbook import handout

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


def test_a_sheet_is_worked_out_once_for_all_the_pages_that_it_stands_on(
    room: Room, monkeypatch: pytest.MonkeyPatch
) -> None:
    sides: list[object] = []
    worked_out = handout._parts

    def counted(scenario: Scenario, explain: Callable[..., Any]) -> list[dict[str, Any]]:
        sides.append(explain)
        return worked_out(scenario, explain)

    monkeypatch.setattr(handout, "_parts", counted)
    told: list[tuple[int, int, int]] = []
    print_class(room.folder, progress=lambda done, of: told.append((done, of, len(sides))))
    # Questions and solutions of each trainee; nothing is left when the last is told.
    assert told == [(1, 3, 2), (2, 3, 4), (3, 3, 6)]
    assert len(sides) == 6


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
    [pdf] = write_pdfs(browser, [printed.together])
    data = pdf.read_bytes()
    assert data.startswith(b"%PDF-")
    # ISO 32000: each page is an object of type Page; A4 is 595 by 842 points.
    assert len(re.findall(rb"/Type\s*/Page\b", data)) >= 2
    box = re.search(rb"/MediaBox\s*\[\s*0 0 ([\d.]+) ([\d.]+)", data)
    assert box
    assert [round(float(side)) for side in box.groups()] == [595, 842]
