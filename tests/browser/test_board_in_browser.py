"""The board: who needs the trainer is seen and seen to, by keys as well; nothing is torn away."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from checked_by_axe import findings, needs_axe
from tiny_class import MakeRoom
from tiny_class import Room as Class

from labkit.room.room import Room

sys.path.append(str(Path(__file__).parents[1] / "room"))
from by_protocol import Server

pytestmark = pytest.mark.browser
SHOTS = os.environ.get("LABKIT_SHOTS")
PEOPLE = 14
Open = Callable[..., Any]


@pytest.fixture
def made(make_room: MakeRoom) -> Class:
    """Fourteen people at one small lab."""
    more = [f"p{number:02},Person {number:02}" for number in range(3, PEOPLE + 1)]
    made = make_room("ann,Ann Orrel", "ben,Ben Tasker", *more)
    made.deal()
    return made


@pytest.fixture
def server(made: Class) -> Iterator[Server]:
    running = Server(made.path)
    yield running
    running.kill()


def trainer(page: Any, server: Server) -> Any:
    page.goto(f"{server.address}/trainer#{server.key}")
    page.get_by_label("Your name").fill("Mira")
    page.keyboard.press("Enter")
    page.get_by_role("heading", name="Room 7").wait_for()
    return page


def at_work(page: Any, server: Server, code: str) -> Any:
    page.goto(f"{server.address}/#{code}")
    page.get_by_role("button", name="Join").click()
    page.get_by_role("link", name="Begin").click()
    page.get_by_label("Your answer").wait_for()
    return page


def row(page: Any, name: str) -> Any:
    return page.get_by_role("row").filter(has_text=name)


def needs(page: Any) -> Any:
    return page.get_by_role("region", name="Needs you").get_by_role("listitem")


def looked_at(page: Any, name: str) -> None:
    if not SHOTS:
        return
    for width in (1366, 820, 400):
        page.set_viewport_size({"width": width, "height": 768})
        for theme in ("light", "dark"):
            page.emulate_media(color_scheme=theme)
            page.screenshot(path=Path(SHOTS) / f"board-{name}-{width}-{theme}.png")
    page.set_viewport_size({"width": 1366, "height": 768})


def test_who_needs_the_trainer_is_gathered_and_seen_to(
    devices: Open, server: Server, made: Class
) -> None:
    codes = Room(made.folder).on_cards
    mira = trainer(devices(), server)
    ann, ben = (at_work(devices(), server, codes[name]) for name in ("ann", "ben"))
    for text in ("1 km", "2 km", "3 km"):
        ann.get_by_label("Your answer").fill(text)
        ann.keyboard.press("Enter")
        ann.locator('.lk-exercise[data-state="saved"]').wait_for()
        ann.get_by_text("✗ Not right").wait_for()
    why = "three different wrong answers in “Double it”"
    needs(mira).filter(has_text=why).get_by_role("button", name="Ann Orrel").wait_for()
    row(mira, "Ann Orrel").get_by_text("stuck").wait_for()
    row(mira, "Ann Orrel").get_by_role("cell", name="3", exact=True).wait_for()
    # A raised hand, by the keyboard alone.
    ben.get_by_role("button", name="Ask your instructor").press("Enter")
    ben.keyboard.type("What is twice?")
    ben.keyboard.press("Enter")
    ben.get_by_text("Your hand is up: “What is twice?”").wait_for()
    needs(mira).first.filter(has_text="Ben Tasker").wait_for()
    assert "“What is twice?”" in needs(mira).first.inner_text()
    assert "Ann Orrel" in needs(mira).nth(1).inner_text()
    looked_at(mira, "needs")
    # The trainee's own page shows it again after it was loaded anew.
    ben.reload()
    ben.get_by_text("Your hand is up: “What is twice?”").wait_for()
    mira.get_by_role("button", name="Seen to: Ben Tasker").click()
    ben.get_by_text("Your hand was taken down.").wait_for()
    row(mira, "Ben Tasker").get_by_text("hand up").wait_for(state="detached")
    ben.get_by_role("button", name="Ask your instructor").click()
    ben.keyboard.press("Escape")
    assert ben.evaluate("document.activeElement.textContent") == "Ask your instructor"
    ben.get_by_role("button", name="Ask your instructor").click()
    ben.get_by_role("button", name="Raise your hand").click()
    ben.get_by_role("button", name="Take it back").click()
    needs(mira).filter(has_text="Ben Tasker").wait_for(state="detached")
    ann.get_by_label("Your answer").fill(made.right("ann")["double"])
    ann.keyboard.press("Enter")
    mira.get_by_role("heading", name="Nobody needs you now").wait_for()


def test_fourteen_rows_are_seen_at_one_look_and_no_list_is_torn_from_under_the_hand(
    devices: Open, server: Server, made: Class
) -> None:
    mira = trainer(devices(), server)
    rows = mira.locator(".bd-row")
    rows.nth(PEOPLE - 1).wait_for()
    last = rows.nth(PEOPLE - 1).bounding_box()
    assert last["y"] + last["height"] <= 768
    names = [name.strip() for name in mira.locator(".bd-row th").all_text_contents()]
    assert names == list(Room(made.folder).people.values())
    # Keys alone: a row is unfolded; somebody comes meanwhile, and the focus and the row stay.
    mira.get_by_role("button", name="Ben Tasker").focus()
    mira.keyboard.press("Enter")
    mira.get_by_text("not begun").wait_for()
    mira.get_by_role("button", name="Show the code").focus()
    mira.keyboard.press("Enter")
    code = Room(made.folder).on_cards
    mira.get_by_text(code["ben"]).wait_for()
    list_of_minutes = mira.get_by_label("Ends in …")
    list_of_minutes.focus()
    mira.evaluate("window.held = document.activeElement")
    ann = at_work(devices(400, 720), server, code["ann"])
    ann.get_by_label("Your answer").fill("1 km")
    ann.keyboard.press("Enter")
    row(mira, "Ann Orrel").get_by_text("1 of 3").wait_for()
    assert mira.evaluate("window.held === document.activeElement")
    assert mira.get_by_text(code["ben"]).count() == 1
    list_of_minutes.select_option("30 minutes")
    mira.get_by_text("open until").wait_for()
    mira.get_by_label("Give all …").wait_for()
    assert list_of_minutes.input_value() == ""
    # Now there is an end, and with it more time for one.
    mira.get_by_label("Give time …").select_option("10 minutes")
    mira.get_by_text("until", exact=False).nth(1).wait_for()
    looked_at(mira, "unfolded")


def test_axe_finds_nothing_on_the_board_and_beside_the_question(
    devices: Open, server: Server, made: Class
) -> None:
    needs_axe()
    mira = trainer(devices(), server)
    ann = at_work(devices(), server, Room(made.folder).on_cards["ann"])
    ann.get_by_role("button", name="Ask your instructor").click()
    assert findings(ann) == []
    ann.get_by_role("button", name="Raise your hand").click()
    ann.get_by_text("Your hand is up").wait_for()
    assert findings(ann) == []
    mira.get_by_role("button", name="Seen to: Ann Orrel").wait_for()
    mira.locator(".bd-row").get_by_role("button", name="Ann Orrel").click()
    for width in (1366, 820, 400):
        mira.set_viewport_size({"width": width, "height": 768})
        assert findings(mira) == []
        wide = mira.evaluate("document.documentElement.scrollWidth - innerWidth")
        assert wide <= 0, width
