"""A class held from one machine, in browsers: from the card to the marks."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from tiny_class import MakeRoom
from tiny_class import Room as Class

from labkit.room.room import Room

sys.path.append(str(Path(__file__).parents[1] / "room"))
from by_protocol import Server

pytestmark = pytest.mark.browser
SHOTS = os.environ.get("LABKIT_SHOTS")
RIGHT = '.lk-exercise[data-verdict="right"]'
LOCKED_UP = "Your instructor closed this lab. What you saved is handed in."
Open = Callable[..., Any]


@pytest.fixture
def held(make_room: MakeRoom) -> Class:
    """Three people; the lab is practised."""
    made = make_room()
    made.deal()
    return made


@pytest.fixture
def room_server(held: Class) -> Iterator[Server]:
    server = Server(held.path)
    yield server
    server.kill()


@pytest.fixture
def device(devices: Open, room_server: Server) -> Open:
    """Opens a device of its own at a path of the room; nothing leaves it."""

    def opened(path: str = "/", *, width: int = 1366, theme: str = "light") -> Any:
        page = devices(width, 720, here=room_server.address, color_scheme=theme)
        page.goto(room_server.address + path)
        return page

    return opened


def shot(page: Any, name: str) -> None:
    if SHOTS:
        page.screenshot(path=Path(SHOTS) / f"room-{name}.png")


def codes(held: Class) -> dict[str, str]:
    return Room(held.folder).on_cards


def trainers(device: Open, room_server: Server) -> Any:
    """The trainer's page, signed in."""
    page = device(f"/trainer#{room_server.key}")
    page.get_by_label("Your name").fill("Mira")
    page.get_by_role("button", name="Go to the room").click()
    page.get_by_role("heading", name="Room 7").wait_for()
    return page


def joined(page: Any, code: str) -> None:
    """Join with the keyboard alone, as it is typed on a laptop."""
    page.get_by_label("six characters").wait_for()
    page.keyboard.type(code.lower())
    page.keyboard.press("Enter")


def answer(page: Any, text: str) -> None:
    page.get_by_label("Your answer").fill(text)
    page.keyboard.press("Enter")


def row(page: Any, name: str) -> Any:
    return page.get_by_role("row").filter(has_text=name)


def test_from_the_card_to_the_marks(device: Open, room_server: Server, held: Class) -> None:
    mira = trainers(device, room_server)
    row(mira, "Ann Orrel").get_by_text("not here").wait_for()
    ann = device()
    shot(ann, "join")
    joined(ann, codes(held)["ann"])
    ann.get_by_text("You are Ann Orrel").wait_for()
    shot(ann, "labs")
    ann.get_by_role("link", name="Begin").click()
    answer(ann, "1 m")
    ann.get_by_text("✗ Not right").wait_for()
    answer(ann, held.right("ann")["double"])
    ann.locator(RIGHT).wait_for()
    row(mira, "Ann Orrel").get_by_text("1 of 3").wait_for()
    shot(mira, "trainer")
    ann.get_by_role("link", name="Hand in").first.click()
    ann.get_by_role("button", name="Hand in").click()
    ann.get_by_text("receipt").first.wait_for()
    row(mira, "Ann Orrel").get_by_text("handed in").wait_for()
    mira.get_by_role("button", name="Release results").click()
    mira.get_by_text("results released").wait_for()
    # The page that was worked on hears of it.
    ann.get_by_text("4 of 8 marks").wait_for()
    shot(ann, "results")
    ann.locator('[data-went="parity"] a').click()
    ann.locator(".pg-result").get_by_text("No answer").wait_for()
    assert ann.get_by_text("Twice a whole number is even.").count() >= 1
    ann.goto(room_server.address)
    ann.get_by_role("link", name="Your results").click()
    with ann.expect_popup() as opened:
        ann.get_by_role("link", name="on one page").click()
    opened.value.get_by_role("heading", name="Double it").wait_for()


def test_who_has_no_card_is_let_in_by_a_tap(device: Open, room_server: Server) -> None:
    mira = trainers(device, room_server)
    ben = device(width=400, theme="dark")
    ben.get_by_role("button", name="I have no card").click()
    ben.get_by_label("Your name").fill("ben tasker")
    ben.keyboard.press("Enter")
    ben.get_by_text("Wait until you are let in").wait_for()
    shot(ben, "waits")
    # Whoever has that very name is chosen already.
    mira.get_by_role("button", name="Let in", exact=True).click()
    ben.get_by_text("You are Ben Tasker").wait_for()
    shot(ben, "labs-dark-narrow")


def test_closing_tells_the_page_hands_in_and_opening_goes_on(
    device: Open, room_server: Server, held: Class
) -> None:
    mira, ann = trainers(device, room_server), device(f"/#{codes(held)['ann']}")
    ann.get_by_role("button", name="Join").click()
    ann.get_by_role("link", name="Begin").click()
    answer(ann, "1 m")
    ann.get_by_text("✗ Not right").wait_for()
    mira.get_by_role("button", name="Close").click()
    ann.get_by_text(LOCKED_UP).first.wait_for()
    shot(ann, "closed")
    row(mira, "Ann Orrel").get_by_text("handed in").wait_for()
    answer(ann, "2 m")
    ann.get_by_text(f"Not saved: {LOCKED_UP}").wait_for()
    mira.get_by_role("button", name="Open").click()
    ann.locator(".pg-line").filter(has_text=LOCKED_UP).wait_for(state="hidden")
    answer(ann, held.right("ann")["double"])
    ann.locator(RIGHT).wait_for()


def test_a_second_device_goes_on_after_a_question(device: Open, held: Class) -> None:
    first = device(f"/#{codes(held)['ann']}")
    first.get_by_role("button", name="Join").click()
    first.get_by_role("link", name="Begin").click()
    answer(first, "1 m")
    first.get_by_text("✗ Not right").wait_for()
    second = device(f"/#{codes(held)['ann']}")
    second.get_by_role("button", name="Join").click()
    second.get_by_text("at work on another device").wait_for()
    shot(second, "question")
    second.get_by_role("button", name="Go on here").click()
    second.get_by_role("link", name="Go on").click()
    second.get_by_role("link", name="Double it").click()
    assert second.get_by_label("Your answer").input_value() == "1 m"
    first.get_by_text("join the class again").wait_for()
    shot(first, "seat-lost")


def test_the_room_is_killed_and_the_page_goes_on_by_itself(
    device: Open, room_server: Server, held: Class
) -> None:
    ann = device(f"/#{codes(held)['ann']}")
    ann.get_by_role("button", name="Join").click()
    ann.get_by_role("link", name="Begin").click()
    ann.get_by_label("Your answer").wait_for()
    room_server.kill()
    ann.get_by_text("does not answer").first.wait_for()
    answer(ann, held.right("ann")["double"])
    ann.get_by_text("Not saved yet").wait_for()
    shot(ann, "away")
    again = Server(held.path, room_server.port)
    try:
        ann.locator(RIGHT).wait_for()
        assert ann.get_by_text("does not answer").count() == 0
    finally:
        again.kill()


def test_wrong_characters_are_told_and_many_make_wait(device: Open) -> None:
    guest = device()
    for _ in range(3):
        guest.get_by_label("six characters").fill("000000")
        guest.keyboard.press("Enter")
        guest.get_by_text("Nobody of this class has that code").wait_for()
    guest.keyboard.press("Enter")
    guest.get_by_text("Too many wrong tries").wait_for()
