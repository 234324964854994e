"""The bench in a notebook, as `labkit open` shows it: what is worked with is in view together."""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any

import pytest
from dealt import drawn_desk
from driving import Server, Station
from page_host import scenario_of_lab
from playwright.sync_api import expect

from labkit.station.server import SETTINGS

pytestmark = pytest.mark.browser

CASE = "case-terminator"
# A laptop of 1366 by 768 without what a browser itself needs, and one of 1280 by 800.
SCREENS = [(1366, 650), (1280, 720)]
# What is not in the part of the window in which the notebook scrolls, or is hidden in something
# within it that scrolls.
OUT_OF_VIEW = """(names) => names.filter((name) => {
  const node = [...document.querySelectorAll(name)].find((each) => each.checkVisibility());
  const box = node.getBoundingClientRect();
  for (let up = node.parentElement; up; up = up.parentElement) {
    if (getComputedStyle(up).overflowY === 'visible') continue;
    const room = up.getBoundingClientRect();
    if (box.top < room.top - 1 || box.bottom > room.bottom + 1) return true;
    if (up.classList.contains('jp-WindowedPanel-outer')) return false;
  }
  return true;
})"""


@pytest.fixture
def without_menus(server: Server) -> Iterator[None]:
    """JupyterLab set up as `labkit open` does it."""
    files = {
        server.settings / f"{name}.jupyterlab-settings": values for name, values in SETTINGS.items()
    }
    before = {file: file.read_bytes() for file in files if file.exists()}
    for file, values in files.items():
        file.parent.mkdir(exist_ok=True)
        file.write_text(json.dumps(values), "utf-8")
    yield
    for file in files:
        if file in before:
            file.write_bytes(before[file])
        else:
            file.unlink()


@pytest.mark.usefixtures("without_menus")
def test_line_meter_and_result_are_in_view_together(station: Station, server: Server) -> None:
    folder = server.root / "bench-fits"
    desk = drawn_desk(scenario_of_lab("troubleshooting"), folder, practice=True)
    station.open(desk.notebook)
    frame = station.exercise(CASE)
    _has_measured(frame)
    for width, height in SCREENS:
        station.page.set_viewport_size({"width": width, "height": height})
        for tool, picture in (
            ("Watch the indicators", ".lk-strips"),
            ("Scope", ".lk-scope"),
            ("Log the frames", ".lk-log"),
        ):
            frame.get_by_role("button", name=tool, exact=True).click()
            frame.locator(picture).wait_for()
            seen = [f'[data-exercise="{CASE}"] {each}' for each in (*TOGETHER, picture)]
            assert station.page.evaluate(OUT_OF_VIEW, seen) == [], (width, tool)
            station.shot(f"bench-notebook-{width}-{picture[4:]}")
        # The line stays there for whoever goes on to decide.
        frame.get_by_role("button", name="my answer").scroll_into_view_if_needed()
        assert station.page.evaluate(OUT_OF_VIEW, seen[:1]) == [], width


TOGETHER = (".lk-bench-line", ".lk-handmeter", ".lk-result-text")


def _has_measured(frame: Any) -> None:
    """Ohms between the signal wires, the power on again after it."""
    power = frame.get_by_role("switch")
    power.click()
    expect(power).not_to_be_checked()
    for number in (4, 2):
        frame.locator(".lk-plug").first.locator(".lk-terminal").nth(number - 1).click()
    expect(frame.locator(".lk-display")).to_contain_text("Ω")
    power.click()
    expect(power).to_be_checked()
