"""The board's marks in a browser: sort, filter, open, why; marks put right, seen before."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from checked_by_axe import findings, needs_axe
from sqlalchemy import select
from tiny_class import MakeRoom, corrected
from tiny_class import Room as Class

from labkit.classroom.exports.sheet import write_sheets
from labkit.classroom.marks.by_hand import give
from labkit.classroom.marks.scoring import score
from labkit.classroom.records.schema import editions, manual, voids
from labkit.classroom.records.store import Records

pytestmark = pytest.mark.browser
SHOTS = os.environ.get("LABKIT_SHOTS")
PEOPLE = 104
LOOKED_AT = "document.dispatchEvent(new Event('visibilitychange'))"
SERVED = """
import sys
from pathlib import Path
from labkit.board.serving import serve_board
serve_board(Path(sys.argv[1]), lambda at: print(at, flush=True), port=0, browser=False)
"""
Open = Callable[..., Any]


@pytest.fixture
def scored(make_room: MakeRoom) -> Class:
    """A large class of whom three handed in: Ann all right, Ben and Cy with a known mistake."""
    more = [f"p{number:03},Person {number}" for number in range(PEOPLE - 3)]
    room = make_room("ann,Ann Orrel", "ben,Ben Tasker", "cy,Cy Morland", *more, pass_mark="20")
    room.deal()
    room.hand_in("ann")
    room.hand_in("ben", {**wrong(room, "ben"), "parity": room.right("ben")["parity"]})
    room.hand_in("cy", wrong(room, "cy"), hints=1)
    write_sheets(score(room.folder), room.folder.scores)
    return room


def wrong(room: Class, who: str) -> dict[str, str]:
    return {"double": f"{2 * room.number(who) + 1} m"}


@pytest.fixture
def board(scored: Class) -> Iterator[str]:
    """The address of a board over that class."""
    command = [sys.executable, "-c", SERVED, str(scored.path.parent)]
    running = subprocess.Popen(command, stdout=subprocess.PIPE, text=True)
    assert running.stdout
    yield running.stdout.readline().strip()
    running.terminate()
    running.wait(120)


@pytest.fixture
def trainer(devices: Open, board: str) -> Open:
    """Opens the page of the class's marks, signed in."""

    def opened(name: str = "Mira", *, width: int = 1366, dark: bool = False, at: str = "") -> Any:
        here, scheme = board.split("/#")[0], "dark" if dark else "light"
        page = devices(width, 900, here=here, color_scheme=scheme)
        page.goto(board)
        page.get_by_label("Your name").fill(name)
        page.get_by_role("button", name="Go on").click()
        page.get_by_role("heading", name="Classes").wait_for()
        page.goto(f"{here}/class/class/marks{at}")
        return page

    return opened


def shot(page: Any, name: str) -> None:
    if SHOTS:
        page.screenshot(path=Path(SHOTS) / f"board-marks-{name}.png", full_page=True)


def names(page: Any, first: int = 3) -> list[str]:
    return list(page.locator(".ms-table tbody a").all_inner_texts()[:first])


def entries(room: Class, table: Any) -> list[dict[str, Any]]:
    return [dict(row) for row in Records.of(room.folder).rows(select(table).order_by(table.c.id))]


def no_wider_than_the_screen(page: Any) -> None:
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")


def test_the_table_is_sorted_filtered_and_searched_by_keys(trainer: Open) -> None:
    needs_axe()
    page = trainer()
    page.get_by_text(f"{PEOPLE} people", exact=True).wait_for()
    page.locator(".ms-table tbody tr").nth(PEOPLE - 1).wait_for(state="attached")
    assert findings(page) == []
    shot(page, "table")
    column = page.get_by_role("columnheader", name="Tiny lab")
    assert column.get_attribute("aria-sort") == "none"
    column.get_by_role("button").press("Enter")
    # What is not known comes last, up and down.
    assert column.get_attribute("aria-sort") == "ascending"
    assert names(page) == ["Cy Morland", "Ben Tasker", "Ann Orrel"]
    page.keyboard.press("Enter")
    assert column.get_attribute("aria-sort") == "descending"
    assert names(page) == ["Ann Orrel", "Ben Tasker", "Cy Morland"]
    page.get_by_label("Show").select_option(label="Below the pass mark (2)")
    page.get_by_text(f"2 of {PEOPLE} people").wait_for()
    assert names(page) == ["Ben Tasker", "Cy Morland"]
    page.get_by_label("Show").select_option("all")
    page.get_by_label("Find a person").fill("P007")
    page.get_by_text(f"1 of {PEOPLE} people").wait_for()
    assert names(page) == ["Person 7"]
    assert page.locator(".ms-table tbody").get_by_text("0 %").count() == 0
    page.get_by_label("Find a person").fill("nobody")
    page.get_by_text(f"0 of {PEOPLE} people").wait_for()


def test_a_person_an_answer_and_the_way_back(trainer: Open) -> None:
    needs_axe()
    page = trainer(dark=True)
    page.get_by_role("link", name="Ben Tasker").press("Enter")
    page.get_by_role("heading", name="Ben Tasker (ben)").wait_for()
    page.get_by_text("You counted one more").wait_for()
    shot(page, "person-dark")
    assert findings(page) == []
    page.get_by_role("link", name="1. Double it").press("Enter")
    page.get_by_role("heading", name="Why this mark").wait_for()
    page.get_by_role("heading", name="A right answer").wait_for()
    page.get_by_text("0 of 4 marks").wait_for()
    shot(page, "answer-dark")
    assert findings(page) == []
    # It has an address of its own, and back goes where one came from.
    page.reload()
    page.get_by_role("heading", name="Why this mark").wait_for()
    page.go_back()
    page.get_by_role("heading", name="Ben Tasker (ben)").wait_for()
    page.go_back()
    page.get_by_role("link", name="Ben Tasker").wait_for()
    assert page.evaluate("document.activeElement.textContent") == "Ben Tasker"


def test_a_page_left_open_is_right_again_or_says_that_it_is_old(
    trainer: Open, scored: Class
) -> None:
    page = trainer()
    page.locator(".ms-table tbody tr").nth(PEOPLE - 1).wait_for(state="attached")
    page.get_by_role("link", name="Ben Tasker").focus()
    give(scored.folder, "ben", "tiny", "plan", ["1"], by="Quin", note="On paper.")
    page.evaluate(LOOKED_AT)
    page.get_by_text("50.0 %").wait_for()
    page.locator("a[data-person='ben']:focus").wait_for()
    page.context.clear_cookies()
    page.evaluate(LOOKED_AT)
    page.get_by_text("What stands here may be old.").wait_for()
    page.get_by_text("50.0 %").wait_for()


def test_an_exercise_is_taken_out_and_brought_back(trainer: Open, scored: Class) -> None:
    needs_axe()
    page = trainer(at="?right")
    page.get_by_label("Exercise").select_option(label="1. Double it")
    page.get_by_role("button", name="See what taking it out changes").click()
    page.get_by_text("1 person would cross the pass mark of 20 %:").wait_for()
    page.get_by_text("Ben Tasker (ben), whole class: 12.5 → 25.0 %").wait_for()
    assert findings(page) == []
    shot(page, "void")
    assert entries(scored, voids) == []
    page.get_by_label("Why (it stays in the records)").fill("The drawing was wrong.")
    page.keyboard.press("Enter")
    page.get_by_text("It is done, and in the records.").wait_for()
    page.get_by_text("taken out of the marks by Mira: The drawing was wrong.").wait_for()
    assert [row["voided"] for row in entries(scored, voids)] == [True]
    shot(page, "void-done")
    page.get_by_label("Exercise").select_option(label="1. Double it (taken out)")
    page.get_by_role("button", name="See what bringing it back changes").click()
    page.get_by_text("Nothing is written yet.").wait_for()
    page.get_by_role("button", name="Leave it").click()
    assert [row["voided"] for row in entries(scored, voids)] == [True]
    page.get_by_role("button", name="See what bringing it back changes").click()
    page.get_by_label("Why (it stays in the records)").fill("It was right.")
    page.get_by_role("button", name="Do it").click()
    page.get_by_text("brought back into the marks by Mira").wait_for()
    page.get_by_role("link", name="All people").click()
    page.get_by_role("columnheader", name="Tiny lab").wait_for()
    assert page.get_by_text("sheets and pages have not").count() == 0


def test_a_corrected_text_and_what_changed_meanwhile(trainer: Open, scored: Class) -> None:
    page = trainer(width=400, at="?right")
    file = corrected(scored, ("answer: twice\n", "answer: twice + 1\n")) / "lab.md"
    page.get_by_label("The corrected text").set_input_files(file)
    page.get_by_role("button", name="See what would change").first.click()
    page.get_by_text("people would cross the pass mark of 20 %:").wait_for()
    give(scored.folder, "ben", "tiny", "plan", ["1"], by="Quin", note="On paper.")
    page.get_by_label("Why (it stays in the records)").fill("The answer was wrong.")
    page.get_by_role("button", name="Do it").click()
    page.get_by_text("meanwhile a mark was given by hand").wait_for()
    no_wider_than_the_screen(page)
    shot(page, "meanwhile-narrow")
    assert len(entries(scored, editions)) == 1


def test_a_mark_is_put_right_by_hand_once_it_was_seen(trainer: Open, scored: Class) -> None:
    needs_axe()
    page = trainer(at="?person=ben")
    page.get_by_role("link", name="3. Three addresses").click()
    page.get_by_text("Put this mark right by hand").click()
    page.get_by_role("button", name="See what it changes").click()
    page.get_by_text("Give points for each item first.").wait_for()
    page.get_by_role("button", name="3 of 3", exact=True).click()
    page.get_by_role("button", name="See what it changes").click()
    page.get_by_text("To put that right, say why").wait_for()
    page.get_by_label("Why (the trainee reads it)").fill("Shown on paper.")
    page.get_by_role("button", name="See what it changes").click()
    page.get_by_text("whole class: 12.5 → 50.0 %, not passed → passed").wait_for()
    assert findings(page) == []
    shot(page, "by-hand")
    assert entries(scored, manual) == []
    give(scored.folder, "ben", "tiny", "plan", ["0.5"], by="Quin", note="Half of it.")
    page.get_by_role("button", name="Give this mark").click()
    page.get_by_text("Yours is not saved.").wait_for()
    page.get_by_role("button", name="Give mine instead").click()
    page.get_by_role("button", name="Give this mark").click()
    page.get_by_text("Saved: ").wait_for()
    page.get_by_text("Mira gave 100 %").wait_for()
    assert [row["by"] for row in entries(scored, manual)] == ["Quin", "Mira"]
    page.get_by_role("link", name="Ben Tasker").click()
    page.get_by_role("link", name="All people").click()
    page.get_by_text("sheets and pages have not").wait_for()
    page.get_by_role("button", name="Write sheets and pages anew").click()
    page.get_by_text("sheets and pages have not").wait_for(state="detached")


def test_on_a_narrow_screen_names_stay_while_columns_move(trainer: Open) -> None:
    page = trainer(width=400)
    page.get_by_role("link", name="Ann Orrel").wait_for()
    no_wider_than_the_screen(page)
    shot(page, "table-narrow")
    page.locator(".ms-scroll").evaluate("(node) => node.scrollTo(200, 600)")
    left = page.locator(".ms-scroll").bounding_box()["x"]
    assert page.locator(".ms-table tbody th").first.bounding_box()["x"] == pytest.approx(
        left, abs=2
    )
    head = page.get_by_role("columnheader", name="Person").bounding_box()["y"]
    top = page.locator(".ms-scroll").bounding_box()["y"]
    assert head == pytest.approx(top, abs=2)
