"""The people of a class at the board, without a browser."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from board_browser import AtBoard, BoardBrowser
from tiny_class import Room as Class

from labkit.board.asked import Asked

DEE = {"id": "dee", "name": "Dee Quist"}
DONE = ["add", "look-at-retake", "retake", "look-at-id", "id", "print", "pdf"]


def everybody(board: BoardBrowser) -> Any:
    return board.asks("people/list").json()


def does(board: BoardBrowser, part: str, **said: object) -> Any:
    answer = board.does(f"people/{part}", **said)
    assert answer.status_code == 200, answer.text
    return answer.json()


def done(board: BoardBrowser, part: str, **said: object) -> Any:
    """What long work told; nothing went wrong."""
    does(board, part, **said)
    work = board.when_done()
    assert work["wrong"] == []
    return work["told"]


def wrong(board: BoardBrowser, part: str, **said: object) -> str:
    does(board, part, **said)
    return "\n".join(board.when_done()["wrong"])


def test_nobody_without_the_key_learns_or_changes_anything(
    at_board: AtBoard, a_class: Class, asked: Asked
) -> None:
    done(at_board().signed_in(asked), "print", what="cards")
    stranger = at_board()
    assert stranger.asks("people/list").status_code == 403
    assert stranger.asks("people/paper/cards.html").status_code == 403
    assert {stranger.does(f"people/{part}").status_code for part in DONE} == {403}
    assert "Dee" not in (a_class.path / "roster.csv").read_text("utf-8")


def test_who_is_in_the_class_and_what_they_were_dealt(board: BoardBrowser, a_class: Class) -> None:
    text = "id,name,seat,phone\nann,Ann <b>Orrel</b>,A1,1\nben,Ben Tasker,A2,2\n"
    (a_class.path / "roster.csv").write_text(text, "utf-8")
    a_class.deal()
    (a_class.path / "roster.csv").write_text(text.replace("ben,Ben", "cy,Cy"), "utf-8")
    told = everybody(board)
    ann, cy = told["people"]
    assert (ann["name"], ann["seat"], ann["dealt"]) == ("Ann <b>Orrel</b>", "A1", [1])
    assert (cy["id"], cy["dealt"]) == ("cy", [0])
    assert [(one["id"], one["again"]) for one in told["gone"]] == [("ben", None)]
    assert told["columns"] == ["id", "name", "seat"]


def test_a_roster_with_a_mistake_says_so_and_the_page_is_there(
    board: BoardBrowser, a_class: Class
) -> None:
    a_class.write_roster("ann,Ann Orrel", "ann,Ann Again")
    told = everybody(board)
    assert "is there already" in told["wrong"][0]
    assert (told["people"], told["columns"]) == ([], [])


def test_somebody_comes_late_and_is_dealt(board: BoardBrowser, a_class: Class) -> None:
    a_class.deal()
    seen = everybody(board)["seen"]
    assert does(board, "add", cells=DEE, seen=seen) == {"id": "dee", "name": "Dee Quist"}
    assert everybody(board)["people"][-1]["dealt"] == [0]
    board.does("deal")
    assert board.when_done()["told"]["new"] == 1
    assert everybody(board)["people"][-1]["dealt"] == [1]


@pytest.mark.parametrize(
    ("cells", "why"),
    [
        ({"id": "../x", "name": "Dee"}, "cannot be a folder's name"),
        ({"id": "ann", "name": "Dee"}, "is there already"),
        ({"id": "dee", "name": " "}, "Write the name too"),
        ({"id": "dee", "name": "D" * 201}, "longer than 200 characters"),
        ({"id": "dee", "name": "Dee", "pay": "1"}, "no column 'pay'"),
        ({"id": ["dee"], "name": "Dee"}, "the id is empty"),
        (["dee"], "Write the name too"),
        ("dee", "Write the name too"),
    ],
)
def test_a_late_one_that_cannot_be_is_refused_in_words(
    board: BoardBrowser, a_class: Class, cells: object, why: str
) -> None:
    before = (a_class.path / "roster.csv").read_bytes()
    refused = board.does("people/add", cells=cells, seen=everybody(board)["seen"])
    assert (refused.status_code, why in refused.text) == (409, True), refused.text
    assert (a_class.path / "roster.csv").read_bytes() == before


def test_two_trainers_do_not_write_over_each_other(
    board: BoardBrowser, at_board: AtBoard, asked: Asked
) -> None:
    ana = at_board().signed_in(asked, "Ana")
    seen = everybody(ana)["seen"]
    does(board, "add", cells=DEE, seen=everybody(board)["seen"])
    refused = ana.does("people/add", cells={"id": "eve", "name": "Eve Sand"}, seen=seen)
    assert (refused.status_code, "was changed since" in refused.text) == (409, True)
    assert [one["id"] for one in everybody(ana)["people"]][-1] == "dee"


def test_a_retake_is_looked_at_and_dealt_once(board: BoardBrowser, a_class: Class) -> None:
    a_class.deal()
    who = {"who": ["ben", "ann"], "lab": "tiny"}
    looked = does(board, "look-at-retake", **who)
    assert [(one["id"], one["attempt"], one["made"], one["hinders"]) for one in looked["plan"]] == [
        ("ann", 2, 0, ""),
        ("ben", 2, 0, ""),
    ]
    assert len(a_class.dealt.dealt) == 3, "looking deals nothing"
    told = done(board, "retake", **who, seen=looked["seen"])
    assert told["said"] == "2 dealt."
    assert any("attempt-2" in line for line in told["lines"])
    assert [one["dealt"] for one in everybody(board)["people"]] == [[2], [2], [1]]
    # The other trainer's page, or this one pressed twice: nobody gets a third attempt by it.
    assert "since this was shown" in wrong(board, "retake", **who, seen=looked["seen"])
    assert "since this was shown" in wrong(board, "retake", **who)
    assert len(a_class.dealt.dealt) == 5


def test_what_hinders_a_retake_is_told_before(board: BoardBrowser, a_class: Class) -> None:
    a_class.write_class(attempts="1")
    a_class.deal()
    a_class.write_roster("ann,Ann Orrel", "ben,Ben Tasker", "dee,Dee Quist")
    looked = does(board, "look-at-retake", who=["ann", "dee", "cy", "../x"])
    assert [(one["id"], one["hinders"][:18]) for one in looked["plan"]] == [
        ("ann", "1 attempts were de"),
        ("dee", "Not dealt yet, so "),
        ("../x", "Not in the roster "),
        ("cy", "Not in the roster "),
    ]
    assert wrong(board, "retake", who=["ann"], seen="x")
    assert "allows no more" in wrong(
        board, "retake", who=["ann"], seen=does(board, "look-at-retake", who=["ann"])["seen"]
    )
    assert board.does("people/look-at-retake", who=["ann"], lab="x").status_code == 409


def test_another_id_is_looked_at_and_given_with_a_reason(
    board: BoardBrowser, a_class: Class
) -> None:
    a_class.deal()
    looked = does(board, "look-at-id", old="ann", new=" anne ")
    assert looked["workbooks"] == [{"lab": "tiny", "attempt": 1, "dealt_to": "ann"}]
    said = {"old": "ann", "new": "anne", "seen": looked["seen"]}
    assert "Say why" in wrong(board, "id", **said, reason=" ")
    told = done(board, "id", **said, reason="misspelt")
    assert told["said"] == "Ann Orrel has the id anne now, before ann."
    assert everybody(board)["people"][0]["dealt"] == [1]
    assert "changed since" in wrong(
        board, "id", old="ben", new="bea", seen=looked["seen"], reason="misspelt"
    )


def test_cards_and_handouts_are_printed_and_opened(board: BoardBrowser, a_class: Class) -> None:
    a_class.deal()
    assert everybody(board)["paper"] == []
    done(board, "print", what="cards", address="192.0.2.7:8000", paper="Letter")
    done(board, "print", what="handouts")
    told = everybody(board)
    names = [one["name"] for one in told["paper"]]
    assert names == ["cards.html", "all-handouts.html", "instructors-copy.html"]
    cards = board.asks("people/paper/cards.html")
    assert "http://192.0.2.7:8000" in cards.text
    assert "size: Letter" in cards.text
    policy = cards.headers["content-security-policy"]
    assert "script-src" not in policy
    assert policy.startswith("default-src 'none'")
    assert told["people"][0]["handout"] is True
    assert "Ann Orrel" in board.asks("people/paper/handouts/ann.html").text


@pytest.mark.parametrize(
    "name",
    [
        "..%2Fclass-secret.txt", "../class-secret.txt", "handouts/../../class-secret.txt",
        "handouts%2F..%2F..%2Froster.csv", "class-secret.txt", "handouts/", "handouts", "",
        "linked.html", "handouts/linked.html", "cards.pdf",
    ],
)  # fmt: skip
def test_only_what_was_printed_is_opened(board: BoardBrowser, a_class: Class, name: str) -> None:
    a_class.deal()
    done(board, "print", what="handouts")
    for place in (a_class.path / "print", a_class.path / "print" / "handouts"):
        (place / "linked.html").symlink_to(a_class.path / "class-secret.txt")
    answer = board.asks(f"people/paper/{name}")
    assert answer.status_code == 404
    assert (a_class.path / "class-secret.txt").read_text("utf-8").strip() not in answer.text


def test_what_cannot_be_printed_is_said_at_once(board: BoardBrowser) -> None:
    for said, why in (
        ({"what": "money"}, "cards or handouts"),
        ({"what": "cards", "address": "http://x/../y"}, "not the address of a room"),
    ):
        refused = board.does("people/print", **said)
        assert (refused.status_code, why in refused.text) == (409, True)
    assert "was not dealt yet" in wrong(board, "print", what="handouts")


def test_pdf_is_made_of_what_was_printed_and_not_told_when_it_is_older(
    board: BoardBrowser, a_class: Class, monkeypatch: pytest.MonkeyPatch
) -> None:
    def no_browser() -> None:
        return None

    def written(browser: str, pages: list[Path], progress: Any) -> None:
        for page in pages:
            page.with_suffix(".pdf").write_bytes(b"%PDF-" + browser.encode())
        progress(1, 1)

    side = "labkit.board.people_side"
    monkeypatch.setattr(f"{side}.find_browser", no_browser)
    assert "No Chromium" in board.does("people/pdf", what="cards").text
    monkeypatch.setattr(f"{side}.find_browser", lambda: "a-browser")
    monkeypatch.setattr(f"{side}.write_pdfs", written)
    assert "print them first" in board.does("people/pdf", what="cards").text
    done(board, "print", what="cards")
    assert done(board, "pdf", what="cards") == {"pdf": "cards"}
    assert everybody(board)["paper"][0]["pdf"] == "cards.pdf"
    opened = board.asks("people/paper/cards.pdf")
    assert (opened.content, opened.headers["content-type"]) == (
        b"%PDF-a-browser",
        "application/pdf",
    )
    (a_class.path / "print" / "cards.html").touch()
    assert everybody(board)["paper"][0]["pdf"] == ""
