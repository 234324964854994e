"""The people of a class at the board, in a browser: a late one, a retake, another id, cards."""

from __future__ import annotations

import os
import shutil
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
    """A dealt class with a lab of its own, a column that labkit does not read, and a hard name."""
    made = make_room("ann,Ann Orrel", "ben,Ben Tasker", attempts_count="best")
    shutil.copytree(made.library / "tiny", made.path / "labs" / "tiny")
    roster = f"id,name,shift\nann,Ann Orrel,early\nben,Ben Tasker,late\nx,{HOSTILE},\n"
    (made.path / "roster.csv").write_text(roster, "utf-8")
    made.deal()
    return made


@pytest.fixture
def address(made: Class) -> Iterator[str]:
    """Where the board over the class's folder is, with the key."""
    with running_board(made.path.parent) as found:
        yield found


@pytest.fixture
def people(devices: Open, address: str) -> Open:
    """Opens the page of the class's people, signed in."""

    def opened(width: int = 1366, *, dark: bool = False) -> Any:
        here, _, key = address.partition("#")
        page = devices(width, here=here, color_scheme="dark" if dark else "light")
        page.goto(f"{here}class/class/people#{key}")
        page.get_by_role("button", name="Go on").click()
        page.get_by_role("heading", name="Room 7").wait_for()
        return page

    return opened


def shot(page: Any, name: str) -> None:
    if SHOTS:
        page.screenshot(path=Path(SHOTS) / f"people-{name}.png", full_page=True)


def row(page: Any, name: str) -> Any:
    return page.get_by_role("row").filter(has_text=name)


def test_a_late_one_is_dealt_tries_again_gets_another_id_and_a_card(
    people: Open, made: Class
) -> None:
    needs_axe()
    page = people()
    row(page, "Longlong").wait_for()
    assert page.locator("img").count() == 0
    assert findings(page) == []
    page.get_by_text("Somebody comes late").click()
    page.get_by_label("Id", exact=True).fill("ben")
    page.get_by_label("Name", exact=True).fill("Dee Quist")
    page.get_by_role("button", name="Add and deal").click()
    page.get_by_text("the id 'ben' is there already").wait_for()
    assert page.get_by_label("Name", exact=True).input_value() == "Dee Quist"
    page.get_by_label("Id", exact=True).fill("dee")
    shot(page, "late")
    page.get_by_role("button", name="Add and deal").click()
    page.get_by_text("1 dealt, 3 were dealt already.").wait_for()
    row(page, "Dee Quist").get_by_text("● dealt").wait_for()
    assert (made.path / "roster.csv").read_text("utf-8").endswith("\ndee,Dee Quist,\n")

    page.get_by_label("Find people").fill("quist dee")
    page.get_by_text("1 is found of 4").wait_for()
    page.get_by_label("Choose Dee Quist").check()
    page.get_by_role("button", name="Retake …").click()
    page.get_by_text("Dee Quist (dee), Tiny lab: attempt 2, nothing handed in so far").wait_for()
    page.get_by_text("The best attempt counts.").wait_for()
    assert findings(page) == []
    shot(page, "retake")
    page.get_by_role("button", name="Deal 1 retake").click()
    row(page, "Dee Quist").get_by_text("● dealt; Tiny lab: attempt 2").wait_for()

    page.get_by_role("button", name="Another id …").click()
    page.get_by_label("The id that is right").fill("dea")
    page.get_by_label("Why; it stays in the records").fill("misspelt")
    page.get_by_role("button", name="Look at it").click()
    page.get_by_text("roster.csv: dee becomes dea.").wait_for()
    page.get_by_text("Tiny lab, attempt 2, dealt to dee").wait_for()
    shot(page, "id")
    page.get_by_role("button", name="Change the id to dea").click()
    page.get_by_text("Dee Quist has the id dea now, before dee.").wait_for()

    page.get_by_text("On paper", exact=True).click()
    page.get_by_label("The room's address on the cards").select_option("another")
    page.get_by_label("The room's address", exact=True).fill("192.0.2.7:8642")
    page.get_by_role("button", name="Print cards").click()
    page.get_by_role("link", name="PDF").wait_for(timeout=120_000)
    shot(page, "paper")
    assert findings(page) == []
    with page.context.expect_page() as opened:
        page.get_by_role("link", name="Cards", exact=True).click()
    opened.value.get_by_text("192.0.2.7:8642").first.wait_for()


def test_a_thousand_people_come_in_pieces_and_fit_a_phone(people: Open, made: Class) -> None:
    roster = made.path / "roster.csv"
    lines = "".join(f"p{number},Person {number},\n" for number in range(1000))
    roster.write_text(roster.read_text("utf-8") + lines, "utf-8")
    page = people(400, dark=True)
    page.get_by_text("1003 people · 1000 not dealt yet").wait_for()
    rows = page.locator(".pp-table tbody tr")
    assert rows.count() == 100
    page.get_by_role("button", name="Show 100 more of 903").click()
    assert rows.count() == 200
    page.get_by_label("Find people").fill("p999")
    page.get_by_label("Choose Person 999").focus()
    page.keyboard.press("Space")
    page.locator(".pp-chosen").get_by_text("Person 999").wait_for()
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    shot(page, "phone-dark")
