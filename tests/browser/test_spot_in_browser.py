"""Pointing into a picture in a real browser: by mouse, finger, keyboard and name."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from bare_page import BarePage, bare_page
from checked_by_axe import findings

from labkit.lab.draw import draw
from labkit.lab.reading import read_lab

pytestmark = pytest.mark.browser
LAB = read_lab(Path(__file__).parents[1] / "lab" / "labs" / "spots" / "lab.md")
WIDER = "document.documentElement.scrollWidth > innerWidth"


@pytest.fixture
def bare(browser: Any, tmp_path: Path) -> Any:
    """A bare page on a screen that can be touched; nothing goes wrong on it."""
    context = browser.new_context(viewport={"width": 1366, "height": 900}, has_touch=True)
    page, wrong = context.new_page(), []
    page.on("pageerror", lambda error: wrong.append(str(error)))
    yield bare_page(page, draw(LAB, "spot"), tmp_path / "book")
    context.close()
    assert wrong == []


def _kept(bare: BarePage, frame: Any, exercise: str) -> Any:
    """The answer as it is on disk after the button."""
    frame.get_by_role("button", name="Check my answer").click()
    frame.locator(".lk-verdict:not(:empty)").first.wait_for()
    return bare.workbook.exercise(exercise).saved["answer"]


def _place(stage: Any, across: float, down: float) -> dict[str, float]:
    box = stage.bounding_box()
    return {"x": box["width"] * across, "y": box["height"] * down}


def _near(point: list[int], wanted: list[int]) -> bool:
    return all(abs(one - other) <= 3 for one, other in zip(point, wanted, strict=True))


def test_a_click_a_touch_and_a_key_each_set_a_point(bare: BarePage) -> None:
    frame = bare.put_on("terminals")
    stage = frame.get_by_role("application")
    assert stage.bounding_box() == stage.locator("img").bounding_box()
    stage.click(position=_place(stage, 0.125, 0.5))
    stage.tap(position=_place(stage, 0.375, 0.5))
    stage.focus()
    for key in ("Shift+ArrowRight", "Shift+ArrowRight", "ArrowRight", "ArrowUp"):
        bare.page.keyboard.press(key)
    assert "% from the left" in frame.locator(".lk-spot-told").inner_text()
    bare.page.keyboard.press("Enter")
    assert frame.locator(".lk-spot-mark").all_inner_texts() == ["1", "2", "3"]
    stage.click(position=_place(stage, 0.9, 0.5))
    assert "All 3 points are set" in frame.locator(".lk-spot-told").inner_text()
    first, second, third = _kept(bare, frame, "terminals")
    assert _near(first, [125, 500])
    assert _near(second, [375, 500])
    assert _near(third, [595, 480])


def test_a_name_is_chosen_and_taken_away_by_keyboard_alone(bare: BarePage) -> None:
    frame = bare.put_on("terminals")
    name = frame.get_by_role("button", name="the coil", exact=True)
    name.focus()
    bare.page.keyboard.press("Enter")
    assert name.get_attribute("aria-pressed") == "true"
    frame.get_by_role("button", name="Take point 1 away").press("Enter")
    assert name.get_attribute("aria-pressed") == "false"
    name.press("Space")
    assert _kept(bare, frame, "terminals") == ["the coil"]


def test_one_point_moves_with_each_click_and_is_as_exact_in_the_large_picture(
    bare: BarePage,
) -> None:
    frame = bare.put_on("part")
    stage = frame.get_by_role("application")
    stage.click(position=_place(stage, 0.1, 0.5))
    bare.page.set_viewport_size({"width": 400, "height": 800})
    frame.get_by_role("button", name="Larger").click()
    stage.click(position=_place(stage, 0.875, 0.5))
    assert not bare.page.evaluate(WIDER)
    [point] = _kept(bare, frame, "part")
    assert _near(point, [875, 500])


def test_the_frame_is_sound_to_axe_and_its_buttons_are_large_enough(bare: BarePage) -> None:
    frame = bare.put_on("terminals")
    stage = frame.get_by_role("application")
    stage.click(position=_place(stage, 0.125, 0.5))
    for theme in ("light", "dark"):
        bare.theme(theme)
        own = [each for each in findings(bare.page) if not each.startswith("page-has-heading")]
        assert own == []
    for each in frame.locator(".lk-spot-names button, .lk-spot-list button").all():
        assert each.bounding_box()["height"] >= 40
