"""Things and their partners: chosen by keys alone, marked one by one, at ease on a telephone."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

import pytest
from bare_page import bare_page_of
from checked_by_axe import findings, needs_axe
from dealt import drawn_desk
from hands import fill_cells
from test_practice_in_browser import LOW_CONTRAST, TOO_WIDE

from labkit.lab.draw import draw
from labkit.lab.reading import read_lab
from labkit.station.workbook import Workbook

pytestmark = pytest.mark.browser

LAB = Path(__file__).parents[1] / "lab" / "labs" / "pairs-of-things" / "lab.md"


def test_pairs_are_made_by_keys_and_each_is_marked(browser: Any, tmp_path: Path) -> None:
    desk = drawn_desk(draw(read_lab(LAB), "in the browser"), tmp_path / "desk", practice=True)
    solution = desk.solutions()["looks"]
    page = browser.new_page()
    bare = bare_page_of(page, Workbook.open(str(desk.task_file)))
    frame = bare.put_on("looks")
    fill_cells(frame, solution, solution.right)
    chosen = frame.get_by_role("combobox")
    # Away from what is right by keys, and on to the next thing with Enter.
    chosen.first.focus()
    before = chosen.first.input_value()
    page.keyboard.press("ArrowDown" if before != last_word(solution) else "ArrowUp")
    assert chosen.first.input_value() != before
    page.keyboard.press("Enter")
    assert chosen.nth(1).evaluate("field => field === document.activeElement")
    frame.get_by_role("button", name="my answer").click()
    page.locator('[data-exercise="looks"][data-verdict="wrong"]').wait_for()
    assert "3 of 4 pairs are right" in frame.locator(".lk-feedback").inner_text()
    marks = frame.locator(".lk-pairs .lk-mark")
    assert sorted(marks.evaluate_all("all => all.map((one) => one.dataset.state)")) == [
        "right", "right", "right", "wrong",
    ]  # fmt: skip
    for width in (1366, 400):
        page.set_viewport_size({"width": width, "height": 800})
        for theme in ("dark", "light"):
            bare.theme(theme)
            if folder := os.environ.get("LABKIT_SHOTS"):
                page.screenshot(path=str(Path(folder) / f"pairs-{theme}-{width}.png"))
            assert page.evaluate(LOW_CONTRAST)["found"] == []
            assert page.evaluate(TOO_WIDE) == []
    needs_axe()
    assert [each for each in findings(page) if not each.startswith("page-has-heading")] == []
    fill_cells(frame, solution, solution.right)
    frame.get_by_role("button", name="my answer").click()
    page.locator('[data-exercise="looks"][data-verdict="right"]').wait_for()
    page.close()


def last_word(solution: Any) -> str:
    words: list[str] = solution.ask["rows"][0][1]["words"]
    return words[-1]
