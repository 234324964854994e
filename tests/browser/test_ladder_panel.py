"""The panel before a program: pressed, broken, unplugged, by mouse, finger and keys."""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from bare_page import BarePage, bare_page_of
from checked_by_axe import findings, needs_axe
from dealt import drawn_desk
from hands_on_ladders import draw_ladder
from page_host import scenario_of_lab
from playwright.sync_api import expect
from test_practice_in_browser import LOW_CONTRAST, TOO_WIDE

from labkit.station.workbook import Workbook

pytestmark = pytest.mark.browser

# A wide ladder and a wide table are scrolled, and a ladder's wires reach into the next piece.
MEANT_TO_BE_WIDE = ("lk-scroll-x", "lk-branch", "lk-area")


class Panel:
    """An exercise with a panel, its right program drawn."""

    def __init__(self, page: Any, name: str, folder: Path, modules: Any = None) -> None:
        desk = drawn_desk(scenario_of_lab("logic-that-tests"), folder, practice=True)
        self.page, self.name = page, name
        self.bare: BarePage = bare_page_of(page, Workbook.open(str(desk.task_file)), modules)
        self.frame = self.bare.put_on(name)
        solution = desk.solutions()[name]
        self.ask = solution.ask
        draw_ladder(self.frame, solution, solution.right)

    def input(self, at: int) -> Any:
        """The drawing of an input, and what belongs to it."""
        return self.frame.get_by_role("group", name=self.ask["inputs"][at]["id"], exact=True)

    def output(self, at: int, state: str) -> None:
        """Wait until an output is on, or off."""
        lamp = self.frame.locator(".lk-lamp", has_text=self.ask["outputs"][at]["id"])
        expect(lamp.locator(".lk-state")).to_have_text(state)

    def shot(self, when: str) -> None:
        """Keep a picture where LABKIT_SHOTS says so."""
        if folder := os.environ.get("LABKIT_SHOTS"):
            self.page.screenshot(path=str(Path(folder) / f"{when}.png"), full_page=True)


@pytest.fixture
def panel(browser: Any, tmp_path: Path) -> Iterator[Any]:
    """Puts an exercise on a page of its own."""
    context = browser.new_context(viewport={"width": 1366, "height": 900}, has_touch=True)
    yield lambda name: Panel(context.new_page(), name, tmp_path / name)
    context.close()


def test_start_holds_and_stop_or_a_broken_wire_ends_it(panel: Any) -> None:
    one = panel("seal-in")
    start, stop = one.input(0), one.input(1)
    # By the mouse: on while it is pressed, and held by the program afterwards.
    one.output(0, "off")
    start.get_by_role("button", name="Press").click()
    one.output(0, "on")
    expect(start.locator(".lk-touch-bit")).to_have_text("0")
    expect(stop.locator(".lk-touch-bit")).to_have_text("1")
    one.shot("panel-running")
    # By the space bar.
    stop.get_by_role("button", name="Press").focus()
    one.page.keyboard.down(" ")
    one.output(0, "off")
    expect(stop.locator(".lk-touch-state")).to_have_text("contact open, bit off")
    one.page.keyboard.up(" ")
    expect(stop.locator(".lk-touch-state")).to_have_text("contact closed, bit on")
    one.output(0, "off")
    # By a finger; then the wire breaks, and is mended: nothing starts by itself.
    start.get_by_role("button", name="Press").tap()
    one.output(0, "on")
    stop.get_by_role("button", name="Break the wire").click()
    one.output(0, "off")
    expect(stop.locator(".lk-touch-state")).to_have_text("contact closed, wire broken, bit off")
    stop.get_by_role("button", name="Mend the wire").click()
    expect(stop.locator(".lk-touch-bit")).to_have_text("1")
    one.output(0, "off")


def test_held_buttons_stay_and_a_lost_device_keeps_its_last_bits(panel: Any) -> None:
    one = panel("watch")
    start, stop, active = one.input(0), one.input(1), one.input(2)
    start.get_by_role("checkbox", name="Hold").check()
    one.output(0, "on")
    device = one.ask["panel"][0]["device"]
    one.frame.get_by_role("button", name=f"Unplug the {device}").click()
    one.output(0, "off")
    one.output(1, "on")
    start.get_by_role("checkbox", name="Hold").uncheck()
    # The contact is open again, but the scanner keeps what came last.
    expect(start.locator(".lk-touch-state")).to_have_text("contact open, device lost, bit on")
    expect(stop.locator(".lk-touch-bit")).to_have_text("1")
    expect(active.locator(".lk-touch-state")).to_have_text(f"{device}: lost, bit off")
    one.shot("panel-lost")
    one.frame.get_by_role("button", name=f"Plug the {device} in again").click()
    expect(start.locator(".lk-touch-bit")).to_have_text("0")
    one.output(0, "off")
    one.frame.get_by_role("button", name="Start anew").click()
    one.output(1, "off")


def test_scan_by_scan_nothing_happens_until_the_next_scan(panel: Any) -> None:
    one = panel("test-rungs")
    one.frame.get_by_role("checkbox", name="scan by scan").check()
    one.frame.get_by_role("switch", name="Switch").check()
    one.input(1).get_by_role("checkbox", name="Hold").check()
    expect(one.input(1).locator(".lk-touch-state")).to_have_text("contact closed, bit off")
    one.frame.get_by_role("button", name="Next scan").click()
    one.output(0, "on")
    expect(one.frame.get_by_role("status").filter(has_text="Scan 1.")).to_have_count(1)
    one.input(1).get_by_role("checkbox", name="Hold").uncheck()
    one.output(0, "on")
    one.frame.get_by_role("button", name="Next scan").click()
    one.output(0, "off")


def test_what_moves_on_the_line_follows_how_the_line_is(panel: Any) -> None:
    one = panel("test-rungs")
    one.frame.get_by_role("switch", name="Switch").check()
    line = one.frame.get_by_role("group", name="The line")
    choice = line.get_by_label("The line is")
    things = [*one.ask["line"]["things"].values()]

    def moves(*names: str) -> None:
        for name in things:
            lamp = line.locator(".lk-lamp", has_text=name).locator(".lk-state")
            expect(lamp).to_have_text("moves" if name in names else "still")

    one.input(1).get_by_role("checkbox", name="Hold").check()
    one.output(0, "on")
    moves(things[0])
    choice.select_option("with two node addresses exchanged")
    moves(things[2])
    one.output(0, "on")
    one.shot("line-crossed")
    choice.select_option("with the scanner idle")
    moves()
    choice.select_option("as planned")
    moves(things[0])
    one.frame.get_by_role("button", name=f"Unplug the {things[0]}").click()
    moves()
    one.output(0, "on")


@pytest.mark.parametrize("name", ["watch", "test-rungs"])
def test_the_panel_can_be_read_in_both_themes_and_on_a_telephone(panel: Any, name: str) -> None:
    one = panel(name)
    one.frame.get_by_role("button", name="Press").first.click()
    one.frame.get_by_role("button", name="Unplug the").first.click()
    for size in ({"width": 1366, "height": 900}, {"width": 400, "height": 760}):
        one.page.set_viewport_size(size)
        for theme in ("dark", "light"):
            one.bare.theme(theme)
            one.shot(f"panel-{name}-{theme}-{size['width']}")
            assert one.page.evaluate(LOW_CONTRAST)["found"] == []
            wide = [w for w in one.page.evaluate(TOO_WIDE) if not w.startswith(MEANT_TO_BE_WIDE)]
            assert wide == []
    needs_axe()
    own = [found for found in findings(one.page) if not found.startswith("page-has-heading")]
    assert own == []
