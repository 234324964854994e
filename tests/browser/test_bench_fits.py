"""The bench at the web host: what is worked with is in view together; no reading is an old one."""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import lru_cache
from pathlib import Path
from typing import Any

import pytest
from checked_by_axe import findings, needs_axe
from driving import WAIT_MS
from page_host import LocalHost, PageStation, scenario_of_lab
from playwright.sync_api import expect

from labkit.bench.bench import Bench as AsBuilt
from labkit.bench.scope import look
from labkit.bench.situation import Situation
from labkit.families.devicenet.bench.catalogue import fault_from_json
from labkit.kinds.common.bench_setup import setup_of
from labkit.lab.draw import Scenario

pytestmark = pytest.mark.browser

LAB = "troubleshooting"
CASE = "case-terminator"
# A laptop of 1366 by 768 without what a browser itself needs, a large screen, a telephone.
SCREENS = [(1366, 650), (1920, 940), (400, 760)]
IN_VIEW = """(names) => names.filter((name) => {
  const node = [...document.querySelectorAll(name)].find((each) => each.checkVisibility());
  const box = node.getBoundingClientRect();
  return box.top < 0 || box.left < 0 || box.bottom > innerHeight || box.right > innerWidth;
})"""
# In pixels of the screen: what is drawn is larger or smaller than its sheet says.
SMALLEST_LETTERS = """() => Math.min(
  ...[...document.querySelectorAll('.lk-bench-line text, .lk-strips text, .lk-scope text')]
    .filter((each) => each.textContent)
    .map((each) => parseFloat(getComputedStyle(each).fontSize) * each.getScreenCTM().a))"""
NAME_IN_FOCUS = """() => {
  const node = document.activeElement;
  const label = [...node.labels ?? []].map((each) => each.firstChild.textContent).join();
  return node.getAttribute('aria-label') || label || node.textContent;
}"""
STUCK = """() => [...document.querySelectorAll('.lk-exercise *')]
  .filter((each) => getComputedStyle(each).position === 'sticky').length"""
SIDEWAYS = "document.documentElement.scrollWidth - document.documentElement.clientWidth"


@lru_cache
def drawn(lab: str) -> Scenario:
    return scenario_of_lab(lab)


@pytest.fixture
def context(browser: Any) -> Iterator[Any]:
    made = browser.new_context(viewport={"width": 1366, "height": 650})
    made.set_default_timeout(WAIT_MS)
    yield made
    made.close()


class Bench:
    """One bench in one window."""

    def __init__(self, context: Any, host: LocalHost, case: str = CASE) -> None:
        self.page = context.new_page()
        self.page.goto(host.url)
        self.page.locator(".pg-onwards").wait_for()
        self.frame = PageStation(host, self.page).exercise(case)  # type: ignore[arg-type]
        self.frame.locator(".lk-bench-line").wait_for()
        self.display = self.frame.locator(".lk-display")

    def press(self, name: str) -> None:
        """Press a button that is called so."""
        self.frame.get_by_role("button", name=name, exact=True).click()

    def power(self, on: bool) -> None:
        """Switch the supply."""
        self.frame.get_by_role("switch").click()
        self.frame.get_by_role("switch", checked=on).wait_for()

    def place(self, *terminals: int) -> None:
        """Probes on terminals of the first connector that is open."""
        for number in terminals:
            self.frame.locator(".lk-plug").first.locator(".lk-terminal").nth(number - 1).click()

    def measured(self) -> str:
        """Ohms between the signal wires."""
        self.place(4, 2)
        expect(self.display).to_have_text(re.compile(r"^\d+\.\d Ω$"))
        return str(self.display.text_content())

    def readings(self) -> list[str]:
        """The record of what was done."""
        return list(self.frame.locator(".lk-history li").all_text_contents())


@pytest.mark.parametrize(("width", "height"), SCREENS)
def test_line_meter_and_result_are_in_view_together(
    context: Any, host: LocalHost, tmp_path: Path, width: int, height: int
) -> None:
    host.sit_down(drawn(LAB), tmp_path / "desk")
    bench = Bench(context, host)
    page = bench.page
    page.set_viewport_size({"width": width, "height": height})
    narrow = width < 700
    line = [] if narrow else [".lk-bench-line"]  # there it is wider than the screen
    bench.power(on=False)
    bench.measured()
    assert page.evaluate(IN_VIEW, [*line, ".lk-plug .lk-terminal", ".lk-handmeter"]) == []
    bench.power(on=True)
    result = [".lk-result-text", ".lk-handmeter"]
    for tool, picture in (("Watch the indicators", ".lk-strips"), ("Scope", ".lk-scope")):
        bench.press(tool)
        page.locator(picture).wait_for()
        seen = [picture] if narrow else [*line, *result, picture]
        assert page.evaluate(IN_VIEW, seen) == [], tool
    # They stay there for whoever goes on to decide.
    bench.frame.get_by_label("The fault").scroll_into_view_if_needed()
    assert page.evaluate(IN_VIEW, line) == []
    assert page.evaluate(SMALLEST_LETTERS) >= 9.5
    assert page.evaluate(SIDEWAYS) <= 0
    assert bench.frame.locator(".lk-bench-caution").is_visible()


def test_an_assessed_bench_fits_too(context: Any, host: LocalHost, tmp_path: Path) -> None:
    host.sit_down(drawn("acceptance"), tmp_path / "desk", practice=False)
    bench = Bench(context, host, "fault-a")
    bench.frame.get_by_role("button", name="tap 3", exact=True).click()
    bench.press("Log the frames")
    bench.frame.get_by_role("region", name="Frame log").wait_for()
    seen = [".lk-bench-line", ".lk-handmeter", ".lk-plug .lk-terminal", ".lk-log"]
    assert bench.page.evaluate(IN_VIEW, seen) == []
    assert _groups(bench) == ["Look", "Measure", "Decide"]  # repairs have no share in its marks


def _groups(bench: Bench) -> list[str]:
    """The headings of the bench, as the Tab key comes to what is under them."""
    titles = bench.frame.locator(".lk-benchgroup > h4").all()
    for title in titles:
        group = bench.frame.get_by_role("group", name=title.text_content(), exact=True)
        assert group.get_by_role("button").count() + group.get_by_role("combobox").count()
    return [title.text_content() for title in titles]


def test_controls_stand_in_groups_in_the_order_of_the_work(
    context: Any, host: LocalHost, tmp_path: Path
) -> None:
    host.sit_down(drawn(LAB), tmp_path / "desk")
    bench = Bench(context, host)
    assert _groups(bench) == ["Look", "Measure", "Repair", "Decide"]
    passed = []
    bench.frame.get_by_role("switch").focus()
    while "Its place" not in passed:
        passed.append(bench.page.evaluate(NAME_IN_FOCUS))
        bench.page.keyboard.press("Tab")
        assert len(passed) < 60
    wanted = ["Power is", "Ask the scanner", "scanner, planned", "scanner, terminal 1"]
    wanted += ["Look inside", "Resistance", "Read", "Scope", "Set the switches", "What you did"]
    places = [next(k for k, each in enumerate(passed) if each.startswith(w)) for w in wanted]
    assert places == sorted(places), passed


def test_a_zoomed_page_needs_no_scrolling_sideways(
    context: Any, host: LocalHost, tmp_path: Path
) -> None:
    host.sit_down(drawn(LAB), tmp_path / "desk")
    bench = Bench(context, host)
    bench.page.set_viewport_size({"width": 683, "height": 325})  # 200 % of 1366 by 650
    bench.press("Scope")
    bench.frame.locator(".lk-scope").wait_for()
    assert bench.page.evaluate(SIDEWAYS) <= 0
    # Nothing stands over the rest where there is no room for it.
    assert bench.page.evaluate(STUCK) == 0


def test_whatever_changes_blanks_what_was_read(
    context: Any, host: LocalHost, tmp_path: Path
) -> None:
    host.sit_down(drawn(LAB), tmp_path / "desk")
    bench = Bench(context, host)
    frame, told = bench.frame, bench.frame.locator(".lk-result-text")
    seen = frame.locator(".lk-seen").first
    bench.power(on=False)
    for change in (
        lambda: bench.frame.locator("[data-plug]").first.click(),  # pulled
        lambda: bench.frame.locator("[data-plug]").first.click(),  # and put back
        lambda: bench.press("Set the switches"),
        lambda: bench.power(on=True),
    ):
        reading = bench.measured()
        bench.press("Current of supply")
        expect(told).to_contain_text("current")
        frame.get_by_role("button", name="Look inside").first.click()
        expect(seen).not_to_have_text("")
        change()
        expect(bench.display).to_have_text("measure again")
        assert reading not in frame.locator(".lk-handmeter").inner_text()
        expect(told).not_to_contain_text("current")
        expect(seen).to_have_text("")
    before = [text for text in bench.readings() if "Ω" in text]
    assert len(before) == 4
    assert all("power off" in text for text in before)
    assert [("unplugged" in text) for text in before] == [False, True, False, False]
    _stands_after_a_reload(bench, context, host)


def _stands_after_a_reload(bench: Bench, context: Any, host: LocalHost) -> None:
    again = Bench(context, host)
    assert again.readings() == bench.readings()
    expect(again.display).to_have_text("measure again")
    expect(again.frame.locator(".lk-probe-text")).to_contain_text("4 CAN_H")
    again.power(on=False)
    again.press("Read")
    expect(again.display).to_have_text(re.compile(r"^\d+\.\d Ω$"))
    kept = again.display.text_content()
    expect(Bench(context, host).display).to_have_text(str(kept))


def test_a_probe_that_moves_blanks_the_reading_and_costs_no_second_one(
    context: Any, host: LocalHost, tmp_path: Path
) -> None:
    host.sit_down(drawn(LAB), tmp_path / "desk")
    bench = Bench(context, host)
    bench.power(on=False)
    bench.press("Read")
    expect(bench.display).to_have_text("first + red")
    bench.measured()
    count = len(bench.readings())
    bench.place(5)
    expect(bench.display).to_have_text("now − black")
    bench.place(1)
    expect(bench.display).to_have_text(re.compile(r"Ω|OL"))
    assert len(bench.readings()) == count + 1
    # One that is chosen by hand is moved alone.
    bench.press("+ red probe")
    bench.place(4)
    expect(bench.frame.locator(".lk-history li")).to_have_count(count + 2)


def test_a_second_window_shows_the_bench_as_it_is(
    context: Any, host: LocalHost, tmp_path: Path
) -> None:
    dealt = host.sit_down(drawn(LAB), tmp_path / "desk")
    one, two = Bench(context, host), Bench(context, host)
    one.power(on=False)
    expect(two.frame.get_by_role("switch")).to_have_attribute("aria-checked", "false")
    two.measured()
    expect(one.frame.locator(".lk-history li")).to_have_count(2)
    for step in dealt.solutions()[CASE].right["steps"]:
        if step["kind"] == "fit terminator":
            one.frame.get_by_role("button", name=step["place"], exact=True).click()
            one.press("Fit a terminator")
    expect(two.display).to_have_text("measure again")
    # The verdict is given there: the repair that was made here counts.
    said = dealt.solutions()[CASE].right["verdict"]
    two.frame.get_by_label("The fault").select_option(said["fault"])
    two.frame.get_by_label("Its place").select_option(said["place"])
    two.press("Check my answer")
    expect(two.frame).to_have_attribute("data-verdict", "right")


def test_a_window_that_slept_hears_of_steps_when_it_is_back(
    context: Any, host: LocalHost, tmp_path: Path
) -> None:
    host.sit_down(drawn(LAB), tmp_path / "desk")
    one, two = Bench(context, host), Bench(context, host)
    assert host.desk is not None
    step = {"do": "step", "token": "elsewhere", "step": {"kind": "power off"}}
    host.desk.hear({"exercise": CASE, "message": step})  # no page was told
    for bench in (one, two):
        bench.frame.get_by_role("switch", checked=True).wait_for()
        bench.page.evaluate("document.dispatchEvent(new Event('visibilitychange'))")
        bench.frame.get_by_role("switch", checked=False).wait_for()


def test_the_scopes_cursors_read_times_levels_and_the_bit_rate(
    context: Any, host: LocalHost, tmp_path: Path
) -> None:
    dealt = host.sit_down(drawn(LAB), tmp_path / "desk")
    bench = Bench(context, host)
    setup = setup_of(dealt.solutions()[CASE].ask["setup"])
    rate = setup.plan.data_rate
    bit = 1000 / rate  # µs: a bit takes 1 over the bit rate (ISO 11898-1)
    bench.press("Scope")
    figures = bench.frame.locator(".lk-figures")
    _says(figures, "time, µs", bit, 2 * bit, bit)
    expect(figures.get_by_role("row", name="as one bit")).to_contain_text(f"{rate} kbit/s")
    two = bench.frame.get_by_role("slider", name="Time cursor 2")
    two.press("PageUp")  # by a bit: two of them in between now
    _says(figures, "time, µs", bit, 3 * bit, 2 * bit)
    expect(figures.get_by_role("row", name="as one bit")).to_contain_text(f"{rate // 2} kbit/s")
    two.press("ArrowLeft")
    _says(figures, "time, µs", bit, 2.975 * bit, 1.975 * bit)
    two.press("ArrowRight")
    _levels_are_those_of_the_line(dealt, setup, figures, (bit, 3 * bit))
    bench.frame.get_by_role("slider", name="Level cursor B").press("PageUp")
    _says(figures, "levels", 0, 2.5, 2.5)
    _is_dragged(bench, figures, bit)


def _says(figures: Any, row: str, *values: float) -> None:
    words = [f"{value + 1e-9:.2f}".replace("-", "−") for value in values]
    expect(figures.get_by_role("row", name=row).locator("td")).to_have_text(words)


def _levels_are_those_of_the_line(
    dealt: Any, setup: Any, figures: Any, at: tuple[float, float]
) -> None:
    faults = frozenset(fault_from_json(each) for each in dealt.solutions()[CASE].key["faults"])
    last = list(setup.layout.devices)[-1]
    trace = look(AsBuilt(setup, faults, Situation(power=True)), last, setup.scanner)
    spacing = trace.times_s[1] * 1e6
    first, second = (round(us / spacing) for us in at)
    _says(
        figures, "CAN_H", trace.high[first], trace.high[second],
        round(trace.high[second], 3) - round(trace.high[first], 3),
    )  # fmt: skip


def _is_dragged(bench: Bench, figures: Any, bit: float) -> None:
    page = bench.page
    handle = bench.frame.get_by_role("slider", name="Time cursor 1").locator("rect").first
    box, picture = handle.bounding_box(), bench.frame.locator(".lk-scope").bounding_box()
    page.mouse.move(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    page.mouse.down()
    page.mouse.move(picture["x"] + 1, picture["y"] + 40)
    page.mouse.up()
    _says(figures, "time, µs", 0, 3 * bit, 3 * bit)


def test_a_kept_picture_stands_beside_the_next_and_axe_finds_nothing(
    context: Any, host: LocalHost, tmp_path: Path
) -> None:
    needs_axe()
    dealt = host.sit_down(drawn(LAB), tmp_path / "desk")
    bench = Bench(context, host)
    frame = bench.frame
    bench.press("Scope")
    waves = frame.locator(".lk-scope polyline")
    expect(waves).to_have_count(3)
    bench.press("Keep beside the next one")
    other = next(iter(setup_of(dealt.solutions()[CASE].ask["setup"]).layout.devices))
    frame.get_by_label("Scope at", exact=True).select_option(other)
    bench.press("Scope")
    expect(waves).to_have_count(6)
    expect(frame.locator(".lk-kept")).to_contain_text("(step 1, power on)")
    frame.get_by_label("CAN_L, V (dashed)").uncheck()
    expect(waves).to_have_count(4)
    for scheme in ("dark", "light"):
        bench.page.emulate_media(color_scheme=scheme)
        assert findings(bench.page) == [], scheme
    bench.power(on=False)
    expect(frame.locator(".lk-scope")).to_have_count(0)
