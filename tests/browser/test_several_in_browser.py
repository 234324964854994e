"""Boxes to tick: by mouse, finger and keys, in both themes, on a telephone."""

from __future__ import annotations

import json
import os
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from bare_page import BarePage, bare_page_of
from checked_by_axe import findings, needs_axe
from dealt import Desk, drawn_desk
from test_practice_in_browser import LOW_CONTRAST, TOO_WIDE

from labkit.lab.draw import draw
from labkit.lab.reading import read_lab
from labkit.station.workbook import Workbook

pytestmark = pytest.mark.browser

LAB = Path(__file__).parents[1] / "lab" / "labs" / "several-right" / "lab.md"
SMALL = {"width": 400, "height": 760}


@dataclass
class Work:
    """An exercise on a page of its own."""

    page: Any
    desk: Desk
    bare: BarePage
    frame: Any
    name: str

    def saves(self, verdict: str, words: str = "") -> None:
        """Press the button, and wait for what is told."""
        self.frame.get_by_role("button", name="my answer").click()
        self.page.locator(f'[data-exercise="{self.name}"][data-verdict="{verdict}"]').wait_for()
        if words:
            self.frame.locator(".lk-feedback").get_by_text(words).first.wait_for()

    def looks_right(self) -> None:
        """Contrast, names, and nothing wider than its place, in both themes and on a telephone."""
        for size in ({"width": 1366, "height": 800}, SMALL):
            self.page.set_viewport_size(size)
            for theme in ("dark", "light"):
                self.bare.theme(theme)
                if folder := os.environ.get("LABKIT_SHOTS"):
                    shot = f"{self.name}-{theme}-{size['width']}.png"
                    self.page.screenshot(path=str(Path(folder) / shot), full_page=True)
                assert self.page.evaluate(LOW_CONTRAST)["found"] == []
                assert self.page.evaluate(TOO_WIDE) == []
        needs_axe()
        # The bare page has no heading of its own; everything else is the exercise's.
        own = [found for found in findings(self.page) if not found.startswith("page-has-heading")]
        assert own == []


@pytest.fixture
def work(browser: Any, tmp_path: Path) -> Iterator[Any]:
    """Puts an exercise on a page of its own."""
    context = browser.new_context(viewport={"width": 1366, "height": 800}, has_touch=True)

    def put_on(name: str, *, practice: bool = True) -> Work:
        scenario = draw(read_lab(LAB), "in the browser")
        desk = drawn_desk(scenario, tmp_path / f"desk-{practice}", practice=practice)
        page = context.new_page()
        bare = bare_page_of(page, Workbook.open(str(desk.task_file)))
        return Work(page, desk, bare, bare.put_on(name), name)

    yield put_on
    context.close()


def test_boxes_are_ticked_by_finger_mouse_and_keys(work: Any) -> None:
    one = work("too-much")
    solution = one.desk.solutions()["too-much"]
    boxes = one.frame.get_by_role("checkbox")
    letters = [box["id"] for box in solution.ask["boxes"]]
    one.saves("unreadable", "No box is ticked")
    # By finger on the words: that none is right, and another takes that back.
    one.frame.get_by_text("None of them", exact=True).tap()
    assert boxes.last.is_checked()
    boxes.first.focus()
    one.page.keyboard.press("Space")
    assert [boxes.first.is_checked(), boxes.last.is_checked()] == [True, False]
    one.page.keyboard.press("Tab")
    one.page.keyboard.press("Space")
    one.page.locator('[data-exercise="too-much"][data-verdict]').wait_for()
    wrong = next(letter for letter in letters if letter not in solution.right)
    for at, letter in enumerate(letters):
        boxes.nth(at).set_checked(letter in solution.right or letter == wrong)
    one.saves("wrong", f"{len(solution.right)} of the {len(solution.right)} right ones ticked")
    boxes.nth(letters.index(wrong)).uncheck()
    one.saves("right", "and no other")
    assert one.desk.on_disk("too-much")[-1] == solution.right
    one.looks_right()


def test_an_assessed_page_has_no_key(work: Any) -> None:
    one = work("too-much", practice=False)
    one.frame.get_by_role("checkbox").first.check()
    one.page.locator('[data-exercise="too-much"][data-state="saved"]').wait_for()
    assert one.frame.locator(".lk-feedback").text_content() == ""
    task = json.loads(one.desk.task_file.read_text("utf-8"))
    for exercise in task["exercises"]:
        assert set(exercise) == {"id", "number", "kind", "title", "question", "marks", "ask"}
