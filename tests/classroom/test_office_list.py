"""A list as an office program saved it: what is taken for what, what is asked, what is wrong."""

from __future__ import annotations

import io
import string
import zipfile
from collections.abc import Sequence
from pathlib import Path

import openpyxl
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from labkit.classroom.errors import ClassError
from labkit.classroom.heading_words import _WORDS, may_say, plain_heading, says
from labkit.classroom.office_columns import proposed
from labkit.classroom.office_list import (
    FIELDS,
    MOST_BYTES,
    MOST_LINES,
    OfficeList,
    Reading,
    labels,
    read_list,
    wrong_with_reading,
)
from labkit.classroom.office_people import Person, people_in, roster_text
from labkit.classroom.roster import Trainee, read_roster

AWKWARD = """\
Class list, packing hall, November

Personalnr.;Name;Vorname;Abteilung;;Platz
007;Mäler;Ansa;Packing;;B1
012;Lindqvåle;Bo;Packing;;B2
031;Arrand;Celso;Filling;;
"""
PEOPLE = [
    Trainee("007", "Ansa Mäler", "", "B1"),
    Trainee("012", "Bo Lindqvåle", "", "B2"),
    Trainee("031", "Celso Arrand"),
]
MANY = "".join(f"{place},Ann Orrel {'abcdefgh'[place % 8]}\n" for place in range(MOST_LINES + 1))


def listed(text: str, encoding: str = "utf-8") -> OfficeList:
    return read_list("staff.csv", text.encode(encoding))


def sheet(*rows: Sequence[object], formats: str = "", title: str = "Staff", more: int = 0) -> bytes:
    book = openpyxl.Workbook()
    page = book.active
    assert page is not None
    page.title = title
    for row in rows:
        page.append(list(row))
    for (cell,) in page.iter_rows(max_col=1):
        if formats and isinstance(cell.value, int):
            cell.number_format = formats
    for number in range(more):
        book.create_sheet(f"Other {number}")
    data = io.BytesIO()
    book.save(data)
    return data.getvalue()


def read(office: OfficeList) -> list[Trainee]:
    """Everybody, as labkit reads the list without asking anything."""
    found = proposed(office)
    assert found.questions == {}
    return [person.trainee for person in people_in(office, found.reading)]


def asks(office: OfficeList) -> set[str]:
    return set(proposed(office).questions)


@pytest.mark.parametrize("encoding", ["cp1252", "utf-8-sig", "utf-16"])
@pytest.mark.parametrize("separator", [";", ",", "\t"])
def test_a_german_list_with_a_title_above_is_read_without_asking(
    encoding: str, separator: str
) -> None:
    text = AWKWARD.replace("Class list, packing", "Class list packing").replace(";", separator)
    office = listed(text, encoding)
    assert read(office) == PEOPLE
    found = proposed(office).reading
    named = labels(office, found.heading)
    taken = {what: named[at] for what, at in found.columns.items()}
    assert found.heading == 3
    assert taken == {
        "id": "Personalnr.",
        "first name": "Vorname",
        "last name": "Name",
        "seat": "Platz",
    }
    assert set(named.values()) - set(taken.values()) == {"Abteilung"}


def test_commas_in_the_title_and_in_names_separate_nothing_where_semicolons_do() -> None:
    text = "List, hall, spring, week 48\nPersonalnr;Name\n007;Merrow, Ansa\n012;Arrand, Celso\n"
    assert read(listed(text)) == [Trainee("007", "Merrow, Ansa"), Trainee("012", "Arrand, Celso")]


def test_a_guessed_encoding_is_told() -> None:
    assert "it was read as cp1252" in listed(AWKWARD, "cp1252").remarks[0]
    assert listed(AWKWARD).remarks == ()


def test_numbers_of_a_sheet_keep_the_zeros_that_it_shows() -> None:
    rows = [("Staff no.", "First name", "Surname"), (7, "Ansa", "Merrow"), (12, "Bo", "Tarn")]
    office = read_list("staff.xlsx", sheet(*rows, formats="000"))
    assert [each.id for each in read(office)] == ["007", "012"]
    plain = read_list("staff.xlsx", sheet(*rows))
    assert [each.id for each in read(plain)] == ["7", "12"]


def test_text_and_whole_numbers_in_a_sheet_are_ids_as_they_are_seen() -> None:
    rows = [("ID", "Name"), ("007", "Ansa Merrow"), (12.0, "Bo Tarn"), ("=1+1", "Cy Orrel")]
    office = read_list("staff.xlsx", sheet(*rows))
    people = people_in(office, proposed(office).reading)
    assert [each.trainee.id for each in people] == ["007", "12", "=1+1"]
    assert [bool(each.wrong) for each in people] == [False, False, True]


def test_which_sheet_was_read_is_told() -> None:
    rows = [("ID", "Name"), ("a1", "Ansa Merrow")]
    office = read_list("staff.xlsx", sheet(*rows, title="Hall", more=2))
    assert "has 3 sheets; the first one, 'Hall', was read" in office.remarks[0]


@pytest.mark.parametrize(
    ("headings", "first", "last"),
    [
        ("Matricule;Nom;Prénom", "Ansa", "Merrow"),
        ("Matrícula;Apellidos;Nombre", "Ansa", "Merrow"),
        ("Matricola;Cognome;Nome", "Ansa", "Merrow"),
        ("EMPLOYEE NO;Last-Name;First_Name", "Ansa", "Merrow"),
        ("Osobní číslo;Příjmení;Jméno", "Ansa", "Merrow"),
        ("Табельный №;Фамилия;Имя", "Ansa", "Merrow"),
        ("Personeelsnr;Achternaam;Voornaam (roepnaam)", "Ansa", "Merrow"),
    ],
)
def test_headings_in_other_languages_say_which_part_of_the_name_is_which(
    headings: str, first: str, last: str
) -> None:
    assert read(listed(f"{headings}\n007;{last};{first}\n")) == [Trainee("007", f"{first} {last}")]


def test_no_word_of_a_heading_means_two_things() -> None:
    words = [plain_heading(each) for said in _WORDS.values() for each in set(said.split("; "))]
    twice = {word for word in words if words.count(word) > 1}
    assert twice == set()
    assert all(says(word) for word in words)


def test_more_words_around_a_known_one_are_asked_about() -> None:
    assert may_say("Name of the trainee") == "name"
    assert says("Name of the trainee") == ""
    office = listed("Staff number;Name of the trainee\n007;Ansa Merrow\n")
    assert asks(office) == {"name"}
    assert set(proposed(office).reading.columns) == {"id", "name"}


def test_ids_are_found_by_their_cells_and_asked_about() -> None:
    office = listed("Code for gate;Who\nK07;Ansa Merrow\nK12;Bo Tarn\n")
    found = proposed(office)
    assert found.reading == Reading(1, {"id": 0, "name": 1})
    assert "Are the headings in line 1?" in found.questions["heading"]
    assert set(found.questions) == {"heading", "id", "name"}
    assert set(proposed(office, 1).questions) == {"id", "name"}


def test_a_list_of_names_alone_is_asked_about_and_read() -> None:
    office = listed("Ansa Merrow\nBo Tarn\n")
    found = proposed(office)
    assert "Do people begin at once?" in found.questions["heading"]
    assert found.reading == Reading(0, {"name": 0}, makes_ids=True)
    assert [each.trainee.id for each in people_in(office, found.reading)] == ["p01", "p02"]


def test_a_column_that_only_counts_the_lines_is_no_id() -> None:
    office = listed("No.;Name\n1;Ansa Merrow\n2;Bo Tarn\n")
    assert proposed(office).reading.makes_ids
    assert read(office) == [Trainee("p01", "Ansa Merrow"), Trainee("p02", "Bo Tarn")]
    unknown = listed("Stelle;Name\n1;Ansa Merrow\n2;Bo Tarn\n")
    assert proposed(unknown).reading.makes_ids
    numbers = listed("No.;Name\n4711;Ansa Merrow\n0815;Bo Tarn\n")
    assert proposed(numbers).reading.columns["id"] == 0
    assert asks(numbers) == {"id"}


def test_of_two_columns_that_may_be_it_one_must_be_chosen() -> None:
    office = listed("Staff no;Badge;Name\n007;B7;Ansa Merrow\n012;B9;Bo Tarn\n")
    found = proposed(office)
    assert "'Staff no' and 'Badge' may be people's ids" in found.questions["id"]
    assert "Choose the column with people's ids" in wrong_with_reading(office, found.reading)[0]
    with pytest.raises(ClassError, match="Choose the column"):
        people_in(office, found.reading)


def test_which_of_two_words_is_the_first_name_is_not_guessed() -> None:
    office = listed("Ansa;Merrow\nBo;Tarn\n")
    found = proposed(office)
    assert "cannot tell" in found.questions["name"]
    assert "name" not in found.reading.columns


def test_a_column_called_name_that_holds_figures_is_asked_about() -> None:
    assert asks(listed("ID;Name\na1;17\na2;18\n")) == {"name"}


def test_an_address_is_no_id_and_no_name() -> None:
    office = listed("Who;Mail\nAnsa Merrow;ansa1@plant.example\nBo Tarn;bo2@plant.example\n")
    found = proposed(office, 1)
    assert found.reading.columns == {"name": 0}
    assert found.reading.makes_ids


def test_two_columns_of_one_heading_are_told_apart_and_blank_ones_are_not_offered() -> None:
    office = listed("ID;Name;Name;\na1;Ansa Merrow;Bo Tarn;\n")
    assert list(labels(office, 1).values()) == ["ID", "Name (column B)", "Name (column C)"]
    assert asks(office) == {"name"}


def test_each_mistake_is_told_at_its_row_and_mended_there() -> None:
    long = "x" * 250
    rows = "a1,Ann,|a1,Ben,|,Cy,|b/b,Di,|c1,LONG,|,,hall|d1,=A1,|CON,Eve,|Sum,9,"
    text = "ID,Name,Bench\n" + rows.replace("|", "\n").replace("LONG", long)
    office = listed(text)
    reading = proposed(office).reading
    wrong = {each.line: " ".join(each.wrong) for each in people_in(office, reading)}
    assert "also in line 3" in wrong[2]
    assert "also in line 2" in wrong[3]
    assert "the id is empty" in wrong[4]
    assert "folder" in wrong[5]
    assert "longer" in wrong[6]
    assert "nobody stands here" in wrong[7]
    assert "formula" in wrong[8]
    assert "every system" in wrong[9]
    assert "has no letter" in wrong[10]
    with pytest.raises(ClassError, match="Line 2: the id 'a1' is also in line 3") as refused:
        roster_text(people_in(office, reading))
    assert str(refused.value).endswith("… and 3 more.")
    mended = {
        3: {"id": "a2"},
        4: {"id": "a3"},
        5: {"id": "b"},
        6: {"name": "Finn"},
        8: {"name": "Gil"},
    }
    people = people_in(office, reading, mended, left_out=[7, 9, 10])
    assert [each.wrong for each in people] == [()] * 9
    assert roster_text(people).splitlines() == [
        "id,name",
        *("a1,Ann", "a2,Ben", "a3,Cy", "b,Di", "c1,Finn", "d1,Gil"),
    ]


def test_ids_that_differ_in_width_alone_are_one() -> None:
    office = listed("ID,Name\na1,Ann\n\uff41\uff11,Ben\n\uff43\uff4f\uff4e,Cy\n")
    reading = proposed(office).reading
    assert all(each.wrong for each in people_in(office, reading))
    first, _, third = people_in(office, reading, left_out=[3])
    assert first.wrong == ()
    assert "device" in third.wrong[0]


def test_a_name_twice_and_a_seat_that_became_a_date_may_stay_but_are_told() -> None:
    office = listed("ID,Name,Seat\na1,Ann,03. Apr\na2,ann,B4\n")
    first, second = people_in(office, proposed(office).reading)
    assert (first.wrong, second.wrong) == ((), ())
    assert "the same name is in line 3" in first.remarks[0]
    assert "is a date" in first.remarks[1]
    assert len(second.remarks) == 1


def test_ids_made_by_labkit_stay_with_their_row_whoever_is_left_out() -> None:
    office = listed("Name\nAnsa Merrow\nBo Tarn\nCy Orrel\n")
    reading = proposed(office).reading
    people = people_in(office, reading, left_out=[3])
    assert [each.trainee.id for each in people] == ["p01", "p02", "p03"]
    assert roster_text(people) == "id,name\np01,Ansa Merrow\np03,Cy Orrel\n"


@pytest.mark.parametrize(
    ("columns", "makes_ids", "words"),
    [
        ({"name": 1}, False, "Choose the column with people's ids"),
        ({"id": 0}, False, "Choose the column with people's names"),
        ({"id": 0, "name": 1, "last name": 2}, False, "either the whole name"),
        ({"id": 1, "name": 1}, False, "'Who' is chosen twice, as id and name"),
        ({"id": 0, "name": 9}, False, "no such column"),
        ({"id": 0, "shoe": 1}, False, "no such column"),
    ],
)
def test_a_choice_that_cannot_be_says_why(
    columns: dict[str, int], makes_ids: bool, words: str
) -> None:
    office = listed("Key;Who;Else\na1;Ann;x\n")
    assert any(words in each for each in wrong_with_reading(office, Reading(1, columns, makes_ids)))
    assert "no such line" in wrong_with_reading(office, Reading(7, columns, makes_ids))[0]


def bomb() -> bytes:
    """A sheet whose parts say that they unpack to more than a list may hold."""
    data = bytearray(sheet(("ID", "Name"), ("a1", "Ann")))
    with zipfile.ZipFile(io.BytesIO(data)) as packed:
        size = next(part for part in packed.infolist() if "sheet1" in part.filename).file_size
    huge = (2**31).to_bytes(4, "little")
    return bytes(data).replace(size.to_bytes(4, "little"), huge)


def nested() -> bytes:
    """A sheet with a word that stands for a thousand million letters."""
    words = "".join(
        f'<!ENTITY {new} "{f"&{old};" * 10}">'
        for old, new in zip("abcdefghi", "bcdefghij", strict=True)
    )
    text = f'<!DOCTYPE l [<!ENTITY a "{"x" * 10}">{words}]><worksheet>&j;</worksheet>'
    data = io.BytesIO()
    with (
        zipfile.ZipFile(io.BytesIO(sheet(("ID", "Name")))) as whole,
        zipfile.ZipFile(data, "w") as made,
    ):
        for name in whole.namelist():
            made.writestr(name, text if "sheet1" in name else whole.read(name))
    return data.getvalue()


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (nested(), "damaged"),
        (b"", "is empty"),
        (b"\n\n;;\n", "is empty"),
        (b"\x00" * 500, "is empty"),
        (b"PK\x03\x04 and no more", "damaged"),
        (b"\xd0\xcf\x11\xe0 old", "protected by a password"),
        (bomb(), "unpacks to more"),
        (MANY.encode(), f"more than {MOST_LINES} lines"),
        (b"x" * (MOST_BYTES + 1), "larger than 10 MB"),
        (b'id,name\na1,"Ann' + b"x" * 140_000, "not closed"),
    ],
)
def test_a_file_that_is_no_list_gets_a_sentence(data: bytes, words: str) -> None:
    with pytest.raises(ClassError, match=words):
        read_list("staff.xlsx", data)


CELLS = st.one_of(
    st.sampled_from(
        ["id", "Name", "Vorname", "Nr.", "Personalnr.", "Seat", "7", "007", "p01", "", " ", "=1+1"]
    ),
    st.text(max_size=12),
    st.text(string.ascii_letters + string.digits + " -.@", max_size=12),
)


@settings(deadline=None, max_examples=300)
@given(
    st.lists(st.lists(CELLS, max_size=6), max_size=8),
    st.sampled_from([";", ",", "\t"]),
    st.sampled_from(["utf-8", "utf-16", "cp1252"]),
    st.booleans(),
)
def test_any_table_is_proposed_to_be_read_or_refused_and_what_is_taken_is_read_back(
    tmp_path_factory: pytest.TempPathFactory,
    rows: list[list[str]],
    separator: str,
    encoding: str,
    all_made: bool,
) -> None:
    text = "\n".join(separator.join(row) for row in rows)
    try:
        office = read_list("staff.csv", text.encode(encoding, errors="replace"))
    except ClassError:
        return
    reading = proposed(office).reading
    if all_made:
        reading = Reading(reading.heading, {**reading.columns}, makes_ids=True)
    assert set(reading.columns) <= set(FIELDS)
    try:
        people = people_in(office, reading)
    except ClassError:
        assert wrong_with_reading(office, reading)
        return
    assert len(people) <= len(office.rows)
    bad = [each.line for each in people if each.wrong]
    same_people(tmp_path_factory.mktemp("roster"), people_in(office, reading, left_out=bad))


def same_people(folder: Path, people: list[Person]) -> None:
    here = [each.trainee for each in people if not each.left_out]
    assume(here)
    file = folder / "roster.csv"
    file.write_text(roster_text(people), encoding="utf-8")
    assert list(read_roster(file)) == here
