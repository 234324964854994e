"""Topics by people asked for without a browser: who may, what it says."""

from __future__ import annotations

from time import monotonic, sleep
from typing import Any

import pytest
from board_browser import AtBoard, BoardBrowser
from set_clock import SetClock
from tiny_class import MakeRoom, Room
from topic_class import ADDRESSES, DROP, MONDAY, TUESDAY, drilled, with_topics


@pytest.fixture
def a_class(make_room: MakeRoom) -> Room:
    return with_topics(make_room)


@pytest.fixture
def practised(a_class: Room, clock: SetClock) -> Room:
    """Ann's topic sits, Ben needs another day, Cy did nothing."""
    a_class.deal()
    for draw in ("d1", "d2", "d3", "d4"):
        clock.set(MONDAY.format(int(draw[1:])))
        drilled(a_class, "ben", draw, 1.0)
        if draw == "d4":
            clock.set(TUESDAY.format(4))
        drilled(a_class, "ann", draw, 1.0)
    return a_class


def looked(board: BoardBrowser) -> dict[str, Any]:
    assert board.does("topics/look").status_code == 200
    until = monotonic() + 60
    while monotonic() < until:
        work: dict[str, Any] = board.asks("topics/work").json()["work"]
        if not work["going_on"]:
            return work
        sleep(0.05)
    raise AssertionError("the work does not end")


@pytest.mark.usefixtures("practised")
def test_nobody_without_a_pass_reads_anything(at_board: AtBoard) -> None:
    stranger = at_board()
    for part in ("topics/now", "topics/work"):
        assert stranger.asks(part).status_code == 403
    assert stranger.does("topics/look").status_code == 403
    assert "Ann" not in stranger.asks("topics").text


def test_before_the_deal_it_says_so(board: BoardBrowser) -> None:
    assert board.asks("topics/now").json() == {"title": "Room 7", "dealt": False}
    assert looked(board)["wrong"] != []


@pytest.mark.usefixtures("practised")
def test_it_tells_how_everybody_stands(board: BoardBrowser) -> None:
    assert board.asks("topics/now").json()["dealt"] is True
    work = looked(board)
    assert (work["by"], work["done"], work["of"], work["wrong"]) == ("Mira", 3, 3, [])
    told = work["told"]
    assert (told["running"], told["topics"], told["without"]) == (3, [ADDRESSES, DROP], [])
    stands = {one["name"]: one["topics"] for one in told["people"]}
    assert stands == {
        "Ann Orrel": {
            DROP: {"tried": 4, "running": 3, "another_day": False, "since": "2031-05-06"}
        },
        "Ben Tasker": {DROP: {"tried": 4, "running": 3, "another_day": True, "since": ""}},
        "Cy Morland": {},
    }


@pytest.mark.usefixtures("practised")
def test_other_work_for_the_class_goes_on_beside_it(board: BoardBrowser) -> None:
    assert board.does("hand-ins/score").status_code == 200
    assert looked(board)["wrong"] == []
    assert board.when_done()["wrong"] == []
