"""Exercises in a notebook on a small screen: what is wider than an exercise scrolls within it."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from bare_page import bare_page
from dealt import drawn_desk
from driving import Server, Station
from page_host import scenario_of_lab

pytestmark = pytest.mark.browser

SMALL = {"width": 400, "height": 760}
# By how much each exercise's parts stand out of it, but for those within something that scrolls, or
# how much it holds that can be scrolled to.
MEASURED = """() => Object.fromEntries(
  [...document.querySelectorAll('[data-exercise]')].map((frame) => {
  const { right } = frame.getBoundingClientRect();
  const scrolls = (node) => getComputedStyle(node).overflowX === 'auto';
  const held = (node) => node !== frame && (scrolls(node) || held(node.parentElement));
  const parts = [...frame.querySelectorAll('*')].filter((each) => each.checkVisibility());
  const out = parts.filter((each) => !held(each.parentElement))
    .map((each) => each.getBoundingClientRect().right - right);
  const more = parts.filter(scrolls).map((each) => each.scrollWidth - each.clientWidth);
  return [frame.dataset.exercise, { out: Math.max(...out), more: Math.max(0, ...more) }];
}))"""


def test_grid_map_and_table_scroll_within_their_exercise(kept: Station, server: Server) -> None:
    folder = server.root / "narrow"
    desk = drawn_desk(scenario_of_lab("scan-list-and-io-map"), folder, practice=True)
    page = kept.page
    before = page.viewport_size
    page.set_viewport_size(SMALL)
    kept.open_next(desk.notebook)
    found = page.evaluate(MEASURED)
    assert {name: one for name, one in found.items() if one["out"] > 0} == {}
    assert {name for name, one in found.items() if one["more"] > 20} >= {"map", "bit", "word"}
    # What lies to the right comes into view, and the notebook itself stays where it is.
    area = kept.exercise("bit").locator(".lk-area")
    area.evaluate("it => { it.scrollLeft = it.scrollWidth; }")
    assert area.evaluate("it => it.scrollLeft") > 20
    assert page.evaluate("document.querySelector('.jp-WindowedPanel-outer').scrollLeft") == 0
    page.set_viewport_size(before)
    kept.put_away()


@pytest.mark.parametrize(
    ("lab", "exercise"),
    [
        ("plan-the-trunk", "addresses"),
        ("controller-and-chassis", "board"),
        ("scan-list-and-io-map", "map"),
    ],
)
def test_a_wide_exercise_scrolls_in_any_narrow_cell(
    browser: Any, tmp_path: Path, lab: str, exercise: str
) -> None:
    page = browser.new_page(viewport=SMALL)
    bare = bare_page(page, scenario_of_lab(lab), tmp_path / "desk")
    bare.put_on(exercise)
    found = page.evaluate(MEASURED)[exercise]
    assert found["out"] <= 0
    assert found["more"] > 20
    # Where there is room nothing is put into a frame of its own.
    page.set_viewport_size({"width": 1100, "height": 760})
    area = page.locator(".lk-area")
    assert area.evaluate("it => getComputedStyle(it).overflowX") == "visible"
    page.close()
