"""The projector in a browser: it follows the trainer, fits its screen, and comes back by itself."""

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
NAMES = ("Ann", "Ben", "Cy", "Dot", "Eve", "Fay", "Gus")
SCREENS = ((1920, 1080, "light"), (1366, 768, "dark"))
Open = Callable[..., Any]


@pytest.fixture
def held(make_room: MakeRoom) -> Class:
    """Seven people; five of them counted one too many, two have not answered."""
    made = make_room(*(f"{name.lower()},{name} Orrel" for name in NAMES))
    made.deal()
    room = Room(made.folder)
    for place, name in enumerate(NAMES):
        desk = room.workbooks.opened(room.workbooks.items[name.lower(), "tiny"]).desk
        said = f"{2 * made.number(name.lower()) + 1} m"
        message = {"do": "answer", "token": "t", "answer": said}
        if place < 5:
            assert desk.hear({"exercise": "double", "message": message})
    return made


@pytest.fixture
def room_server(held: Class) -> Iterator[Server]:
    server = Server(held.path)
    yield server
    server.kill()


@pytest.fixture
def screen(devices: Open) -> Open:
    """Opens a screen of its own at an address."""

    def opened(address: str, width: int = 1366, height: int = 768, theme: str = "light") -> Any:
        page = devices(width, height, color_scheme=theme, reduced_motion="reduce")
        page.goto(address)
        return page

    return opened


def trainers(screen: Open, server: Server) -> Any:
    """The trainer's page, signed in, with what it says of the projector unfolded."""
    page = screen(f"{server.address}/trainer#{server.key}")
    page.get_by_label("Your name").fill("Mira")
    page.get_by_role("button", name="Go to the room").click()
    page.locator("summary").filter(has_text="Projector").click()
    return page


def link(mira: Any) -> str:
    return str(mira.locator('a[href*="/projector#"]').get_attribute("href"))


def looked_at(pages: list[Any], name: str) -> None:
    """Each screen is read by axe; nothing is wider than it."""
    for page, (width, _, theme) in zip(pages, SCREENS, strict=True):
        assert findings(page) == [], name
        assert page.evaluate("document.documentElement.scrollWidth") <= width
        if SHOTS:
            page.screenshot(path=Path(SHOTS) / f"projector-{name}-{width}-{theme}.png")


def test_it_follows_the_trainer_and_fits(screen: Open, room_server: Server) -> None:
    needs_axe()
    mira = trainers(screen, room_server)
    pages = [screen(link(mira), *size) for size in SCREENS]

    def all_show(words: str) -> None:
        for page in pages:
            page.get_by_text(words).first.wait_for()

    def press(name: str) -> None:
        mira.get_by_role("button", name=name).click()

    all_show(room_server.address)
    # The key stands in no address that somebody could read off the screen.
    assert [page.url for page in pages] == [f"{room_server.address}/projector"] * 2
    looked_at(pages, "class")
    press("How far we are")
    all_show("7 at work")
    looked_at(pages, "progress")
    for page in pages:
        assert page.evaluate("document.documentElement.scrollHeight <= innerHeight")
    press("What is misunderstood")
    all_show("Worth another look first")
    all_show("You counted one more than")
    looked_at(pages, "debrief")
    press("Show this exercise")
    all_show("What is twice")
    assert pages[0].get_by_text("A right answer").count() == 0
    press("Next: known mistakes")
    all_show("Known mistakes")
    looked_at(pages, "mistakes")
    press("Next: the right answer")
    all_show("A right answer")
    press("Next: working, step 1")
    all_show("Working")
    looked_at(pages, "working")
    assert findings(mira) == []
    if SHOTS:
        mira.screenshot(path=Path(SHOTS) / "projector-trainer.png", full_page=True)
    press("Cover again")
    for page in pages:
        page.get_by_text("Working").wait_for(state="detached")


def test_a_long_picture_is_moved_from_the_trainers_page(screen: Open, room_server: Server) -> None:
    mira = trainers(screen, room_server)
    page = screen(link(mira), 500, 160)
    mira.get_by_role("button", name="What is misunderstood").click()
    page.get_by_text("Worth another look first").wait_for()
    assert page.evaluate("scrollY") == 0
    mira.get_by_role("button", name="picture down").click()
    page.locator('main[data-down="1"]').wait_for()
    assert page.evaluate("scrollY") > 0
    mira.get_by_role("button", name="picture up").click()
    page.locator('main[data-down="0"]').wait_for()
    assert page.evaluate("scrollY") == 0


def test_a_room_that_was_away_shows_what_it_showed(
    screen: Open, room_server: Server, held: Class
) -> None:
    mira = trainers(screen, room_server)
    page = screen(link(mira))
    mira.get_by_role("button", name="How far we are").click()
    page.get_by_text("7 at work").wait_for()
    room_server.kill()
    page.get_by_text("goes on by itself").wait_for()
    assert page.get_by_text("7 at work").count() == 1
    again = Server(held.path, room_server.port)
    try:
        # Its key was of that opening, as the trainer's was.
        page.get_by_text("the link that stands on the trainer's page").wait_for()
        late = screen(link(trainers(screen, again)))
        late.get_by_text("7 at work").wait_for()
    finally:
        again.kill()


def test_a_short_gap_is_nothing(screen: Open, room_server: Server) -> None:
    page = screen(link(trainers(screen, room_server)))
    page.get_by_text(room_server.address).wait_for()
    page.context.set_offline(True)
    page.get_by_text("goes on by itself").wait_for()
    page.context.set_offline(False)
    page.get_by_text("goes on by itself").wait_for(state="hidden")
