"""A replay at the projector in a browser: led by keys on the trainer's page, read from the back."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from checked_by_axe import findings, needs_axe

from labkit.room.room import Room

sys.path.append(str(Path(__file__).parents[1] / "room"))
from by_protocol import Server
from replay_class import PEOPLE, dealt_class, measured

pytestmark = pytest.mark.browser
SHOTS = os.environ.get("LABKIT_SHOTS")
SCREENS = ((1920, 1080, "light"), (1366, 768, "dark"), (1920, 1080, "dark"), (1366, 768, "light"))
PLAYED_MS = 120_000
Open = Callable[..., Any]


@pytest.fixture
def server(tmp_path: Path) -> Iterator[Server]:
    """A room in which seven measured at their benches."""
    folder = dealt_class(tmp_path)
    measured(Room(folder))
    opened = Server(folder.path)
    yield opened
    opened.kill()


def looked_at(pages: list[Any], name: str) -> None:
    """Each screen is read by axe; nothing is wider than it, and nothing lies below it."""
    for page, (width, height, theme) in zip(pages, SCREENS, strict=False):
        if SHOTS:
            page.screenshot(path=Path(SHOTS) / f"replay-{name}-{width}-{theme}.png")
        assert findings(page) == [], name
        assert page.evaluate("document.documentElement.scrollWidth") <= width
        assert page.evaluate("document.documentElement.scrollHeight") <= height, name


def test_a_class_guesses_and_is_shown_what_each_would_have_told(
    devices: Open, server: Server
) -> None:
    needs_axe()

    def opened(address: str, width: int, height: int, theme: str) -> Any:
        page = devices(width, height, color_scheme=theme, reduced_motion="reduce")
        page.goto(address)
        return page

    mira = opened(f"{server.address}/trainer#{server.key}", 1366, 768, "light")
    mira.get_by_label("Your name").fill("Mira")
    mira.get_by_role("button", name="Go to the room").click()
    mira.locator("summary").filter(has_text="Projector").click()
    link = mira.locator('a[href*="/projector#"]').get_attribute("href")
    pages = [opened(link, *size) for size in SCREENS[: 4 if SHOTS else 2]]
    one = pages[0]

    mira.get_by_role("button", name="Replay at the bench").click()
    mira.get_by_role("button", name="Next: ask the class").wait_for(timeout=PLAYED_MS)
    for page in pages:
        page.get_by_text("single faults are possible").wait_for()
    looked_at(pages, "start")

    mira.get_by_role("button", name="Next: ask the class").press("Enter")
    for page in pages:
        page.get_by_role("heading", name="What would you measure next?").wait_for()
        assert page.locator(".rp-choice").count() == 4
        # What they would show is nowhere on the page yet.
        assert page.locator(".rp-choice .rp-read").count() == 0
    looked_at(pages, "asked")

    # The focus is still on what leads on, whatever is written on it now.
    mira.get_by_role("button", name="Next: what it shows").wait_for()
    mira.keyboard.press("PageDown")
    for page in pages:
        page.get_by_role("heading", name="What each of them shows here").wait_for()
        assert page.get_by_text("this way").count() == 1
    looked_at(pages, "shown")
    mira.get_by_role("button", name="Cover again").wait_for()
    mira.keyboard.press("ArrowLeft")
    one.get_by_role("heading", name="What would you measure next?").wait_for()

    mira.get_by_role("button", name="To: By halving").click()
    one.get_by_role("heading", name="By halving").wait_for()
    while (further := mira.get_by_role("button", name="Next: By halving")).count():
        further.click()
        mira.wait_for_timeout(300)
    for page in pages:
        page.locator(".rp-named").wait_for()
    looked_at(pages, "halved")
    mira.get_by_role("button", name="Next: the ways side by side").click()
    for page in pages:
        page.get_by_role("heading", name="Others began so").wait_for()
        assert page.locator(".rp-sum").count() == 3
    looked_at(pages, "together")
    assert findings(mira) == []
    if SHOTS:
        mira.screenshot(path=Path(SHOTS) / "replay-trainer.png", full_page=True)
    for line in PEOPLE:
        assert line.partition(",")[2] not in one.content()
