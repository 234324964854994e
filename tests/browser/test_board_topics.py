"""Topics by people at the board, in a browser: read by signs and words, in light and dark; axe."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from board_server import running_board
from checked_by_axe import findings, needs_axe
from set_clock import SetClock
from tiny_class import MakeRoom, Room
from topic_class import MONDAY, TUESDAY, drilled, with_topics

pytestmark = pytest.mark.browser
SHOTS = os.environ.get("LABKIT_SHOTS")
Open = Callable[..., Any]
HOSTILE = "<img src=x onerror=alert(1)> " + "Long" * 20
PEOPLE = ["Ann Orrel", "Ben Tasker", "Cy Morland", "Dee Varga", HOSTILE]


@pytest.fixture
def made(make_room: MakeRoom, clock: SetClock) -> Room:
    """Ann's topic sits, Ben needs another day, Cy has two right, Dee was wrong last."""
    made = with_topics(make_room, *(f"p{n},{name}" for n, name in enumerate(PEOPLE)))
    made.deal()
    for draw in range(1, 5):
        clock.set(MONDAY.format(draw))
        if draw < 4:
            drilled(made, "p0", f"d{draw}", 1.0)
            drilled(made, "p1", f"d{draw}", 1.0)
        if draw < 3:
            drilled(made, "p2", f"d{draw}", 1.0)
        drilled(made, "p3", f"d{draw}", 1.0 if draw < 4 else 0.0)
    clock.set(TUESDAY.format(1))
    drilled(made, "p0", "d4", 1.0)
    return made


@pytest.fixture
def address(made: Room) -> Iterator[str]:
    with running_board(made.path.parent) as found:
        yield found


def opened(devices: Open, address: str, width: int = 1366, *, dark: bool = False) -> Any:
    here, _, key = address.partition("#")
    page = devices(width, here=here, color_scheme="dark" if dark else "light")
    page.goto(f"{here}class/class/topics#{key}")
    page.get_by_role("button", name="Go on").click()
    page.get_by_role("heading", name="Topics by people").wait_for()
    return page


def row(page: Any, name: str) -> list[str]:
    """What a person's row says, as it is read: the topics' cells."""
    cells = page.get_by_role("row").filter(has_text=name).first.get_by_role("cell")
    return [" ".join(text.split()) for text in cells.all_inner_texts()]


def test_each_state_is_read_without_colours_and_looked_at_again(
    devices: Open, address: str, made: Room
) -> None:
    page = opened(devices, address)
    heads = page.get_by_role("columnheader").all_inner_texts()
    assert heads == ["Name", "Node addresses", "Voltage drop"]
    stands = {name: row(page, name)[1] for name in PEOPLE[:4]}
    assert stands["Ann Orrel"].startswith("✓ sits since ")
    assert stands["Ben Tasker"] == "●●● one more, another day"
    assert stands["Cy Morland"] == "●●○ 2 of 3"
    assert stands["Dee Varga"] == "○○○ 0 of 3"
    assert row(page, HOSTILE[:12])[1].startswith("–")
    assert page.get_by_role("row").last.get_by_role("cell").last.inner_text() == "1 of 5"
    drilled(made, "p2", "d9", 1.0)
    page.get_by_role("button", name="Look again").press("Enter")
    page.get_by_text("2 of 3", exact=True).wait_for(state="detached")
    assert row(page, "Cy Morland")[1] != "●●○ 2 of 3"


def test_a_class_without_a_deal_or_topics_says_so(devices: Open, make_room: MakeRoom) -> None:
    made = make_room()
    with running_board(made.path.parent) as address:
        here, _, key = address.partition("#")
        page = devices(1366, here=here)
        page.goto(f"{here}class/class/topics#{key}")
        page.get_by_role("button", name="Go on").click()
        page.get_by_text("Nothing is dealt yet").wait_for()
        made.deal()
        page.goto(f"{here}class/class/topics")
        page.get_by_text("No practice lab of this class names a topic").wait_for()
        assert page.get_by_text("Labs whose text names no topic: Tiny lab.").is_visible()


@pytest.mark.parametrize(
    ("width", "dark"), [(1366, False), (1366, True), (400, False), (400, True)]
)
def test_the_page_fits_and_hinders_nobody(
    devices: Open, address: str, width: int, dark: bool
) -> None:
    needs_axe()
    page = opened(devices, address, width, dark=dark)
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    assert findings(page) == []
    if SHOTS:
        name = f"board-topics-{width}{'-dark' if dark else ''}.png"
        page.screenshot(path=Path(SHOTS) / name, full_page=True)
