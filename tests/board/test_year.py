"""The page of all classes: read once, read again where something changed, nothing to strangers."""

from __future__ import annotations

from time import monotonic, sleep
from typing import Any

import pytest
from board_browser import AtBoard, BoardBrowser
from tiny_class import Room as Class

from labkit.board import year_side
from labkit.classroom.across.seen import ClassSeen, seen
from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.marks.scoring import score


def looked(board: BoardBrowser) -> dict[str, Any]:
    assert board.post("/year/look").status_code == 200
    until = monotonic() + 60
    while (work := board.client.get("/year/work").json()["work"])["going_on"]:
        assert monotonic() < until
        sleep(0.02)
    assert work["wrong"] == []
    told: dict[str, Any] = work["told"]
    return told


def test_a_stranger_reads_nothing(at_board: AtBoard) -> None:
    assert at_board().post("/year/look").status_code == 403
    assert at_board().client.get("/year/work").status_code == 403


def test_a_class_is_read_again_only_where_something_came(
    board: BoardBrowser, a_class: Class, monkeypatch: pytest.MonkeyPatch
) -> None:
    read: list[str] = []

    def counted(folder: ClassFolder) -> ClassSeen:
        read.append(folder.path.name)
        return seen(folder)

    monkeypatch.setattr(year_side, "seen", counted)
    (a_class.path.parent / "broken").mkdir()
    (a_class.path.parent / "broken" / "class.yaml").write_text("title: x\n", encoding="utf-8")
    a_class.deal()
    first = looked(board)
    assert [one["classes"][0]["result"] for one in first["people"]] == ["nothing handed in"] * 3
    assert [one["folder"] for one in first["wrong"]] == ["broken"]
    assert looked(board) == first
    assert read == ["class"]
    a_class.hand_in("ann")
    score(a_class.folder)
    again = looked(board)
    assert again["people"][0]["classes"][0]["result"].startswith("100.0 %")
    assert [lab["handed_in"] for lab in again["labs"]] == [1]
    assert read == ["class", "class"]
