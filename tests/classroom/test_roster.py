"""The roster is read however an office program saves it, and mistakes carry their line."""

from __future__ import annotations

import csv
import zipfile
from pathlib import Path

import openpyxl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from labkit.classroom.errors import ClassError
from labkit.classroom.roster import MAX_TRAINEES, Trainee, read_roster, remarks_on, require_safe_ids

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


NAMES = {
    "cp1252": "Zoë Ærlund, Renée Müßig, Åse Günther, François Peña",
    "cp1250": "Łukasz Żółć, Šárka Dvořáčková, Zsófia Őrsi, Ştefan Iliescu",
    "cp1251": "Ольга Селиванова, Пётр Жуков, Щукина Юлия",
    "koi8_r": "Ольга Селиванова, Пётр Жуков, Щукина Юлия",
    "cp1253": "Ελένη Παπαδάκη, Γιώργος Ψαρράς, Ωραία Φωτίου",
    "cp932": "山田 太郎, 鈴木 はなこ, ヤマモト ケン",
    "gb18030": "王小明, 李晓华, 张伟, 陈静怡",
    "cp949": "김민수, 이지은, 박서준, 최유진",
    "utf-16-le": "Zoe Aerlund, Renée Müßig, Bo Tarn",
    "utf-16-be": "Zoe Aerlund, Renée Müßig, Bo Tarn",
    "utf-32": "Ольга Селиванова, 山田 太郎",
    "utf-8": "Ольга Селиванова, 山田 太郎, Łukasz",
}


@pytest.mark.parametrize("encoding", NAMES)
def test_names_in_any_encoding_come_out_as_they_were_typed(tmp_path: Path, encoding: str) -> None:
    names = NAMES[encoding].split(", ")
    lines = "".join(f"t{number};{name}\r\n" for number, name in enumerate(names))
    found = roster(tmp_path, f"id;name\r\n{lines}".encode(encoding))
    assert [trainee.name for trainee in found] == names


def test_a_guessed_encoding_is_said_and_can_be_told_instead(tmp_path: Path) -> None:
    file = tmp_path / "roster.csv"
    file.write_bytes("id,name\na1,Ольга\n".encode("cp1251"))
    assert [" read as cp1251" in remark for remark in remarks_on(file)] == [True]
    assert read_roster(file, "koi8_r")[0].name != "Ольга"
    assert remarks_on(file, "cp1251") == []
    file.write_text("id,name\na1,Ольга\n", encoding="utf-8")
    assert remarks_on(file) == []
    for wrong, words in (("klingon", "no encoding"), ("rot13", "no encoding"), ("ascii", "not in")):
        with pytest.raises(ClassError, match=words):
            read_roster(file, wrong)


@pytest.mark.parametrize(
    "text",
    [
        'sep=;\nid;name\n007;"Orrel; Ann"\n',
        "ID|Last name|First name|e-mail\n007|Ann|Orrel;|x\n",
        '"id","name"\n="007","Orrel; Ann"\n',
        '\ufeff"id";"name"\r\n"007";"Orrel; Ann"\r\n',
    ],
)
def test_what_usual_tools_write_is_read(tmp_path: Path, text: str) -> None:
    assert roster(tmp_path, text) == (Trainee("007", "Orrel; Ann"),)


@pytest.mark.parametrize("text", ["id,name,Name\na,B,C\n", "id,id,name\na,b,C\n"])
def test_a_column_that_is_there_twice_is_said(tmp_path: Path, text: str) -> None:
    assert "two columns" in refusal(tmp_path, text)


def sheet(folder: Path, rows: list[list[object]]) -> Path:
    book = openpyxl.Workbook()
    for row in rows:
        book.active.append(row)
    file = folder / "roster.xlsx"
    book.save(file)
    return file


def test_an_xlsx_is_read_as_a_csv_would_be(tmp_path: Path) -> None:
    rows: list[list[object]]
    rows = [["Shift", "ID", "Name"], [None, 7.0, "Ольга"], [], ["x", "007", "=1+1"], [1, 12, None]]
    assert read_roster(sheet(tmp_path, rows)) == (
        Trainee("7", "Ольга"),
        Trainee("007", "=1+1"),
        Trainee("12", "12"),
    )


def test_mistakes_in_an_xlsx_name_its_line(tmp_path: Path) -> None:
    file = sheet(tmp_path, [["id", "name"], ["a", "A"], [], ["../x", "B"]])
    with pytest.raises(ClassError, match=r"roster\.xlsx, line 4: the id '\.\./x'"):
        read_roster(file)


def test_a_damaged_or_bursting_xlsx_gets_a_sentence(tmp_path: Path) -> None:
    whole = sheet(tmp_path, [["id", "name"], ["a", "A"]]).read_bytes()
    file = tmp_path / "roster.xlsx"
    for cut in range(4, len(whole), 211):
        file.write_bytes(whole[:cut])
        with pytest.raises(ClassError, match=r"roster\.xlsx"):
            read_roster(file)
    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as packed:
        for number in range(4):
            packed.writestr(f"xl/{number}.xml", b"\0" * 100_000_000)
    with pytest.raises(ClassError, match="unpacks to more"):
        read_roster(file)
    file.write_bytes(b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(512))
    with pytest.raises(ClassError, match="old spreadsheet"):
        read_roster(file)


HOSTILE = [
    *("..", ".", "../../x", "/etc/x", "\\\\server\\x", "C:x", "a/../../b", "~", "a\x00b/..", "nul"),
    *("CON", "com1.txt", "a.", "a ", " ", "x" * 5_000, "\u202e../x", "..\u200f", "%2e%2e", "$HOME"),
    *("-rf", "=cmd", "a\nb", "\ud7ff/..", "..\uff0fx", "name.", "aux.csv", "*", "?", "a:b"),
]


@settings(deadline=None, max_examples=150)
@given(st.lists(st.one_of(st.sampled_from(HOSTILE), st.text(max_size=12)), min_size=1, max_size=3))
def test_a_hostile_id_writes_nothing_outside_the_class_folder(
    tmp_path_factory: pytest.TempPathFactory, ids: list[str]
) -> None:
    home = tmp_path_factory.mktemp("hostile")
    folder = home / "class"
    folder.mkdir()
    file = folder / "roster.csv"
    with file.open("w", newline="", encoding="utf-8", errors="surrogatepass") as stream:
        csv.writer(stream).writerows([["id", "name"], *([text, "X"] for text in ids)])
    try:
        trainees = read_roster(file)
    except ClassError:
        return
    for trainee in trainees:
        (folder / "workbooks" / trainee.id).mkdir(parents=True)
        (folder / "workbooks" / trainee.id / "x").write_text("")
    assert [item.name for item in home.iterdir()] == ["class"]
    assert len(list((folder / "workbooks").iterdir())) == len(trainees)
    assert not any(set(trainee.id) & set("\u202e\u200f\x00\n") for trainee in trainees)


UNSEEN = [
    "\u200b",
    "\u2060\ufeff",
    "\u202e\u202c",
    "\u200d",
    "\u00ad",
    "\u3164",
    "\u2800",
    "\ufe0f",
    "\u061c",
]


@pytest.mark.parametrize("name", UNSEEN, ids=ascii)
def test_a_name_that_does_not_show_is_no_name(tmp_path: Path, name: str) -> None:
    assert roster(tmp_path, f"id,name\na1,{name}\n") == (Trainee("a1", "a1"),)
    (kept,) = roster(tmp_path, "id,name\na1,\u200bBo\u202e Tarn\ufeff\n")
    assert kept.name == "Bo Tarn"


def test_joiners_that_scripts_need_stay_in_a_name(tmp_path: Path) -> None:
    for name in ("می\u200cنا", "क\u094d\u200dष"):
        assert roster(tmp_path, f"id,name\na1,{name}\n")[0].name == name


@pytest.mark.parametrize(
    "name", ["COM¹", "com²", "LPT³.txt", "ＣＯＮ", "aux.csv", "AUX ", "CON.txt", "a."]
)
def test_a_devices_name_is_no_new_id(tmp_path: Path, name: str) -> None:
    file = tmp_path / "roster.csv"
    file.write_text(f"id,name\nb1,Bo\n{name},Ann\n", encoding="utf-8")
    with pytest.raises(ClassError, match=r"roster\.csv, line 3: .*(Choose another|Use letters)"):
        require_safe_ids(file, None, set())


@pytest.mark.parametrize("pair", [("ann", "ａｎｎ"), ("ann", "ＡＮＮ"), ("x1", "x¹")])
def test_ids_that_only_look_different_are_not_dealt_but_stay_where_they_are(
    tmp_path: Path, pair: tuple[str, str]
) -> None:
    file = tmp_path / "roster.csv"
    file.write_text(f"id,name\n{pair[0]},A\nb,B\n{pair[1]},C\n", encoding="utf-8")
    with pytest.raises(ClassError, match=r"line 4: .* line 2 only in the width or form"):
        require_safe_ids(file, None, {"b"})
    with pytest.raises(ClassError, match=r"line 2: .* line 4 only in the width or form"):
        require_safe_ids(file, None, {pair[1]})
    # Whoever was dealt under such an id is still read, dealt on and scored.
    assert len(read_roster(file)) == 3
    require_safe_ids(file, None, {*pair})
