"""Steps in order, a trade word, addresses of a range of one's own: by mouse, finger and keys."""

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

LAB = Path(__file__).parents[1] / "lab" / "labs" / "order-and-words" / "lab.md"
SMALL = {"width": 400, "height": 760}


@dataclass
class Work:
    """A workbook's exercise on a page."""

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
            self.frame.locator(".lk-feedback").get_by_text(words).wait_for()

    def looks_right(self) -> None:
        """Contrast, names, and nothing wider than its place, in both themes and on a telephone."""
        for size in ({"width": 1366, "height": 800}, SMALL):
            self.page.set_viewport_size(size)
            for theme in ("dark", "light"):
                self.bare.theme(theme)
                assert self.page.evaluate(LOW_CONTRAST)["found"] == []
                assert self.page.evaluate(TOO_WIDE) == []
                if folder := os.environ.get("LABKIT_SHOTS"):
                    shot = f"{self.name}-{theme}-{size['width']}.png"
                    self.page.screenshot(path=str(Path(folder) / shot), full_page=True)
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


def _order(frame: Any) -> list[str]:
    return [str(text) for text in frame.locator(".lk-step-text").all_text_contents()]


def _drag(work: Work, text: str, onto: str) -> None:
    """The row `text` to just above the row `onto`, with the mouse."""
    rows = work.frame.locator(".lk-step-row")
    start = rows.filter(has_text=text).bounding_box()
    end = rows.filter(has_text=onto).bounding_box()
    mouse = work.page.mouse
    mouse.move(start["x"] + 90, start["y"] + start["height"] / 2)
    mouse.down()
    mouse.move(end["x"] + 90, end["y"] + end["height"] / 2 + 9, steps=4)
    mouse.move(end["x"] + 90, end["y"] + 4, steps=2)
    mouse.up()


def test_steps_are_dragged_into_their_order(work: Any) -> None:
    one = work("make-safe")
    solution = one.desk.solutions()["make-safe"]
    texts = {step["id"]: step["text"] for step in solution.ask["steps"]}
    assert one.frame.get_by_role("note").text_content().startswith("⚠ Caution")
    assert _order(one.frame) == list(texts.values())
    one.saves("unreadable", "put them into their order first")
    wanted = [texts[step] for step in solution.right]
    for place, text in enumerate(wanted):
        if _order(one.frame)[place] != text:
            _drag(one, text, _order(one.frame)[place])
    assert _order(one.frame) == wanted
    assert (
        one.frame.locator(".lk-gap-above, .lk-gap-below, .lk-step-lifted, .lk-ghost").count() == 0
    )
    one.saves("right")
    assert one.desk.on_disk("make-safe")[-1] == solution.right
    one.looks_right()


def test_the_keyboard_alone_moves_a_step_and_keeps_the_focus(work: Any) -> None:
    one = work("make-safe")
    first, second, *rest = _order(one.frame)
    moves = one.frame.get_by_role("button", name=f"Move down: {first}", exact=True)
    moves.focus()
    focused = "document.activeElement.getAttribute('aria-label')"
    spoken = one.frame.locator(".lk-step-moved")
    one.page.keyboard.press("Enter")
    assert _order(one.frame) == [second, first, *rest]
    assert one.page.evaluate(focused) == f"Move down: {first}"
    assert spoken.text_content() == f"“{first}” is now step 2 of 6."
    for _ in range(5):
        one.page.keyboard.press("ArrowDown")
    # At the end it stays, the button keeps the focus, and that is said.
    assert _order(one.frame) == [second, *rest, first]
    assert one.page.evaluate(focused) == f"Move down: {first}"
    assert spoken.text_content() == f"“{first}” is already the last step."
    one.page.keyboard.press("ArrowUp")
    assert spoken.text_content() == f"“{first}” is now step 5 of 6."
    assert spoken.get_attribute("aria-live") == "polite"


def test_a_finger_drags_by_the_grip_and_scrolls_elsewhere(work: Any) -> None:
    one = work("by-load", practice=False)
    before = _order(one.frame)
    touch = one.page.context.new_cdp_session(one.page)

    def drag(part: str, row: int, to: int) -> None:
        start = one.frame.locator(part).nth(row).bounding_box()
        end = one.frame.locator(".lk-step-row").nth(to).bounding_box()
        x, y = start["x"] + start["width"] / 2, start["y"] + start["height"] / 2
        last = end["y"] + end["height"] - 4
        touch.send(
            "Input.dispatchTouchEvent", {"type": "touchStart", "touchPoints": [{"x": x, "y": y}]}
        )
        lifted = one.frame.locator(".lk-step-lifted").count()
        assert lifted == (1 if part == ".lk-step-grip" else 0)
        for part_way in (0.3, 0.7, 1):
            point = {"x": x, "y": y + part_way * (last - y)}
            touch.send("Input.dispatchTouchEvent", {"type": "touchMove", "touchPoints": [point]})
        touch.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})

    drag(".lk-step-text", 0, 3)
    assert _order(one.frame) == before
    drag(".lk-step-grip", 0, 3)
    assert _order(one.frame) == [*before[1:4], before[0], before[4]]
    # What nobody checks here is saved at once, and nothing is told of it.
    one.page.locator('[data-exercise="by-load"][data-state="saved"]').wait_for()
    assert one.frame.locator(".lk-feedback").text_content() == ""
    task = json.loads(one.desk.task_file.read_text("utf-8"))
    for exercise in task["exercises"]:
        assert set(exercise) == {"id", "number", "kind", "title", "question", "marks", "ask"}


def test_a_term_is_typed_as_people_write(work: Any) -> None:
    one = work("part")
    solution = one.desk.solutions()["part"]
    line = one.frame.get_by_role("textbox", name="Your answer")
    assert line.get_attribute("spellcheck") == "false"
    assert (
        "Capitals, blanks and hyphens do not count" in one.frame.locator(".lk-caption").inner_text()
    )
    slip, wrong = next(iter(solution.slips.items()))
    line.fill(wrong)
    one.saves("wrong", next(t["tell"] for t in solution.key["wrong"] if t["id"] == slip))
    line.fill("...")
    one.saves("unreadable", "Nothing is written yet.")
    line.fill(f" {solution.right.upper()}. ")
    line.press("Enter")
    one.page.locator('[data-exercise="part"][data-verdict="right"]').wait_for()
    assert one.desk.on_disk("part")[-1] == f" {solution.right.upper()}. "
    one.looks_right()


def test_a_range_of_its_own_is_drawn_and_kept(work: Any) -> None:
    one = work("own-range")
    solution = one.desk.solutions()["own-range"]
    cells = one.frame.locator(".lk-cell")
    assert [cells.first.inner_text(), cells.last.inner_text()] == ["1", "247"]
    for device, address in zip(solution.ask["devices"], ("0", "2", "246"), strict=True):
        one.frame.get_by_label(f"Node address of {device}", exact=True).fill(address)
    assert one.frame.locator(".lk-cell.lk-used").all_inner_texts() == ["2", "246"]
    caption = "Addresses 1 to 247: 3 of 3 devices have one."
    assert one.frame.locator(".lk-caption").inner_text() == caption
    one.saves("wrong", "no whole number from 1 to 247")
    one.frame.get_by_label("Node address of infeed meter", exact=True).fill("1")
    one.saves("right")
    one.looks_right()
