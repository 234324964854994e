"""A pause and messages in browsers: what pages say and lock, what the trainer sees of it."""

from __future__ import annotations

import json
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
RIGHT = '.lk-exercise[data-verdict="right"]'


@pytest.fixture
def held(make_room: MakeRoom) -> Class:
    """Three people; the lab is practised."""
    made = make_room()
    made.deal()
    return made


@pytest.fixture
def server(held: Class) -> Iterator[Server]:
    running = Server(held.path)
    yield running
    running.kill()


class Room3:
    """The trainer and two trainees, each at a device of their own."""

    def __init__(self, devices: Callable[..., Any], server: Server, held: Class) -> None:
        self._devices, self._server, self._held = devices, server, held
        self._codes = Room(held.folder).on_cards

    def page(self) -> Any:
        return self._devices(1366, 720)

    def trainer(self) -> Any:
        page = self.page()
        page.goto(f"{self._server.address}/trainer#{self._server.key}")
        page.get_by_label("Your name").fill("Mira")
        page.get_by_role("button", name="Go to the room").click()
        page.get_by_role("heading", name="Room 7").wait_for()
        return page

    def joined(self, trainee: str, page: Any | None = None) -> Any:
        page = page or self.page()
        page.goto(f"{self._server.address}/#{self._codes[trainee]}")
        page.get_by_role("button", name="Join").click()
        page.get_by_text("You are").wait_for()
        return page

    def at_work(self, trainee: str, page: Any | None = None) -> Any:
        page = self.joined(trainee, page)
        page.get_by_role("link", name="Begin").click()
        page.get_by_label("Your answer").wait_for()
        return page


@pytest.fixture
def room(devices: Callable[..., Any], server: Server, held: Class) -> Room3:
    return Room3(devices, server, held)


def looked_at(page: Any, name: str) -> None:
    """By axe, light and dark, wide and narrow; pictures of what people see."""
    for width in (1366, 400):
        page.set_viewport_size({"width": width, "height": 720})
        for theme in ("light", "dark"):
            page.emulate_media(color_scheme=theme)
            assert findings(page) == [], (name, width, theme)
            broad = page.evaluate("document.documentElement.scrollWidth - innerWidth")
            assert broad <= 0, (name, width)
            if SHOTS:
                page.screenshot(path=Path(SHOTS) / f"acts-{name}-{width}-{theme}.png")
    page.set_viewport_size({"width": 1366, "height": 720})
    page.emulate_media(color_scheme="light")


def answers(held: Class) -> list[Any]:
    lines = (held.folder.journals / "ann" / "tiny.answers.jsonl").read_text("utf-8").splitlines()
    entries = map(json.loads, lines)
    return [entry["answer"] for entry in entries if entry["event"] == "answer"]


def test_a_pause_is_said_and_locks_what_was_typed_stays_and_it_goes_on(
    room: Room3, held: Class
) -> None:
    needs_axe()
    mira, ann = room.trainer(), room.at_work("ann")
    mira.get_by_label("Ends in …").select_option("30")
    ann.get_by_text("min left").wait_for()
    field, good = ann.get_by_label("Your answer"), held.right("ann")["double"]
    field.fill(good)
    # With the keys alone: what the pages say, then Enter.
    mira.get_by_label("What their pages say").focus()
    mira.keyboard.type("Fire alarm: leave the room.")
    mira.keyboard.press("Enter")
    bar = ann.locator(".pg-paused")
    bar.get_by_text("Fire alarm: leave the room.").wait_for()
    bar.get_by_text("Your time stands still.").wait_for()
    ann.get_by_role("timer").get_by_text("time stands still").wait_for()
    # The keys were in the field: they change nothing now, and no press does.
    ann.keyboard.type("99")
    ann.keyboard.press("Enter")
    assert field.input_value() == good
    for locked in (".lk-area", ".lk-buttons"):
        assert ann.locator(f"{locked}").first.evaluate("each => each.inert")
    before = ann.get_by_role("timer").inner_text()
    looked_at(ann, "paused")
    mira.get_by_text("“Fire alarm: leave the room.”").first.wait_for()
    looked_at(mira, "trainer-paused")
    # Others may be read; they are locked as well, and the last place hands nothing in.
    ann.get_by_role("link", name="Even or odd").click()
    ann.get_by_role("heading", name="2. Even or odd").wait_for()
    assert ann.locator(".pg-stage .lk-area").evaluate_all(
        "all => all.map((each) => each.inert)"
    ) == [True]
    ann.get_by_role("link", name="Hand in").first.click()
    ann.get_by_text("Your instructor paused this lab: Fire alarm").wait_for()
    assert not ann.get_by_role("button", name="Hand in").is_visible()
    # Reloaded in the pause the draft is there, locked; and somebody who comes now sees it too.
    ann.get_by_role("link", name="Double it").first.click()
    ann.reload()
    bar.wait_for()
    assert field.input_value() == good
    assert ann.get_by_role("timer").inner_text() == before
    ben = room.joined("ben")
    ben.get_by_text("Your instructor paused this lab: Fire alarm").wait_for()
    ben.get_by_role("link", name="Look at it").click()
    ben.locator(".pg-paused").wait_for()
    assert answers(held) == []
    mira.get_by_role("button", name="Go on with Tiny lab").press("Enter")
    bar.get_by_text("It goes on.", exact=True).wait_for()
    field.press("Enter")
    ann.locator(RIGHT).wait_for()
    assert answers(held) == [good]
    assert "stands still" not in ann.get_by_role("timer").inner_text()
    bar.wait_for(state="hidden")
    looked_at(ann, "goes-on")


def test_an_answer_on_its_way_into_a_pause_is_not_said_to_be_saved_and_is_afterwards(
    room: Room3, held: Class
) -> None:
    mira, page = room.trainer(), room.page()
    ways: list[Any] = []

    def deaf(way: Any) -> None:
        # What the room tells by itself comes late; what she says goes through at once.
        to_room = way.connect_to_server()
        way.on_message(to_room.send)
        to_room.on_message(lambda told: None if "news" in told and late else way.send(told))
        ways.append(way)

    late = True
    page.route_web_socket("**/talk", deaf)
    ann = room.at_work("ann", page)
    mira.get_by_role("button", name="Pause", exact=True).click()
    mira.get_by_role("button", name="Go on with Tiny lab").wait_for()
    good = held.right("ann")["double"]
    ann.get_by_label("Your answer").fill(good)
    ann.keyboard.press("Enter")
    status = ann.locator(".lk-status")
    status.filter(has_text="Not saved: Your instructor paused this lab.").wait_for()
    assert answers(held) == []
    if SHOTS:
        ann.screenshot(path=Path(SHOTS) / "acts-on-its-way.png")
    late = False
    ways[-1].send(json.dumps({"news": True}))
    ann.locator(".pg-paused").wait_for()
    assert ann.get_by_label("Your answer").input_value() == good
    mira.get_by_role("button", name="Go on with Tiny lab").click()
    # By itself: what was on its way needs no second press.
    ann.locator(RIGHT).wait_for()
    assert answers(held) == [good]


def test_a_message_stays_until_it_is_put_away_and_nobody_else_sees_it(room: Room3) -> None:
    needs_axe()
    mira, ann, ben = room.trainer(), room.at_work("ann"), room.joined("ben")
    text = "Look at the caution first <b>again</b>."
    mira.get_by_text("Messages", exact=True).click()
    mira.get_by_label("Ann Orrel", exact=True).check()
    mira.get_by_label("Message", exact=True).fill(text)
    mira.keyboard.press("Tab")
    mira.keyboard.press("Enter")
    sent = mira.get_by_label("Messages sent").get_by_role("listitem")
    sent.get_by_text("nobody has read it yet").wait_for()
    assert mira.get_by_label("Message", exact=True).input_value() == ""
    told = ann.locator(".pg-message").filter(has_text=text)
    told.wait_for()
    assert ann.get_by_label("From your instructor").get_attribute("aria-live") == "polite"
    # It is not in the way of who is typing.
    ann.get_by_label("Your answer").fill("1 m")
    ann.reload()
    told.wait_for()
    # To all: it comes to the first page too.
    mira.get_by_label("Message", exact=True).fill("Ten more minutes.")
    mira.get_by_role("button", name="Send to everybody").click()
    ben.get_by_text("Ten more minutes.").wait_for()
    assert ben.get_by_text(text).count() == 0
    ann.get_by_text("Ten more minutes.").wait_for()
    looked_at(ann, "messages")
    looked_at(ben, "message-first-page")
    ann.get_by_role("button", name="Read").first.press("Enter")
    told.wait_for(state="detached")
    # The keys go on to the next one.
    ann.keyboard.press("Enter")
    ann.locator(".pg-message").wait_for(state="detached")
    ben.get_by_role("button", name="Read").click()
    ben.locator(".pg-message").wait_for(state="detached")
    sent.last.get_by_text("read", exact=True).wait_for()
    all_of_it = sent.first.get_by_text("read by Ann Orrel, Ben Tasker · not yet by Cy Morland")
    all_of_it.wait_for()
    looked_at(mira, "trainer-messages")
    mira.get_by_role("button", name="Take back: Ten more minutes.").click()
    sent.first.get_by_text("taken back").wait_for()
    cy = room.joined("cy")
    assert cy.locator(".pg-message").count() == 0


def test_what_is_being_written_is_not_lost_when_the_trainers_page_is_shown_anew(
    room: Room3,
) -> None:
    mira = room.trainer()
    mira.get_by_text("Messages", exact=True).click()
    mira.get_by_label("Message", exact=True).focus()
    mira.keyboard.type("Look at ")
    room.at_work("ann")
    mira.get_by_text("1 of 3 here").wait_for()
    mira.keyboard.type("the lamp")
    assert mira.get_by_label("Message", exact=True).input_value() == "Look at the lamp"
