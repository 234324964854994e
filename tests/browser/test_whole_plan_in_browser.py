"""A whole plan: filled in, built and switched on; what it shows goes with the next change."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

import pytest
from bare_page import bare_page_of
from checked_by_axe import findings, needs_axe
from dealt import drawn_desk
from hands import fill_plan
from test_practice_in_browser import LOW_CONTRAST, TOO_WIDE

from labkit.lab.draw import draw
from labkit.lab.reading import read_lab
from labkit.station.workbook import Workbook

pytestmark = pytest.mark.browser

LAB = Path(__file__).parents[1] / "lab" / "labs" / "a-whole-plan" / "lab.md"


def test_a_plan_comes_alive(browser: Any, tmp_path: Path) -> None:
    desk = drawn_desk(draw(read_lab(LAB), "in the browser"), tmp_path / "desk", practice=True)
    solution = desk.solutions()["plan"]
    page = browser.new_page()
    bare = bare_page_of(page, Workbook.open(str(desk.task_file)))
    frame = bare.put_on("plan")
    press = frame.get_by_role("button", name="Build it and switch on")
    press.click()
    said = frame.locator(".lk-whole-bench [role=status]")
    said.filter(has_text="The plan is still empty.").wait_for()

    names = [name for name in solution.right["devices"] if name != "scanner"]
    moving = [each["name"] for each in solution.ask["site"]["devices"] if each["output_bytes"]]
    wrong = {name: {**row} for name, row in solution.right["devices"].items()}
    wrong[names[0]]["listed"] = False
    wrong[names[1]]["address"] = "63"
    one, other = moving[:2]
    wrong[one]["first"], wrong[other]["first"] = wrong[other]["first"], wrong[one]["first"]
    fill_plan(frame, solution, {**solution.right, "devices": wrong, "rating": "1"})
    # From the keys alone.
    press.focus()
    page.keyboard.press("Enter")
    seen = frame.locator(".lk-whole-seen")
    seen.get_by_text("It shows:").first.wait_for(timeout=60_000)
    text = seen.inner_text()
    assert "Too little voltage, 11 V at least" in text
    assert "Margin." in text
    assert "the supply gives 1 A" in text
    for width in (1366, 400):
        page.set_viewport_size({"width": width, "height": 800})
        for theme in ("dark", "light"):
            bare.theme(theme)
            if folder := os.environ.get("LABKIT_SHOTS"):
                shot = str(Path(folder) / f"whole-plan-{theme}-{width}.png")
                page.screenshot(path=shot, full_page=True)
            assert page.evaluate(LOW_CONTRAST)["found"] == []
            assert page.evaluate(TOO_WIDE) == []
    needs_axe()
    assert [each for each in findings(page) if not each.startswith("page-has-heading")] == []

    fill_plan(frame, solution, solution.right)
    said.filter(has_text="The plan has changed. Build it again.").wait_for()
    assert seen.inner_text() == ""
    press.click()
    seen.get_by_text("This plan keeps every rule.").wait_for(timeout=60_000)
    assert f"The program switches on {one}: {one} moves." in seen.inner_text()
    frame.get_by_role("button", name="my answer").click()
    page.locator('[data-exercise="plan"][data-verdict="right"]').wait_for()
    page.close()


def test_an_assessed_plan_is_not_built(browser: Any, tmp_path: Path) -> None:
    desk = drawn_desk(draw(read_lab(LAB), "in the browser"), tmp_path / "desk", practice=False)
    page = browser.new_page()
    frame = bare_page_of(page, Workbook.open(str(desk.task_file))).put_on("plan")
    frame.get_by_label("Supply, A", exact=True).wait_for()
    assert frame.get_by_role("button", name="Build it and switch on").count() == 0
    page.close()
