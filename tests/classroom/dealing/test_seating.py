"""Who sits beside whom."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

import openpyxl
import pytest

from labkit.classroom.dealing.seating import MOST_NEIGHBOURS, dealing_order, neighbours, place_of
from labkit.classroom.errors import ClassError
from labkit.classroom.roster import Trainee, read_roster, remarks_on


def people(**places: str) -> list[Trainee]:
    """Trainees by id; a place that begins with "bench " is a bench."""
    return [
        Trainee(who, who, place[6:], "")
        if place.startswith("bench ")
        else Trainee(who, who, "", place)
        for who, place in places.items()
    ]


@pytest.mark.parametrize(
    ("seat", "place"),
    [
        ("B4", (66, 4)),
        ("b 4", (66, 4)),
        ("B-12", (66, 12)),
        ("2/4", (2, 4)),
        ("2, 4", (2, 4)),
        ("7", (0, 7)),
        ("Б3", (ord("Б"), 3)),
        ("by the window", None),
        ("", None),
        ("AB4", None),
    ],
)
def test_a_seat_is_a_row_and_a_place(seat: str, place: tuple[int, int] | None) -> None:
    assert place_of(seat) == place


def test_the_eight_seats_around_are_neighbours_and_no_others() -> None:
    hall = {f"{row}{col}": f"{row}{col}" for row in "ABCDE" for col in range(1, 6)}
    found = neighbours(people(**hall))
    assert set(found["C3"]) == {"B2", "B3", "B4", "C2", "C4", "D2", "D3", "D4"}
    assert set(found["A1"]) == {"A2", "B1", "B2"}


def test_a_table_is_whoever_has_the_same_text() -> None:
    found = neighbours(
        people(a="bench Window", b="bench window", c="bench door", d="corner", e="corner", f="")
    )
    assert found == {"a": ("b",), "b": ("a",), "c": (), "d": ("e",), "e": ("d",), "f": ()}


def test_at_a_long_table_the_nearest_count() -> None:
    long = neighbours(people(**{f"p{n:02}": "bench long" for n in range(30)}))
    assert all(len(found) == MOST_NEIGHBOURS for found in long.values())
    assert long["p10"] == ("p06", "p07", "p08", "p09", "p11", "p12", "p13", "p14")


def test_two_on_one_seat_are_neighbours() -> None:
    assert neighbours(people(a="A1", b="A1")) == {"a": ("b",), "b": ("a",)}


def test_without_seats_the_lines_above_and_below_are_neighbours() -> None:
    found = neighbours(people(z="", a="", m=""))
    assert found == {"z": ("a",), "a": ("z", "m"), "m": ("a",)}
    assert [person.id for person in dealing_order(people(z="", a=""))] == ["z", "a"]


def test_being_beside_is_mutual() -> None:
    mixed = people(a="A1", b="A2", c="bench x", d="bench x", e="B3", f="7", g="8", h="word")
    found = neighbours(mixed)
    assert all(one in found[other] for one in found for other in found[one])


def test_the_roster_tells_bench_and_seat(tmp_path: Path) -> None:
    file = tmp_path / "roster.csv"
    file.write_text("name,Seat,id,Bench\nAnn, b4 ,ann,\nBen,,ben,By the window\n")
    assert read_roster(file) == (
        Trainee("ann", "Ann", "", "b4"),
        Trainee("ben", "Ben", "By the window", ""),
    )
    file.write_text("id,name,seat,seat\nann,Ann,A1,A2\n")
    with pytest.raises(ClassError, match="two columns 'seat'"):
        read_roster(file)


@pytest.mark.parametrize(
    "seat",
    [
        *("2026-04-03 00:00:00", "2026-04-03", "03. Apr", "03.Apr", "3-Apr", "4-Mar", "Apr-03"),
        *("03.04.2026", "3/4/26", "04/03/2026", "3 avr.", "03-avr", "03/abr", "3. Apr. 26"),
        *("04-Mar-26", "3 April", "Mar 4, 2026"),
    ],
)
def test_a_seat_that_an_office_program_made_a_date_is_told_with_its_line(
    tmp_path: Path, seat: str
) -> None:
    file = tmp_path / "roster.csv"
    file.write_text(f'id,name,seat\nann,Ann,B4\nben,Ben,"{seat}"\n', encoding="utf-8")
    (remark,) = remarks_on(file)
    assert remark.startswith(f"roster.csv, line 3: the seat '{seat}' is a date")
    assert "Write C4" in remark


@pytest.mark.parametrize(
    "seat",
    [
        *("", "B4", "b-12", "3-4", "3/4", "3.4", "12 / 3", "7", "Window 3", "3 Window", "M-4"),
        *("Mars table", "By the door", "1-2-3-4", "2026", "Table 4-2", "Marble 3", "10.0.0.12"),
    ],
)
def test_other_seats_are_no_dates(tmp_path: Path, seat: str) -> None:
    file = tmp_path / "roster.csv"
    file.write_text(f"id,name,seat\nann,Ann,{seat}\n", encoding="utf-8")
    assert remarks_on(file) == []


def test_a_date_in_a_spreadsheets_cell_is_told_and_many_are_told_together(tmp_path: Path) -> None:
    book = openpyxl.Workbook()
    sheet = book.active
    assert sheet is not None
    sheet.append(["id", "name", "seat"])
    for number in range(1, 6):
        # What a sheet holds when 3-1 … 3-5 were typed into it.
        sheet.append([f"t{number}", "Name", datetime(2026, number, 3)])
    book.save(tmp_path / "roster.xlsx")
    remarks = remarks_on(tmp_path / "roster.xlsx")
    assert [remark.partition(":")[0] for remark in remarks] == [
        *(f"roster.xlsx, line {line}" for line in (2, 3, 4)),
        "roster.xlsx",
    ]
    assert remarks[-1] == "roster.xlsx: so are the seats in the lines 5, 6."
