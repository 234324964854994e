"""The roster is read however an office program saves it, and mistakes carry their line."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from labkit.classroom.errors import ClassError
from labkit.classroom.roster import MAX_TRAINEES, Trainee, read_roster

ANN = (Trainee("a1", "Zoë Ærlund"), Trainee("a2", "Bo Tarn"))


def roster(folder: Path, data: bytes | str) -> tuple[Trainee, ...]:
    file = folder / "roster.csv"
    file.write_bytes(data.encode() if isinstance(data, str) else data)
    return read_roster(file)


def refusal(folder: Path, data: bytes | str) -> str:
    with pytest.raises(ClassError) as caught:
        roster(folder, data)
    assert "roster.csv" in str(caught.value)
    return str(caught.value)


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "cp1252", "utf-16"])
@pytest.mark.parametrize("separator", [",", ";", "\t"])
@pytest.mark.parametrize("ending", ["\n", "\r\n"])
def test_every_usual_encoding_separator_and_line_end_reads_the_same(
    tmp_path: Path, encoding: str, separator: str, ending: str
) -> None:
    lines = ["id,name", "a1,Zoë Ærlund", "", "a2,Bo Tarn", ""]
    text = ending.join(line.replace(",", separator) for line in lines)
    assert roster(tmp_path, text.encode(encoding)) == ANN


def test_other_columns_order_and_case_do_not_matter(tmp_path: Path) -> None:
    text = "Shift, NAME ,e-mail, Id\nlate,  Zoë   Ærlund ,x@y,a1\n,Bo Tarn,,a2\n"
    assert roster(tmp_path, text) == ANN


def test_a_trainee_without_a_name_is_called_by_the_id(tmp_path: Path) -> None:
    assert roster(tmp_path, "id,name\na1\n") == (Trainee("a1", "a1"),)


def test_names_may_be_in_any_script_and_hold_separators(tmp_path: Path) -> None:
    text = 'id,name\nм1,Ольга\na2,"Tarn, Bo"\na3,دانا\na4,देवी\na5,"=1+1"\n'
    names = [trainee.name for trainee in roster(tmp_path, text)]
    assert names == ["Ольга", "Tarn, Bo", "دانا", "देवी", "=1+1"]


def test_the_same_letter_written_in_two_ways_is_the_same_id(tmp_path: Path) -> None:
    assert "line 3" in refusal(tmp_path, "id,name\nzo\u00eb,A\nzoe\u0308,B\n")


def test_control_characters_that_no_sheet_can_hold_are_dropped(tmp_path: Path) -> None:
    assert roster(tmp_path, "id,name\na1,B\x07o\ufffe\x1b\n")[0].name == "Bo"


@pytest.mark.parametrize(
    "bad",
    [
        *("../x", "a/b", "a\\b", ".", "..", ".a", "a.", "a:b", "=1", "-x", "@x", "a b", "x" * 65),
        *("CON", "nul", "com1.txt", "Lpt9", "\U00010330" * 40),
    ],
)
def test_an_id_that_cannot_be_a_folder_is_refused_with_its_line(tmp_path: Path, bad: str) -> None:
    message = refusal(tmp_path, f'id,name\nok,Fine\n\n"{bad}",Bad\n')
    assert "line 4" in message
    assert "folder" in message


@pytest.mark.parametrize("good", ["a", "A.b", "x@y", "a+b", "a-b", "007", "ön", "console", "名前"])
def test_usual_ids_are_taken(tmp_path: Path, good: str) -> None:
    assert roster(tmp_path, f"id,name\n{good},B\n")[0].id == good


def test_a_doubled_id_is_refused_whatever_its_case_and_names_both_lines(tmp_path: Path) -> None:
    message = refusal(tmp_path, "id,name\nann,A\nben,B\nANN,C\n")
    assert "line 4" in message
    assert "line 2" in message


@pytest.mark.parametrize(
    ("text", "word"),
    [
        ("", "empty"),
        ("\n\n", "empty"),
        ("id,name\n", "nobody"),
        ("id\na1\n", "no column 'name'"),
        ("number,name\n1,A\n", "no column 'id'"),
        ("id,name\n,A\n", "line 2: the id is empty"),
        ("id,name\na1," + "x" * 201 + "\n", "line 2: the name is longer"),
        ('id,name\na1,A\na2,"B' + "x" * 140_000, "line 3"),
        ('id,name\n"a\n1",A\nb!,B\n', "line 2"),
    ],
)
def test_each_mistake_is_named(tmp_path: Path, text: str, word: str) -> None:
    assert word in refusal(tmp_path, text)


def test_a_row_is_named_by_the_line_where_it_begins(tmp_path: Path) -> None:
    assert "line 4" in refusal(tmp_path, 'id,name\na1,"Ann\nOrrel"\nb/b,B\n')


def test_a_missing_roster_and_a_huge_one_get_a_sentence(tmp_path: Path) -> None:
    with pytest.raises(ClassError, match="columns 'id' and 'name'"):
        read_roster(tmp_path / "roster.csv")
    rows = "".join(f"t{number}\n" for number in range(MAX_TRAINEES + 1))
    assert str(MAX_TRAINEES) in refusal(tmp_path, "id,name\n" + rows)


@settings(deadline=None, max_examples=200)
@given(st.one_of(st.binary(max_size=300), st.text(max_size=200).map(str.encode)))
def test_any_bytes_give_trainees_or_a_sentence(
    tmp_path_factory: pytest.TempPathFactory, data: bytes
) -> None:
    folder = tmp_path_factory.mktemp("roster")
    try:
        trainees = roster(folder, b"id,name\n" + data)
    except ClassError:
        return
    assert len({trainee.id.casefold() for trainee in trainees}) == len(trainees)
    assert all(trainee.name and not set("/\\") & set(trainee.id) for trainee in trainees)
