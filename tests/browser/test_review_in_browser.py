"""Reviewing a drawing in a real browser: by mouse, finger and keyboard, wide and narrow."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from bare_page import BarePage, bare_page
from checked_by_axe import findings

from labkit.lab.draw import draw
from labkit.lab.reading import read_lab

pytestmark = pytest.mark.browser
LAB = read_lab(Path(__file__).parents[1] / "lab" / "labs" / "drawings-to-review" / "lab.md")
WIDER = "document.documentElement.scrollWidth > innerWidth"
NOTHING = "Nothing in this drawing is wrong"


@pytest.fixture
def bare(browser: Any, tmp_path: Path) -> Any:
    """A bare page on a screen that can be touched; nothing goes wrong on it."""
    context = browser.new_context(viewport={"width": 1366, "height": 900}, has_touch=True)
    page, wrong = context.new_page(), []
    page.on("pageerror", lambda error: wrong.append(str(error)))
    yield bare_page(page, draw(LAB, "look"), tmp_path / "book")
    context.close()
    assert wrong == []


def _place(frame: Any, part: str) -> Any:
    return frame.locator(f'.lk-drawn-place[data-part="{part}"]:visible').first


def _kept(bare: BarePage, frame: Any) -> Any:
    """The answer as it is on disk after the button."""
    frame.get_by_role("button", name="Check my answer").click()
    frame.locator(".lk-verdict:not(:empty)").first.wait_for()
    return bare.workbook.exercise("drawn").saved["answer"]


def test_a_place_is_pressed_by_mouse_and_finger_and_its_rule_chosen(bare: BarePage) -> None:
    frame = bare.put_on("drawn")
    _place(frame, "tap 1").click()
    lists = frame.locator(".lk-review-list select")
    assert lists.evaluate("each => each === document.activeElement")
    _place(frame, "tap 1").click()  # without a rule yet: the same mark
    assert lists.count() == 1
    lists.select_option("drop")
    _place(frame, "tap 1").tap()  # wrong in a second way
    lists.nth(1).select_option("address")
    _place(frame, "supply").tap()
    frame.get_by_role("button", name="Take the mark").nth(2).click()
    assert lists.count() == 2
    assert "lk-drawn-marked" not in _place(frame, "supply").get_attribute("class")
    assert _kept(bare, frame) == [
        {"part": "tap 1", "rule": "drop"},
        {"part": "tap 1", "rule": "address"},
    ]


def test_everything_is_done_by_keyboard_and_nothing_wrong_takes_the_marks_away(
    bare: BarePage,
) -> None:
    frame = bare.put_on("drawn")
    place = _place(frame, "tap 2")
    assert "Place 4: tap at" in place.get_attribute("aria-label")
    place.press("Enter")
    bare.page.keyboard.press("ArrowDown")
    assert frame.locator(".lk-review-list select").input_value() == "terminators"
    bare.page.keyboard.press("Tab")
    bare.page.keyboard.press("Enter")  # take away: the place has the focus again
    assert frame.locator(".lk-review-list li").count() == 0
    assert place.evaluate("each => each === document.activeElement")
    bare.page.keyboard.press("Enter")
    box = frame.get_by_role("checkbox", name=NOTHING)
    box.press("Space")
    assert frame.locator(".lk-review-list li").count() == 0
    assert _kept(bare, frame) == "nothing"
    place.press("Enter")
    assert not box.is_checked()


def test_a_narrow_screen_has_a_drawing_of_its_own_and_places_for_fingers(bare: BarePage) -> None:
    frame = bare.put_on("drawn")
    wide = frame.locator(".lk-drawn-wide")
    assert wide.is_visible()
    _place(frame, "tap 3").click()
    bare.page.set_viewport_size({"width": 400, "height": 800})
    assert not wide.is_visible()
    assert not bare.page.evaluate(WIDER)
    assert "lk-drawn-marked" in _place(frame, "tap 3").get_attribute("class")
    for each in frame.locator(".lk-drawn-place:visible").all():
        box = each.bounding_box()
        assert min(box["width"], box["height"]) >= 24
    _place(frame, "right end").tap()
    assert frame.locator(".lk-review-list li").count() == 2


def test_the_frame_is_sound_to_axe_in_both_themes(bare: BarePage) -> None:
    frame = bare.put_on("drawn")
    _place(frame, "tap 1").click()
    for theme in ("light", "dark"):
        bare.theme(theme)
        own = [each for each in findings(bare.page) if not each.startswith("page-has-heading")]
        assert own == []
    for each in frame.locator(".lk-review-list button, .lk-review-list select").all():
        assert each.bounding_box()["height"] >= 40
