"""The virtual bench in the browser: a fault found by clicking, repaired, looked back at."""

from __future__ import annotations

import re
from typing import Any

import pytest
from bench_class import BenchDesk, sit_down
from driving import WAIT_MS, Server, Station
from playwright.sync_api import expect
from test_practice_in_browser import LOW_CONTRAST, NAMELESS, TOO_WIDE

pytestmark = pytest.mark.browser

NAME = "quiet-line"
# 121 Ω, the cable, and the receivers beside it: on one side of an open CAN_H.
ONE_TERMINATOR = re.compile(r"^1[12]\d\.\d Ω$")
# Letters on lamps and strips stand on a drawn ground of their own: WCAG 2.2, 1.4.3 again.
ON_LAMPS = """() => {
  const light = (css) => {
    const [r, g, b] = css.match(/[\\d.]+/g).slice(0, 3).map(Number)
      .map((v) => v / 255).map((v) => (v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4));
    return 0.2126 * r + 0.7152 * g + 0.0722 * b;
  };
  const found = [];
  let seen = 0;
  const full = '.lk-on-green:not(.lk-on-flashing), .lk-on-red:not(.lk-on-flashing), '
    + '.lk-on-both:not(.lk-on-flashing)';
  for (const text of document.querySelectorAll(full)) {
    if (!text.textContent) continue;
    const ground = getComputedStyle(text.previousElementSibling);
    const [low, high] = [light(getComputedStyle(text).fill), light(ground.fill)]
      .sort((a, b) => a - b);
    seen += 1;
    const ratio = (high + 0.05) / (low + 0.05);
    if (ratio < 4.5 || Number(ground.fillOpacity) < 1) found.push(`${ratio} ${text.textContent}`);
  }
  return {found, seen};
}"""
HIDE_LETTERS_ON_LAMPS = """(hide) => document
  .querySelectorAll('.lk-on-green, .lk-on-red, .lk-on-both')
  .forEach((text) => text.classList.contains('lk-on-flashing')
    || (text.style.display = hide ? 'none' : ''))"""
UNNAMED_PARTS = """() => [...document.querySelectorAll('.lk-exercise :is(select, [role=button])')]
  .filter((node) => !node.getAttribute('aria-label') && !(node.labels ?? []).length)
  .map((node) => node.outerHTML)"""


def test_a_fault_is_found_repaired_and_looked_back_at_by_clicking(
    kept: Station, server: Server
) -> None:
    desk = sit_down(server, "bench-line-practice", "practice")
    [fault] = desk.prepared[NAME].key["faults"]
    kept.open_next(desk.notebook)
    frame = kept.exercise(NAME)
    frame.locator(".lk-bench-line").wait_for()
    _is_refused_live(kept, frame)
    _watches_the_indicators(frame)
    _looks_right(kept)
    _looks_back_too_early(frame)
    _keyboard_alone_measures(kept, frame)
    _focus_stays_after_a_step(kept, frame)
    _verdict(kept, frame, fault, place="left end", told="somewhere else")
    _repairs(frame, fault)
    _verdict(kept, frame, fault, place=fault["connector"], told="The bench is whole again")
    kept.wait_verdict(NAME, "right")
    _looks_back(kept, frame)
    _stands_as_it_was_left(kept, frame, desk)
    kept.put_away()


def _place(frame: Any, first: int, second: int) -> str:
    """Red on one terminal, black on another, of the connector that is open; what is shown then."""
    display = frame.locator(".lk-display")
    for number in (first, second):
        frame.locator(".lk-plug").first.locator(".lk-terminal").nth(number - 1).click()
    expect(display).not_to_have_text("…", timeout=WAIT_MS)
    return str(display.text_content())


def _is_refused_live(station: Station, frame: Any) -> None:
    assert _place(frame, 4, 2) == "– – –"
    assert "the network is live" in frame.get_by_role("alert").text_content()
    frame.get_by_role("button", name="DC volts, bus idle").click()
    expect(frame.locator(".lk-display")).to_have_text(re.compile(r"^-?\d\.\d mV$"))
    volts = _place(frame, 5, 1)
    assert volts.endswith(" V")
    assert 20 < float(volts.split()[0]) < 25
    assert not frame.get_by_role("alert").is_visible()
    station.shot("bench-live", f'[data-exercise="{NAME}"]')


def _watches_the_indicators(frame: Any) -> None:
    frame.get_by_role("button", name="Watch the indicators").click()
    frame.locator(".lk-strips").wait_for()
    result = frame.locator(".lk-result").text_content()
    assert "network status" in result
    # Behind an open conductor somebody is not heard.
    assert "flashing" in result or "red" in result or "off" in result
    first = frame.locator(".lk-spot[aria-label*='network status']")
    assert first.count() == 8


def _looks_right(station: Station) -> None:
    page = station.page
    assert page.evaluate(NAMELESS) == []
    assert page.evaluate(UNNAMED_PARTS) == []
    for theme in ("dark", "light"):
        station.theme(theme)
        lamps = page.evaluate(ON_LAMPS)
        assert lamps["seen"] >= 8
        assert lamps["found"] == []
        page.evaluate(HIDE_LETTERS_ON_LAMPS, arg=True)
        measured = page.evaluate(LOW_CONTRAST)
        page.evaluate(HIDE_LETTERS_ON_LAMPS, arg=False)
        assert measured["seen"] > 60
        assert measured["found"] == []
        assert page.evaluate(TOO_WIDE) == []
        station.shot(f"bench-{theme}", f'[data-exercise="{NAME}"]')


def _looks_back_too_early(frame: Any) -> None:
    frame.get_by_role("button", name="Look back at your path").click()
    frame.get_by_text("Looking back is for afterwards").wait_for()


def _keyboard_alone_measures(station: Station, frame: Any) -> None:
    keys = station.page.keyboard
    frame.locator(".lk-power").focus()
    keys.press("Enter")
    frame.get_by_role("switch", name="Power is off").wait_for()
    frame.get_by_role("button", name="Resistance", exact=True).press("Enter")
    expect(frame.locator(".lk-display")).to_have_text("OL")
    frame.locator('.lk-spot[tabindex="0"]').focus()
    keys.press("ArrowUp")
    keys.press("ArrowLeft")
    assert station.page.evaluate("document.activeElement.getAttribute('aria-label')") == "left end"
    keys.press("Enter")
    expect(frame.locator(".lk-open-title").first).to_have_text("left end")
    keys.press("ArrowRight")
    keys.press("Enter")
    expect(frame.locator(".lk-open-title").first).to_have_text("tap 1")
    frame.locator('.lk-terminal[tabindex="0"]').first.focus()
    keys.press("ArrowRight")
    keys.press("Enter")
    keys.press("ArrowRight")
    keys.press("ArrowRight")
    keys.press("Enter")
    expect(frame.locator(".lk-display")).to_have_text(ONE_TERMINATOR, timeout=WAIT_MS)
    expect(frame.locator(".lk-probe-text")).to_contain_text("+ tap 1, left, 2 CAN_L")


def _focus_stays_after_a_step(station: Station, frame: Any) -> None:
    for label in ("Unplug", "Plug in"):
        frame.locator("[data-plug]").first.press("Enter")
        after = "Plug in" if label == "Unplug" else "Unplug"
        expect(frame.locator("[data-plug]").first).to_have_text(after)
        assert station.page.evaluate("document.activeElement.textContent") == after


def _verdict(station: Station, frame: Any, fault: dict[str, Any], *, place: str, told: str) -> None:
    frame.get_by_label("The fault").select_option(fault["kind"])
    frame.get_by_label("Its place").select_option(place)
    frame.get_by_role("checkbox", name=fault["wire"]).check()
    frame.get_by_role("button", name="Check my answer").click()
    frame.locator(".lk-feedback").get_by_text(told).wait_for()
    station.wait_state(NAME, "saved")


def _repairs(frame: Any, fault: dict[str, Any]) -> None:
    tap, side = fault["connector"].split(", ")
    frame.get_by_role("button", name=tap, exact=True).click()
    repair = frame.get_by_role("group", name="Repair", exact=True)
    repair.get_by_text(f"{tap}, {side} trunk side").click()
    repair.get_by_role("button", name="Make the connector anew").locator("visible=true").click()
    frame.get_by_text(f"make {fault['connector']} anew: done.").wait_for()


def _looks_back(station: Station, frame: Any) -> None:
    frame.get_by_role("button", name="Look back at your path").click()
    frame.get_by_text("Working out what each step could tell").wait_for()
    table = frame.locator(".lk-back-table")
    table.first.wait_for(timeout=2 * WAIT_MS)
    assert table.count() == 2
    rows = table.first.locator("tbody tr")
    assert "not done" in rows.first.text_content()
    assert rows.filter(has_text="→").count() > 0
    assert frame.get_by_text("A good path with the meter").is_visible()
    for theme in ("dark", "light"):
        station.theme(theme)
        station.page.evaluate(HIDE_LETTERS_ON_LAMPS, arg=True)
        assert station.page.evaluate(LOW_CONTRAST)["found"] == []
        station.page.evaluate(HIDE_LETTERS_ON_LAMPS, arg=False)
        assert station.page.evaluate(TOO_WIDE) == []
        station.shot(f"bench-back-{theme}", f'[data-exercise="{NAME}"]')


def _stands_as_it_was_left(station: Station, frame: Any, desk: BenchDesk) -> None:
    def seen() -> list[str]:
        places = (".lk-clock-text", ".lk-power", ".lk-display", ".lk-probe-text", ".lk-history")
        return [frame.locator(place).text_content() for place in places]

    before = seen()
    assert "of 60 minutes" in before[0]
    # Probes on tap 1; the unplugging, the repair and the look back came later.
    assert before[2] == "measure again"
    assert re.search(r": 1[12]\d\.\d Ω \(power off\)", before[4])
    for again in ("reload", "restart"):
        if again == "reload":
            station.open(desk.notebook)
        else:
            station.restart_kernel(asks=True)
            station.wait_bar("restarting")
            station.wait_ready()
        frame.locator(".lk-bench-line").wait_for()
        assert seen() == before, again
        assert frame.get_by_label("Its place").input_value() != ""
        station.wait_verdict(NAME, "right")


def test_an_assessed_bench_offers_what_was_recorded_and_knows_no_fault(
    station: Station, server: Server
) -> None:
    desk = sit_down(server, "bench-line-assessed", "assessed")
    [fault] = desk.prepared[NAME].key["faults"]
    station.open(desk.notebook)
    frame = station.exercise(NAME)
    frame.locator(".lk-bench-line").wait_for()
    for absent in ("Scope", "DC volts, bus busy", "Look back at your path"):
        assert frame.get_by_role("button", name=absent, exact=True).count() == 0
    frame.get_by_role("button", name="Log the frames").click()
    frame.get_by_role("region", name="Frame log").wait_for()
    _place(frame, 5, 1)
    assert "the network is live" in frame.get_by_role("alert").text_content()
    frame.locator(".lk-power").click()
    frame.get_by_role("switch", name="Power is off").wait_for()
    frame.get_by_role("button", name=fault["connector"].split(",")[0], exact=True).click()
    assert ONE_TERMINATOR.match(_place(frame, 4, 2))
    frame.locator("[data-plug]").nth(0).click()
    expect(frame.locator("[data-plug]").nth(0)).to_have_text("Plug in")
    frame.locator("[data-plug]").nth(1).click()
    frame.get_by_text("Only one connector can be unplugged at a time here").wait_for()
    frame.locator("[data-plug]").nth(0).click()
    expect(frame.locator("[data-plug]").nth(0)).to_have_text("Unplug")
    repair = frame.get_by_role("group", name="Repair", exact=True)
    repair.get_by_text("right trunk side").click()
    repair.get_by_role("button", name="Make the connector anew").locator("visible=true").click()
    frame.get_by_role("group", name="Repairs that you would make").get_by_text("right").wait_for()
    frame.get_by_label("The fault").select_option("broken")
    frame.get_by_label("Its place").select_option(fault["connector"])
    frame.get_by_role("checkbox", name="CAN_H").check()
    frame.get_by_role("button", name="Save my answer").click()
    station.wait_state(NAME, "saved")
    expect(frame.locator(".lk-feedback")).to_have_text("")
    station.shot("bench-assessed", f'[data-exercise="{NAME}"]')
    verdict = desk.scored(NAME)
    assert verdict.right, (verdict.message, desk.events("answer", NAME)[-1]["answer"])
    _nothing_of_the_fault(station, desk)


def _nothing_of_the_fault(station: Station, desk: BenchDesk) -> None:
    sent = "\n".join([*station.received, station.page.content(), desk.files()])
    sent = sent.replace('\\"', '"').replace(" ", "")
    # That the ear is open: the network was sent.
    assert '"tap3,left"' in sent
    for word in ('"faults":[', '"key":', '"shares":{"fault"', '"kind":"broken"', '"practice":{'):
        assert word not in sent, word
