"""The debrief at the board, in a browser: read in one look, scored, the test after dealt; axe."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from board_server import running_board
from checked_by_axe import findings, needs_axe
from tiny_class import MakeRoom
from tiny_class import Room as Class

pytestmark = pytest.mark.browser
SHOTS = os.environ.get("LABKIT_SHOTS")
Open = Callable[..., Any]
HOSTILE = "<img src=x onerror=alert(1)> " + "Long" * 40


@pytest.fixture
def made(make_room: MakeRoom) -> Class:
    """A test before and after: two of three handed in, nothing is scored."""
    labs = "[{lab: tiny, before_and_after: yes}]"
    made = make_room("ann,Ann Orrel", "ben,Ben Tasker", f"x,{HOSTILE}", labs=labs)
    made.deal()
    # Copied at the deal, so the board needs no other library.
    for who in ("ann", "ben"):
        made.hand_in(who, {"double": f"{2 * made.number(who) + 1} m"})
    return made


@pytest.fixture
def address(made: Class) -> Iterator[str]:
    """Where the board over the class's folder is, with the key."""
    with running_board(made.path.parent) as found:
        yield found


def opened(devices: Open, address: str, width: int = 1366, *, dark: bool = False) -> Any:
    here, _, key = address.partition("#")
    page = devices(width, here=here, color_scheme="dark" if dark else "light")
    page.goto(f"{here}class/class/debrief#{key}")
    page.get_by_role("button", name="Go on").click()
    page.get_by_role("heading", name="Room 7").wait_for()
    return page


def test_scored_read_in_one_look_and_the_test_after_is_dealt(
    devices: Open, address: str, made: Class
) -> None:
    page = opened(devices, address)
    page.get_by_text("Not scored yet").wait_for()
    page.get_by_role("button", name="Score what came in").press("Enter")
    again = page.get_by_role("heading", name="What to teach again")
    again.wait_for()
    # One look: the three questions stand on a laptop's first screen, figures are folded.
    for words in ("What to teach again", "Who needs a word", "Is the lab itself at fault?"):
        assert page.get_by_role("heading", name=words).bounding_box()["y"] < 500
    assert page.get_by_text("Two of two made this mistake.").is_visible()
    # The hostile name is read as it was typed; `devices` would see its picture being asked for.
    assert page.get_by_text("Not handed in").locator("..").inner_text().endswith(f"{HOSTILE}.")
    assert not page.locator("svg").first.is_visible()
    page.get_by_text("Results: how they are spread").press("Enter")
    assert page.locator("svg").first.is_visible()
    # What comes in later is told, and what stands there stays.
    made.hand_in("x")
    page.evaluate("document.dispatchEvent(new Event('visibilitychange'))")
    page.get_by_text("One hand-in came in since: score again").wait_for()
    page.get_by_role("button", name="Score again").click()
    page.get_by_text("One hand-in came in since").wait_for(state="detached")
    page.get_by_role("button", name="Deal the test after to 3 people").click()
    page.get_by_text("Everybody who has the test before is dealt the test after.").wait_for()
    assert len(made.dealt.dealt) == 6
    with page.context.expect_page() as other:
        page.get_by_role("link", name="To print or to show").click()
    printed = other.value
    printed.get_by_role("heading", name="What to teach again").wait_for()
    assert HOSTILE not in printed.content()


@pytest.mark.parametrize(("width", "dark"), [(1366, False), (400, True)])
def test_the_page_fits_and_hinders_nobody(
    devices: Open, address: str, width: int, dark: bool
) -> None:
    needs_axe()
    page = opened(devices, address, width, dark=dark)
    page.get_by_role("button", name="Score what came in").click()
    page.get_by_role("heading", name="What to teach again").wait_for()
    for summary in page.locator("summary").all():
        summary.click()
    assert findings(page) == []
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    if SHOTS:
        name = f"debrief-{width}-{'dark' if dark else 'light'}.png"
        page.screenshot(path=Path(SHOTS) / name, full_page=True)
    here = address.partition("#")[0]
    for name in ("debrief", "analysis", "gain"):
        page.goto(f"{here}class/class/debrief/{name}.html")
        for summary in page.locator("summary").all():
            summary.click()
        assert findings(page) == [], name
        assert page.evaluate("document.documentElement.scrollWidth") <= width, name
