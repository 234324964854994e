"""Modules chosen from the keys alone: what is wrong is told, a right plan is right and kept."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

import pytest
from bare_page import bare_page_of
from checked_by_axe import findings, needs_axe
from dealt import drawn_desk
from hands import fill_slots
from playwright.sync_api import expect
from test_practice_in_browser import LOW_CONTRAST, TOO_WIDE

from labkit.lab.draw import draw
from labkit.lab.reading import read_lab
from labkit.station.workbook import Workbook

pytestmark = pytest.mark.browser
LAB = Path(__file__).parents[1] / "lab" / "labs" / "modules-for-signals" / "lab.md"


def test_modules_are_chosen_placed_and_judged(browser: Any, tmp_path: Path) -> None:
    desk = drawn_desk(draw(read_lab(LAB), "browser"), tmp_path / "desk", practice=True)
    solution = desk.solutions()["choose"]
    page = browser.new_page()
    bare = bare_page_of(page, Workbook.open(str(desk.task_file)))
    frame = bare.put_on("choose")
    expect(frame.get_by_role("note")).to_contain_text("mains voltage, which kills")
    expect(frame.get_by_text("Of a real module, the maker's data sheet decides.")).to_be_visible()

    # A wide module covers the next slot; what stands beyond a smaller chassis stays in sight.
    frame.get_by_label("Module in slot 3", exact=True).focus()
    page.keyboard.type("OAK-16R")
    expect(frame.get_by_text("covered by slot 3")).to_be_visible()
    frame.get_by_label("Module in slot 4", exact=True).select_option("a4")
    expect(frame.get_by_text("slot 3 covers it too")).to_be_visible()
    frame.get_by_label("Module in slot 12", exact=True).select_option("a4")
    frame.get_by_label("Chassis", exact=True).select_option("7")
    expect(frame.get_by_label("Module in slot 12", exact=True)).to_be_visible()
    expect(frame.get_by_text("beyond this chassis").filter(visible=True)).to_have_count(1)
    expect(frame.get_by_label("Module in slot 11", exact=True)).to_be_hidden()

    check = frame.get_by_role("button", name="Check")
    check.focus()
    page.keyboard.press("Enter")
    frame.get_by_text("looked at once every signal has a point.").first.wait_for()
    for width in (1366, 400):
        page.set_viewport_size({"width": width, "height": 800})
        for theme in ("dark", "light"):
            bare.theme(theme)
            if folder := os.environ.get("LABKIT_SHOTS"):
                shot = str(Path(folder) / f"choose-modules-{theme}-{width}.png")
                page.screenshot(path=shot, full_page=True)
            assert page.evaluate(LOW_CONTRAST)["found"] == []
            assert page.evaluate(TOO_WIDE) == []
    frame.get_by_label("Module in slot 12", exact=True).select_option("")
    fill_slots(frame, solution, solution.right)
    check.click()
    frame.get_by_text("Right: all 12 rules hold.").wait_for()
    needs_axe()
    own = [found for found in findings(page) if not found.startswith("page-has-heading")]
    assert own == []
