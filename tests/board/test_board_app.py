"""The board's pages, asked without a browser: who may ask, the classes, dealing, the room."""

from __future__ import annotations

import threading
from urllib.request import urlopen

import pytest
from board_browser import AtBoard, BoardBrowser
from tiny_class import Room as Class

from labkit.board.asked import Asked
from labkit.board.classes import Classes
from labkit.board.held_rooms import HeldRooms

ASKED = ["now", "work"]
DONE = ["deal", "open-room", "end-room"]


def test_nobody_without_the_key_learns_or_does_anything(at_board: AtBoard, a_class: Class) -> None:
    stranger = at_board()
    assert stranger.client.get("/classes").json() == {"signed_in": False, "name": "mira"}
    assert stranger.client.get("/signed-in").json() == {"trainer": "", "name": "mira"}
    assert {stranger.asks(part).status_code for part in ASKED} == {403}
    assert {stranger.does(part).status_code for part in DONE} == {403}
    assert stranger.post("/sign-in", {"key": "guessed", "name": "Mira"}).status_code == 403
    assert not a_class.folder.deal_file.exists()


def test_a_page_from_elsewhere_does_nothing(board: BoardBrowser, a_class: Class) -> None:
    answer = board.post("/class/class/deal", {}, origin="http://elsewhere.example")
    assert answer.status_code == 403
    assert board.client.get("/classes", headers={"host": "elsewhere.example"}).status_code == 421
    assert not a_class.folder.deal_file.exists()


def test_a_page_learns_who_is_signed_in_without_a_look_at_the_classes(
    board: BoardBrowser, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(Classes, "names", lambda _: pytest.fail("the classes were read"))
    assert board.client.get("/signed-in").json() == {"trainer": "Mira"}


def test_classes_are_listed_and_a_broken_one_says_what_is_wrong(
    board: BoardBrowser, a_class: Class
) -> None:
    broken = a_class.path.parent / "broken"
    broken.mkdir()
    (broken / "class.yaml").write_text("title: No labs\n", encoding="utf-8")
    told = board.client.get("/classes").json()
    assert [one["name"] for one in told["classes"]] == ["broken", "class"]
    assert any("labs" in line for line in told["classes"][0]["wrong"])
    assert told["classes"][1]["dealt"] is False


@pytest.mark.parametrize("name", ["..", "class%2F..", "library", "nowhere"])
def test_only_classes_of_the_folder_are_opened(board: BoardBrowser, name: str) -> None:
    assert board.client.get(f"/class/{name}/now").status_code in {404, 409}


def test_a_class_is_dealt_and_says_so(board: BoardBrowser, a_class: Class) -> None:
    assert board.asks("now").json()["to_deal"] == 3
    assert board.does("deal").status_code == 200
    work = board.when_done()
    assert (work["by"], work["told"]["new"], work["wrong"]) == ("Mira", 3, [])
    now = board.asks("now").json()
    assert (now["to_deal"], now["workbooks"]) == (0, 3)
    assert a_class.folder.deal_file.exists()


def test_what_hinders_the_deal_is_told_in_words(board: BoardBrowser, a_class: Class) -> None:
    a_class.write_roster("ann,Ann Orrel", "ann,Ann Again")
    assert any("is there already" in line for line in board.asks("now").json()["remarks"])
    board.does("deal")
    assert any("is there already" in line for line in board.when_done()["wrong"])


def test_the_room_is_opened_and_ended(
    board: BoardBrowser, a_class: Class, rooms: HeldRooms
) -> None:
    refused = board.does("open-room", interface="127.0.0.1")
    assert refused.status_code == 409
    assert "dealt" in refused.text
    a_class.deal()
    rooms.open(a_class.folder, "127.0.0.1")
    room = board.asks("now").json()["room"]
    with urlopen(room["address"], timeout=60) as page:
        assert page.status == 200
    assert board.does("end-room").json() == {"room": None}
    with pytest.raises(OSError, match="refused"):
        urlopen(room["address"], timeout=60)


def test_two_pieces_of_work_wait_for_each_other(board: BoardBrowser, asked: Asked) -> None:
    going, go_on = asked.works, threading.Event()
    going.begin("class", "Something long", "Ana", lambda _: {"done": go_on.wait(60)})
    refused = board.does("deal")
    assert refused.status_code == 409
    assert "Something long (begun by Ana)" in refused.text
    go_on.set()
    assert board.when_done()["told"] == {"done": True}
