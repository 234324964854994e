"""Pointing into the drawing of a network: by mouse, finger and keyboard, wide and narrow."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from bare_page import BarePage, bare_page
from checked_by_axe import findings

from labkit.lab.draw import draw
from labkit.lab.reading import read_lab

pytestmark = pytest.mark.browser
LAB = read_lab(Path(__file__).parents[1] / "lab" / "labs" / "network-to-point-into" / "lab.md")
SCENARIO = draw(LAB, "look")
FIRST, SECOND, THIRD, *_ = [device.name for device in SCENARIO.network.devices]
WIDER = "document.documentElement.scrollWidth > innerWidth"


@pytest.fixture
def bare(browser: Any, tmp_path: Path) -> Any:
    """A bare page on a screen that can be touched; nothing goes wrong on it."""
    context = browser.new_context(viewport={"width": 1366, "height": 900}, has_touch=True)
    page, wrong = context.new_page(), []
    page.on("pageerror", lambda error: wrong.append(str(error)))
    yield bare_page(page, SCENARIO, tmp_path / "book")
    context.close()
    assert wrong == []


def _place(frame: Any, part: str) -> Any:
    return frame.locator(f'.lk-drawn-place[data-part="{part}"]:visible').first


def _kept(bare: BarePage, frame: Any, exercise: str) -> Any:
    """The answer as it is on disk after the button."""
    frame.get_by_role("button", name="Check my answer").click()
    frame.locator(".lk-verdict:not(:empty)").first.wait_for()
    return bare.workbook.exercise(exercise).saved["answer"]


def test_parts_are_pointed_at_by_mouse_and_finger_and_taken_away(bare: BarePage) -> None:
    frame = bare.put_on("thirsty")
    _place(frame, FIRST).click()
    _place(frame, SECOND).tap()
    _place(frame, THIRD).click()  # only two can be set
    assert "All 2 points are set" in frame.locator(".lk-spot-told").inner_text()
    _place(frame, FIRST).click()
    _place(frame, THIRD).tap()
    frame.get_by_role("button", name=f"Take away: {SECOND}").click()
    assert _place(frame, THIRD).get_attribute("aria-pressed") == "true"
    assert _kept(bare, frame, "thirsty") == [THIRD]


def test_one_point_moves_and_everything_is_done_by_keyboard(bare: BarePage) -> None:
    frame = bare.put_on("before")
    tap = _place(frame, "tap 2")
    assert tap.get_attribute("aria-label").startswith("tap 2 at")
    tap.focus()
    bare.page.keyboard.press("Enter")
    assert tap.get_attribute("aria-pressed") == "true"
    bare.page.keyboard.press("Tab")
    bare.page.keyboard.press("Space")
    assert tap.get_attribute("aria-pressed") == "false"
    [device] = [d.name for d in SCENARIO.network.tap("tap 2").drop.all_devices]
    assert frame.locator(".lk-spot-list li span").inner_text().startswith(device)
    frame.get_by_role("button", name="Take away").press("Enter")
    assert _place(frame, device).evaluate("each => each === document.activeElement")
    bare.page.keyboard.press("Enter")
    assert _kept(bare, frame, "before") == [device]


def test_a_narrow_screen_has_a_drawing_of_its_own_and_places_for_fingers(bare: BarePage) -> None:
    frame = bare.put_on("before")
    _place(frame, "right terminator").click()
    bare.page.set_viewport_size({"width": 400, "height": 800})
    assert not frame.locator(".lk-drawn-wide").is_visible()
    assert not bare.page.evaluate(WIDER)
    assert "lk-drawn-marked" in _place(frame, "right terminator").get_attribute("class")
    for part in SCENARIO.prepare(LAB.exercises[1]).ask["parts"]:
        _place(frame, part["id"]).tap()  # none lies so under others that it cannot be found
        assert frame.locator(".lk-spot-list li span").inner_text() == part["words"]


def test_the_frame_is_sound_to_axe_in_both_themes(bare: BarePage) -> None:
    frame = bare.put_on("before")
    _place(frame, "tap 1").click()
    for theme in ("light", "dark"):
        bare.theme(theme)
        own = [each for each in findings(bare.page) if not each.startswith("page-has-heading")]
        assert own == []
    assert frame.locator(".lk-spot-list button").bounding_box()["height"] >= 40
