"""The morning's warm-up on a trainee's page: begun, answered, one after the other; its lines."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from checked_by_axe import findings, needs_axe
from tiny_class import MakeRoom
from tiny_class import Room as Class
from topic_class import room_journal, with_topics

from labkit.exchange.clock import CLOCK, written
from labkit.exchange.journal import ANSWER
from labkit.room.room import Room

sys.path.append(str(Path(__file__).parents[1] / "room"))
from by_protocol import Server

pytestmark = pytest.mark.browser
SHOTS = os.environ.get("LABKIT_SHOTS")
Open = Callable[..., Any]
TRIPLE = """
```exercise triple
kind: quantity
title: Triple it
topic: cable lengths
question: What is three times {{ a }} m?
answer: 3 * a
unit: m
tolerance: 0
decimals: 0
marks: 1
working: 3 · {{ a }} m = **{{ 3 * a }} m**.
```
"""
RIGHT = '.pg-one .lk-exercise[data-verdict="right"]'


@pytest.fixture
def held(make_room: MakeRoom, monkeypatch: pytest.MonkeyPatch) -> Class:
    """Ann had three exercises wrong on an earlier day, one without numbers; Ben did nothing."""
    made = with_topics(make_room)
    file = made.library / "tiny" / "lab.md"
    file.write_text(file.read_text("utf-8") + TRIPLE, encoding="utf-8")
    made.deal()
    with monkeypatch.context() as patch:
        earlier = datetime.now(UTC) - timedelta(days=2)
        patch.setattr(CLOCK, "moment", lambda: earlier)
        assert CLOCK.now() == written(earlier)
        journal = room_journal(made, "ann")
        journal.append(ANSWER, exercise="double", answer="1 mm", token="a")
        journal.append(ANSWER, exercise="plan", answer={"pump": "0"}, token="b")
        journal.append(ANSWER, exercise="triple", answer="1 mm", token="c")
    return made


@pytest.fixture
def room_server(held: Class) -> Iterator[Server]:
    server = Server(held.path)
    yield server
    server.kill()


@pytest.fixture
def sits(devices: Open, room_server: Server, held: Class) -> Open:
    """Somebody on a device of their own, at the first page."""

    def seated(trainee: str, width: int = 1366, *, dark: bool = False) -> Any:
        theme = "dark" if dark else "light"
        page = devices(width, 720, here=room_server.address, color_scheme=theme)
        page.goto(f"{room_server.address}/#{Room(held.folder).on_cards[trainee]}")
        page.get_by_role("button", name="Join").click()
        page.get_by_text("You are").wait_for()
        return page

    return seated


def answers(page: Any, times: int) -> None:
    """Type the right answer of the one more that is shown; its number stands in its question."""
    place = page.locator(".pg-one")
    words = place.locator(".lk-question").inner_text()
    number = int("".join(letter for letter in words if letter.isdigit()))
    place.get_by_label("Your answer").fill(f"{times * number} m")
    place.get_by_role("button", name="Check my answer").click()
    page.locator(RIGHT).wait_for()


def test_from_the_first_page_through_all_questions(sits: Open) -> None:
    page = sits("ann")
    warm_up = page.get_by_role("region", name="Warm-up")
    assert warm_up.get_by_text("Two questions from your mistakes of").is_visible()
    assert warm_up.get_by_role("listitem").count() == 2
    warm_up.get_by_role("link", name="Begin").press("Enter")
    onwards = page.get_by_role("link", name="Warm-up: next question")
    page.locator(".pg-one .lk-exercise").wait_for()
    answers(page, 3)
    topic = page.locator(".pg-one .lk-topic")
    assert topic.inner_text() == "Cable lengths: 1 of 3 right at once, in a row."
    if SHOTS:
        page.screenshot(path=Path(SHOTS) / "warm-up-question.png", full_page=True)
    onwards.click()
    page.locator(".pg-one .lk-exercise").get_by_text("Double it").wait_for()
    answers(page, 2)
    assert topic.inner_text() == "Voltage drop: 1 of 3 right at once, in a row."
    onwards.click()
    page.get_by_text("All answered.").wait_for()
    assert page.get_by_text("✓ right").count() == 2
    # One more of it is drawn by its own link; without the warm-up the page's head has no way to it.
    page.get_by_role("link", name="Triple it").click()
    page.locator(".pg-one .lk-exercise").wait_for()
    page.get_by_role("link", name="All labs").click()
    page.get_by_role("link", name="Go on").click()
    page.get_by_role("button", name="Ask your instructor").wait_for()
    assert not onwards.is_visible()
    assert page.locator(".pg-one .lk-exercise").count() == 0


def test_who_made_no_mistake_is_offered_none(sits: Open) -> None:
    page = sits("ben")
    page.get_by_role("link", name="Begin").wait_for()
    assert page.get_by_text("Warm-up").count() == 0
    # The line stands below an own answer too.
    page.get_by_role("link", name="Begin").click()
    page.get_by_label("Your answer").fill("1 mm")
    page.keyboard.press("Enter")
    page.get_by_text("Voltage drop: 0 of 3 right at once, in a row.").wait_for()


@pytest.mark.parametrize(
    ("width", "dark"), [(1366, False), (1366, True), (400, False), (400, True)]
)
def test_the_first_page_fits_and_hinders_nobody(sits: Open, width: int, dark: bool) -> None:
    needs_axe()
    page = sits("ann", width, dark=dark)
    page.get_by_role("region", name="Warm-up").wait_for()
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    assert findings(page) == []
    if SHOTS:
        name = f"warm-up-{width}{'-dark' if dark else ''}.png"
        page.screenshot(path=Path(SHOTS) / name, full_page=True)
