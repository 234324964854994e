"""A test plan ticked step by step: a pair that could hide is told, the right plan is right."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

import pytest
from bare_page import bare_page_of
from checked_by_axe import findings, needs_axe
from dealt import drawn_desk
from hands import tick_steps
from page_host import scenario_of_lab
from playwright.sync_api import expect
from test_practice_in_browser import LOW_CONTRAST, TOO_WIDE

from labkit.station.workbook import Workbook

pytestmark = pytest.mark.browser


def test_a_plan_is_ticked_and_judged(browser: Any, tmp_path: Path) -> None:
    desk = drawn_desk(scenario_of_lab("logic-that-tests"), tmp_path / "desk", practice=True)
    solution = desk.solutions()["sign-off"]
    page = browser.new_page()
    bare = bare_page_of(page, Workbook.open(str(desk.task_file)))
    frame = bare.put_on("sign-off")
    expect(frame.get_by_role("note")).to_contain_text("Nobody may be in reach")
    expect(
        frame.get_by_role("list", name="What the machine asks").get_by_role("listitem")
    ).to_have_count(3)

    # Without the step in which one is on alone, that one and the one that needs it hide.
    shorter = [step for step in solution.right if not _is_needed_alone(solution.ask, step)]
    tick_steps(frame, solution, shorter)
    # From the keys alone.
    check = frame.get_by_role("button", name="Check")
    check.focus()
    page.keyboard.press("Enter")
    frame.get_by_text("are on together or not at all in every step").wait_for()
    for width in (1366, 400):
        page.set_viewport_size({"width": width, "height": 800})
        for theme in ("dark", "light"):
            bare.theme(theme)
            if folder := os.environ.get("LABKIT_SHOTS"):
                shot = str(Path(folder) / f"test-plan-{theme}-{width}.png")
                page.screenshot(path=shot, full_page=True)
            assert page.evaluate(LOW_CONTRAST)["found"] == []
            assert page.evaluate(TOO_WIDE) == []
    tick_steps(frame, solution, solution.right)
    check.click()
    frame.get_by_text("Right: any two outputs that are crossed show in some step.").wait_for()
    needs_axe()
    own = [found for found in findings(page) if not found.startswith("page-has-heading")]
    assert own == []


def _is_needed_alone(ask: dict[str, Any], step: list[str]) -> bool:
    return step in [[point["only_with"]] for point in ask["points"]]
