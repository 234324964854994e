"""The form that begins a class, asked without a browser."""

from __future__ import annotations

from pathlib import Path
from typing import Any
from urllib.parse import quote

import pytest
from board_browser import FROM_HERE, AtBoard, BoardBrowser
from tiny_class import Room as Class

from labkit.board.asked import Asked
from labkit.board.begin_side import GONE
from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.office_list import MOST_BYTES

LIST = (
    "Klassenliste\n\nPersonalnr.;Name;Vorname;Mail\n007;Mäler;Ansa;a@x\n012;Tarn;Bo;b@x\n".encode(
        "cp1252"
    )
)
TINY = [{"lab": "tiny", "mode": "practice", "held": "room"}]


def drop(board: BoardBrowser, data: bytes, name: str = "staff.csv", **headers: str) -> Any:
    path = f"/begin/list?name={quote(name)}"
    return board.client.post(path, content=data, headers={**FROM_HERE, **headers})


def form(**more: object) -> dict[str, object]:
    return {"title": "Hall", "day": "2026-11-27", "folder": "hall", "labs": TINY, **more}


def test_nobody_without_the_key_and_no_other_page_begins_anything(
    at_board: AtBoard, board: BoardBrowser, a_class: Class
) -> None:
    stranger, said = at_board(), form(list="x")
    assert stranger.client.get("/begin/labs").status_code == 403
    assert drop(stranger, LIST).status_code == 403
    elsewhere = {"origin": "http://elsewhere.example"}
    assert drop(board, LIST, **elsewhere).status_code == 403
    for path in ("form", "reading", "class"):
        assert stranger.post(f"/begin/{path}", said).status_code == 403
        assert board.post(f"/begin/{path}", said, **elsewhere).status_code == 403
    assert not (a_class.path.parent / "hall").exists()


def test_the_labs_say_what_they_are_and_a_broken_one_what_is_wrong(
    board: BoardBrowser, asked: Asked
) -> None:
    aimed = asked.library / "aimed"
    aimed.mkdir()
    text = (asked.library / "tiny" / "lab.md").read_text("utf-8").replace("id: tiny", "id: aimed")
    said = "**Aim.** You add.\n\n**Before this lab:** *Tiny lab* (`tiny`). **After it:** none.\n\n"
    text = text.replace("Your length", f"{said}Your length", 1)
    (aimed / "lab.md").write_text(text, encoding="utf-8")
    (asked.library / "broken").mkdir()
    (asked.library / "broken" / "lab.md").write_text("nothing", encoding="utf-8")
    told = board.client.get("/begin/labs").json()
    tiny, after, broken = told["labs"]
    assert (tiny["id"], tiny["before"]) == ("tiny", "")
    assert (after["id"], after["aim"], after["before"]) == ("aimed", "You add.", "Tiny lab.")
    assert "the header is missing" in broken["wrong"][0]
    assert "A lab whose text is public is a practice lab" in told["rule"]
    # It is read anew once a text is another.
    (aimed / "lab.md").write_text(text.replace("You add.", "You double."), encoding="utf-8")
    assert board.client.get("/begin/labs").json()["labs"][1]["aim"] == "You double."


def test_a_folder_is_proposed_and_what_stays_secret_is_said(board: BoardBrowser) -> None:
    told = board.post("/begin/form", {"title": "Class"}).json()
    assert told == {"folder": "class-2", "secret": {}, "wrong": []}
    assessed = [{"lab": "tiny", "mode": "assessed", "held": "room"}]
    told = board.post("/begin/form", {"title": "", "labs": assessed}).json()
    assert "keys and hidden faults never leave this machine" in told["secret"]["tiny"]
    assert "its text comes with labkit" in told["secret"]["tiny"]
    wrong = board.post("/begin/form", {"title": "A", "day": "Friday", "labs": assessed}).json()
    assert "is not a day" in wrong["wrong"][0]


def test_a_class_is_begun_from_an_awkward_list(board: BoardBrowser, a_class: Class) -> None:
    shown = drop(board, LIST, "Klassenliste ä.csv").json()
    assert shown["file"] == "Klassenliste ä.csv"
    assert shown["questions"] == {}
    assert shown["not_taken"] == ["Mail"]
    assert "read as cp1252" in shown["remarks"][0]
    assert [each["name"] for each in shown["people"]] == ["Ansa Mäler", "Bo Tarn"]
    answer = board.post("/begin/class", form(list=shown["list"]))
    assert answer.json() == {"name": "hall"}
    made = ClassFolder.open(a_class.path.parent / "hall")
    assert [(each.id, each.name) for each in made.trainees] == [
        ("007", "Ansa Mäler"),
        ("012", "Bo Tarn"),
    ]
    assert "Begun by Mira" in (made.path / "class.yaml").read_text("utf-8")
    assert board.client.get("/class/hall/now").json()["people"] == 2
    # The list is used up, and the name is taken.
    assert board.post("/begin/class", form(list=shown["list"])).status_code == GONE
    again = drop(board, LIST).json()["list"]
    assert "is there already" in board.post("/begin/class", form(list=again)).text


def test_columns_are_chosen_rows_mended_and_left_out(board: BoardBrowser, a_class: Class) -> None:
    shown = drop(board, b"Key;Who;Else\nk1;Ann Orrel;x\nk1;Ben Tasker;y\n;Sum;2\n").json()
    assert set(shown["questions"]) == {"heading", "name"}
    columns = {"id": 0, "name": 1}
    said: dict[str, object] = {"list": shown["list"], "heading": 1, "columns": columns}
    told = board.post("/begin/reading", said).json()
    assert [bool(each["wrong"]) for each in told["people"]] == [True, True, True]
    refused = board.post("/begin/class", form(**said))
    assert refused.status_code == 409
    assert "Is 'Who' people's name?" in refused.text
    said |= {"answered": ["name", "id"], "mended": {"3": {"id": "k2"}}, "left_out": [4]}
    told = board.post("/begin/reading", said).json()
    assert [each["wrong"] for each in told["people"]] == [[], [], []]
    assert board.post("/begin/class", form(**said)).status_code == 200
    roster = (a_class.path.parent / "hall" / "roster.csv").read_text("utf-8")
    assert roster == "id,name\nk1,Ann Orrel\nk2,Ben Tasker\n"


def test_what_hinders_is_told_all_at_once_and_nothing_is_made(
    board: BoardBrowser, a_class: Class
) -> None:
    before = sorted(a_class.path.parent.iterdir())
    assert "no list of people yet" in board.post("/begin/class", form()).text
    shown = drop(board, LIST).json()
    said = form(list=shown["list"], title=" ", labs=[])
    assert "The title is empty" in board.post("/begin/class", said).text
    strange = form(list=shown["list"], labs=[{"lab": "other"}])
    assert "'other' is not there" in board.post("/begin/class", strange).text
    assert sorted(a_class.path.parent.iterdir()) == before


@pytest.mark.parametrize(
    ("data", "words"),
    [(b"PK\x03\x04", "damaged"), (b"", "is empty"), (b"x" * (MOST_BYTES + 1), "larger than")],
)
def test_a_file_that_is_no_list_gets_a_sentence(
    board: BoardBrowser, data: bytes, words: str
) -> None:
    answer = drop(board, data, "../../<b>\n.xlsx")
    assert answer.status_code == 409
    assert words in answer.text
    assert "\n" not in answer.text


@pytest.mark.parametrize(
    "said",
    [
        {"columns": 1},
        {"columns": {"id": -1, "name": 10**30}},
        {"columns": {"id": True}, "makes_ids": 3},
        {"heading": 99, "columns": {}},
        {"mended": {"x": 1, "9" * 40: {}, "4": {"id": 7, "name": "\ud800"}}},
        {"mended": [], "left_out": "all", "answered": {}, "labs": 7},
        {"left_out": [None, 4.5, 5]},
    ],
)
def test_anything_a_page_may_say_gets_an_answer(
    board: BoardBrowser, a_class: Class, said: dict[str, object]
) -> None:
    shown = drop(board, LIST).json()
    for path in ("reading", "form", "class"):
        answer = board.post(f"/begin/{path}", {**form(), "list": shown["list"], **said})
        assert answer.status_code in {200, 409}
    made = a_class.path.parent / "hall"
    assert not made.exists() or ClassFolder.open(made).trainees


def test_lists_that_are_gone_say_so(board: BoardBrowser) -> None:
    first = drop(board, LIST).json()["list"]
    for _ in range(8):
        drop(board, LIST)
    answer = board.post("/begin/reading", {"list": first})
    assert answer.status_code == GONE
    assert "Choose the file again" in answer.text


def test_the_folder_of_classes_may_not_be_there_yet(board: BoardBrowser, asked: Asked) -> None:
    later: Path = asked.classes.path / "labkit"
    object.__setattr__(asked.classes, "path", later)
    assert board.post("/begin/form", {"title": "Hall"}).json()["folder"] == "hall"
    shown = drop(board, LIST).json()
    assert board.post("/begin/class", form(list=shown["list"])).status_code == 200
    assert (later / "hall" / "class.yaml").is_file()
