"""A line more in a roster, or another id: everything else in the file stays as it was saved."""

from __future__ import annotations

import csv
import io
from typing import Final

import openpyxl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from labkit.classroom.errors import ClassError
from labkit.classroom.roster import Trainee, trainees_in
from labkit.classroom.roster_lines import columns_of, with_id, with_person
from labkit.classroom.roster_table import table_of

NEW: Final = {"id": "zoe", "name": "Zoë Quist"}
ENCODINGS: Final = ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "cp1252"]
_CELL: Final = st.text(
    st.characters(codec="cp1252", exclude_categories=["C"]) | st.sampled_from(',;"\n '), max_size=8
)


def saved(rows: list[list[str]], separator: str, ending: str, last: str) -> str:
    out = io.StringIO(newline="")
    csv.writer(out, delimiter=separator, lineterminator=ending).writerows(rows)
    return out.getvalue().removesuffix(ending) + last


@st.composite
def rosters(draw: st.DrawFn) -> str:
    """A roster with a column of other things, as an office program may save it."""
    separator, ending = draw(st.sampled_from(",;\t")), draw(st.sampled_from(["\n", "\r\n"]))
    people = draw(st.lists(st.tuples(_CELL, _CELL), min_size=1, max_size=4))
    rows = [["Remark", "id", "Shift", "name", "x"]]
    rows += [[one, f"t{at}", other, f"Name {at}", ""] for at, (one, other) in enumerate(people)]
    return saved(rows, separator, ending, draw(st.sampled_from(["", ending])))


@given(rosters(), st.sampled_from(ENCODINGS))
def test_a_line_is_added_behind_all_bytes_that_were_there(text: str, encoding: str) -> None:
    data, told = text.encode(encoding), encoding if encoding == "cp1252" else None
    after = with_person("roster.csv", data, told, NEW)
    assert after.startswith(data)
    before, now = (trainees_in("roster.csv", one, told) for one in (data, after))
    assert now == (*before, Trainee("zoe", "Zoë Quist"))


@given(rosters(), st.sampled_from(ENCODINGS))
def test_another_id_changes_no_other_cell(text: str, encoding: str) -> None:
    data, told = text.encode(encoding), encoding if encoding == "cp1252" else None
    after = with_id("roster.csv", data, told, "t0", "first")
    (head, row, *rest), (head_, row_, *rest_) = (
        [cells for _, cells in table_of("roster.csv", one, told).rows] for one in (data, after)
    )
    assert (head_, rest_) == (head, rest)
    assert row_ == [row[0], "first", *row[2:]]
    behind = text.encode(encoding)[-4:]
    assert len(rest) == 0 or after.endswith(behind)


def test_a_kept_text_and_lines_above_stay_as_they_are() -> None:
    data = b'sep=;\r\nid;name;no\r\nann;Ann Orrel;="007"\r\nben;"Tasker; Ben";="008"'
    after = with_person("roster.csv", data, None, NEW)
    assert after == data + "\r\nzoe;Zoë Quist;\r\n".encode()
    changed = with_id("roster.csv", data, None, "ben", "ben2")
    assert changed == data.replace(b"\r\nben;", b"\r\nben2;").replace(b'="008"', b'"=""008"""')
    assert [one.id for one in trainees_in("roster.csv", changed)] == ["ann", "ben2"]
    assert table_of("roster.csv", changed).rows[-1][1][2] == "008"


def test_first_and_last_name_bench_and_seat_have_their_columns() -> None:
    data = b"Last name,First name,Seat,ID\nOrrel,Ann,A1,ann\n"
    assert columns_of("roster.csv", data) == ["id", "first name", "last name", "seat"]
    cells = {"id": "zoe", "first name": "Zoe", "last name": "Quist", "seat": "A2"}
    after = with_person("roster.csv", data, None, cells)
    assert after == data + b"Quist,Zoe,A2,zoe\n"
    with pytest.raises(ClassError, match="no column 'bench'"):
        with_person("roster.csv", data, None, {**cells, "bench": "4"})


def test_a_letter_that_the_encoding_has_not_is_refused_and_named() -> None:
    data = "id,name\nann,Ann Örrel\n".encode("cp1252")
    with pytest.raises(ClassError, match="cp1252, which has no 'ł'"):
        with_person("roster.csv", data, "cp1252", {"id": "pawel", "name": "Paweł"})


@pytest.mark.parametrize(
    "data",
    [
        # In the cell that is not closed the new line would be a part of a name.
        b'id,name\nann,"Ann Orrel',
        # Read as another encoding with one name more.
        "id,name\nann,Ольга Петрова\n".encode("koi8_r"),
    ],
)
def test_where_another_line_would_be_read_differently_nothing_is_changed(data: bytes) -> None:
    name = "Zoë Ünal Ärlund Öst Ëlund Ïda Ÿves" if b"Ann" not in data else "Zoe"
    with pytest.raises(ClassError, match=r"roster\.csv"):
        with_person("roster.csv", data, None, {"id": "zoe", "name": name})


def test_what_cannot_be_read_is_not_written_back_as_something_else() -> None:
    data = "id,name\nann,Ann Orrel".encode("utf-16") + b"\x00\xd8\n\x00"
    assert trainees_in("roster.csv", data)[0].name == "Ann Orrel\ufffd"
    with pytest.raises(ClassError, match="was not changed"):
        with_id("roster.csv", data, None, "ann", "anne")


def test_no_line_comes_into_a_name() -> None:
    data = b"id,name\nann,Ann Orrel\n"
    after = with_person("roster.csv", data, None, {"id": "zoe", "name": "Zoe\nben,Ben\x00 Q"})
    assert trainees_in("roster.csv", after)[1:] == (Trainee("zoe", "Zoe ben,Ben Q"),)


def test_a_sheet_keeps_its_formulas_its_other_columns_and_sheets() -> None:
    book = openpyxl.Workbook()
    first = book.worksheets[0]
    for row in (["Shift", "id", "name"], ["late", 7, "Ann Orrel"], ["=A2", "ben", "Ben"]):
        first.append(row)
    first.cell(row=9, column=1).number_format = "0.00"
    book.create_sheet("Plan").append(["=SUM(1,2)"])
    out = io.BytesIO()
    book.save(out)
    added = with_person("roster.xlsx", out.getvalue(), None, {"id": "007", "name": "=1+1"})
    after = with_id("roster.xlsx", added, None, "7", "07")
    read = openpyxl.load_workbook(io.BytesIO(after))
    assert [[cell.value for cell in row] for row in read["Sheet"].iter_rows(max_row=4)] == [
        ["Shift", "id", "name"],
        ["late", "07", "Ann Orrel"],
        ["=A2", "ben", "Ben"],
        [None, "007", "=1+1"],
    ]
    assert read["Sheet"]["C4"].data_type == "s"
    assert read["Plan"]["A1"].value == "=SUM(1,2)"
    assert [one.id for one in trainees_in("roster.xlsx", after)] == ["07", "ben", "007"]
