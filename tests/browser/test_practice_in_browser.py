"""A practice workbook in the browser, from opening it to the marks in the score sheet."""

from __future__ import annotations

import csv
import re
import shutil
import subprocess
import sys
from collections.abc import Iterable
from typing import Any

import pytest
from dealt import DealtClass, Desk, Solution
from driving import Station

pytestmark = pytest.mark.browser

WATCH_THE_BAR = """
window.barSaid = [];
new MutationObserver(() => {
  const said = document.querySelector('.lk-bar')?.textContent;
  if (said && said !== window.barSaid.at(-1)) window.barSaid.push(said);
}).observe(document, {subtree: true, childList: true, characterData: true});
"""
TOP_OF_PAGE = "document.querySelector('.jp-WindowedPanel-outer').scrollTop"
# Contrast as WCAG 2.2 defines it (W3C, success criterion 1.4.3): at least 4.5 for small text.
LOW_CONTRAST = """() => {
  const canvas = document.createElement('canvas').getContext('2d');
  const rgba = (css) => {
    canvas.clearRect(0, 0, 1, 1); canvas.fillStyle = css; canvas.fillRect(0, 0, 1, 1);
    const [r, g, b, a] = canvas.getImageData(0, 0, 1, 1).data; return [r, g, b, a / 255];
  };
  const over = (top, below) => [0, 1, 2].map((i) => top[i] * top[3] + below[i] * (1 - top[3]));
  const light = (c) => {
    const [r, g, b] = c.map((v) => v / 255)
      .map((v) => (v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4));
    return 0.2126 * r + 0.7152 * g + 0.0722 * b;
  };
  // What a drawing paints below a text of its own: a lamp below its letter.
  const shapesUnder = (text) => {
    if (!(text instanceof SVGElement)) return [];
    const at = text.getBoundingClientRect();
    const [x, y] = [(at.left + at.right) / 2, (at.top + at.bottom) / 2];
    return [...text.ownerSVGElement.querySelectorAll('rect, circle')].filter((shape) => {
      const box = shape.getBoundingClientRect();
      const earlier = shape.compareDocumentPosition(text) & Node.DOCUMENT_POSITION_FOLLOWING;
      const [cx, cy] = [(box.left + box.right) / 2, (box.top + box.bottom) / 2];
      // The corners of a circle's box are not painted.
      const outside = shape.tagName === 'circle' && Math.hypot(x - cx, y - cy) > box.width / 2;
      if (!earlier || outside) return false;
      return box.left <= x && x <= box.right && box.top <= y && y <= box.bottom;
    }).map((shape) => getComputedStyle(shape)).filter(({fill}) => fill.startsWith('rgb'))
      .map(({fill, fillOpacity}) => { const c = rgba(fill); c[3] *= fillOpacity; return c; });
  };
  const behind = (node) => {
    const layers = [];
    for (let at = node; at; at = at.parentElement) {
      layers.push(rgba(getComputedStyle(at).backgroundColor));
    }
    const painted = [...layers.reverse(), ...shapesUnder(node)];
    return painted.reduce((below, layer) => over(layer, below), [255, 255, 255]);
  };
  const found = [];
  let seen = 0;
  const measure = (node, css, opacity, what) => {
    const back = behind(node);
    const ink = rgba(css); ink[3] *= opacity;
    const [low, high] = [light(over(ink, back)), light(back)].sort((a, b) => a - b);
    const ratio = (high + 0.05) / (low + 0.05);
    seen += 1;
    if (ratio < 4.5) found.push(`${ratio.toFixed(2)} ${what}`);
  };
  const fade = (node) => {
    let opacity = 1;
    for (let at = node; at; at = at.parentElement) opacity *= Number(getComputedStyle(at).opacity);
    return opacity;
  };
  const roots = document.querySelectorAll('.lk-exercise, .lk-welcome, .lk-bar, .lk-picture');
  for (const root of roots) {
    const walker = document.createTreeWalker(root, NodeFilter.SHOW_TEXT);
    while (walker.nextNode()) {
      const node = walker.currentNode.parentElement;
      if (!walker.currentNode.textContent.trim() || !node.checkVisibility()) continue;
      if (['style', 'title', 'desc'].includes(node.localName)) continue;
      const style = getComputedStyle(node);
      measure(node, node instanceof SVGElement ? style.fill : style.color, fade(node),
        walker.currentNode.textContent.trim().slice(0, 40));
    }
    for (const input of root.querySelectorAll('input[placeholder]')) {
      const style = getComputedStyle(input, '::placeholder');
      measure(input, style.color, Number(style.opacity) * fade(input), input.placeholder);
    }
  }
  return {found: [...new Set(found)], seen};
}"""
NAMELESS = """() => [...document.querySelectorAll('.lk-exercise :is(input, button)')]
  .filter((node) => !(node.getAttribute('aria-label')
    || [...(node.labels ?? [])].map((label) => label.textContent.trim()).join('')
    || (node.tagName === 'BUTTON' && node.textContent.trim())))
  .map((node) => node.outerHTML)"""
TOO_WIDE = """() => [...document.querySelectorAll('.lk-exercise, .lk-exercise *, .lk-picture')]
  .filter((node) => node instanceof HTMLElement && node.clientWidth
    && node.scrollWidth > node.clientWidth + 1 && getComputedStyle(node).display !== 'inline')
  .map((node) => `${node.className} ${node.scrollWidth} > ${node.clientWidth}`)"""


def test_a_practice_workbook_from_opening_to_full_marks(
    station: Station, practice: DealtClass
) -> None:
    desk = practice.desk("t01")
    _opens_and_starts_by_itself(station, desk)
    solutions = desk.solutions()
    _looks_right(station, "new", solutions)
    _slip_is_explained(station, desk, solutions)
    _missing_unit_gets_a_sentence(station, solutions["all-drops"])
    _hint_shows_and_tells_its_cost(station, desk, "look-up")
    _keyboard_alone_does(station, desk, solutions)
    for solution in solutions.values():
        right = solution.right
        if solution.name == "section-loss":
            assert "." in right
            right = right.replace(".", ",")
        station.answer(solution, right)
        assert desk.on_disk(solution.name)[-1] == right
        station.wait_verdict(solution.name, "right")
        assert station.exercise(solution.name).get_by_role("button").count() == 1
    _slider_and_line_go_together(station, solutions["supply"])
    _looks_right(station, "answered", solutions)
    _hands_in_and_scores(station, desk, practice)


def _opens_and_starts_by_itself(station: Station, desk: Desk) -> None:
    page = station.page
    page.add_init_script(WATCH_THE_BAR)
    station.open(desk.notebook)
    said = page.evaluate("window.barSaid")
    assert said[0].startswith("Starting your workbook")
    assert said[-1].startswith("Ready. Answers are saved")
    bar = page.locator(".lk-bar").bounding_box()
    assert bar["height"] >= 24
    assert bar["y"] + bar["height"] < 720
    assert page.evaluate(TOP_OF_PAGE) == 0
    title = page.get_by_role("heading", name="Plan the trunk").bounding_box()
    assert 0 < title["y"] < 720
    assert page.locator(".jp-Notebook .jp-CodeCell .jp-InputArea").filter(visible=True).count() == 0
    assert page.get_by_text("open_workbook").filter(visible=True).count() == 0
    picture = page.locator(".lk-picture svg")
    assert picture.bounding_box()["height"] > 100
    words = picture.text_content()
    for device in desk.scenario.network.devices:
        assert device.name in words
    station.shot("opening")


def _slip_is_explained(station: Station, desk: Desk, solutions: dict[str, Solution]) -> None:
    solution = next(s for s in solutions.values() if s.kind == "quantity" and s.slips)
    slip, answer = next(iter(solution.slips.items()))
    station.answer(solution, answer)
    assert desk.on_disk(solution.name) == [answer]
    station.wait_verdict(solution.name, "wrong")
    told = next(s["tell"] for s in solution.key["slips"] if s["id"] == slip)
    assert _plain(told) in _plain(station.exercise(solution.name).text_content())
    station.shot("slip", f'[data-exercise="{solution.name}"]')


def _missing_unit_gets_a_sentence(station: Station, solution: Solution) -> None:
    station.answer(solution, solution.right.split()[0])
    station.wait_verdict(solution.name, "unreadable")
    assert "Write the unit too" in station.exercise(solution.name).text_content()
    station.shot("no-unit", f'[data-exercise="{solution.name}"]')


def _hint_shows_and_tells_its_cost(station: Station, desk: Desk, name: str) -> None:
    exercise = next(e for e in desk.scenario.lab.exercises if e.id == name)
    frame = station.exercise(name)
    button = frame.get_by_role("button", name="Show a hint")
    assert button.text_content() == "Show a hint (costs 0.5 marks)"
    button.click()
    frame.get_by_text("This hint costs 0.5 marks. Show it?").wait_for()
    station.shot("hint-asked", f'[data-exercise="{name}"]')
    assert desk.events("hint", name) == []
    frame.get_by_role("button", name="Show the hint").click()
    frame.locator(".lk-hint").wait_for()
    hint = exercise.hints[0].text.render(desk.scenario.names)
    assert _plain(hint) in _plain(frame.text_content())
    assert "Hint 1 (0.5 marks)" in frame.text_content()
    assert not button.is_visible()
    assert '"event":"hint"' in desk.journal_file.read_text(encoding="utf-8")
    station.shot("hint", f'[data-exercise="{name}"]')


def _keyboard_alone_does(station: Station, desk: Desk, solutions: dict[str, Solution]) -> None:
    page = station.page
    assert page.evaluate(NAMELESS) == []
    # From the line of one exercise by Tab to the line of the next that has one.
    station.exercise("longest-distance").get_by_role("textbox").focus()
    _tab_to(page, "weighted-length", "input")
    page.keyboard.type(solutions["weighted-length"].right)
    page.keyboard.press("Enter")
    station.wait_state("weighted-length", "saved")
    assert desk.on_disk("weighted-length") == [solutions["weighted-length"].right]
    _tab_to(page, "rate-verdict", "input")
    page.keyboard.press("Space")
    page.keyboard.press("ArrowDown")
    _tab_to(page, "rate-verdict", "button")
    page.keyboard.press("Enter")
    station.wait_state("rate-verdict", "saved")
    second = solutions["rate-verdict"].ask["options"][1]["id"]
    assert desk.on_disk("rate-verdict") == [second]


def _tab_to(page: Any, exercise: str, tag: str) -> None:
    for _ in range(20):
        page.keyboard.press("Tab")
        focused = f"document.activeElement.matches('[data-exercise=\"{exercise}\"] {tag}')"
        if page.evaluate(focused):
            return
    pytest.fail(f"Tab does not lead to the {tag} of {exercise}")


def _slider_and_line_go_together(station: Station, solution: Solution) -> None:
    frame = station.exercise("supply")
    slider = frame.get_by_role("slider")
    slider.focus()
    station.page.keyboard.press("Home")
    for _ in range(3):
        station.page.keyboard.press("ArrowRight")
    assert station.value("supply") == "1.5 m"
    assert slider.get_attribute("aria-valuetext") == "1.5 m"
    station.press(solution)
    station.wait_verdict("supply", "wrong")
    station.shot("supply-wrong", '[data-exercise="supply"]')
    station.answer(solution, solution.right)
    station.wait_verdict("supply", "right")
    shown = float(solution.right.split()[0])
    assert abs(float(slider.input_value()) - shown) <= 0.5


def _looks_right(station: Station, when: str, names: Iterable[str]) -> None:
    try:
        for theme in ("dark", "light"):
            station.theme(theme)
            contrast = station.page.evaluate(LOW_CONTRAST)
            assert contrast["seen"] > 100
            assert contrast["found"] == [], f"{theme} theme, {when}"
            assert station.page.evaluate(TOO_WIDE) == []
            for name in names:
                station.shot(f"{when}-{theme}-{name}", f'[data-exercise="{name}"]')
            station.shot(f"{when}-{theme}-hand-in", ".lk-handin")
            station.shot(f"{when}-{theme}-picture", ".lk-picture")
    finally:
        station.theme("light")


def _hands_in_and_scores(station: Station, desk: Desk, practice: DealtClass) -> None:
    panel = station.page.locator(".lk-handin")
    assert panel.locator("li.lk-not-answered").count() == 0
    assert panel.locator("li.lk-done").count() == len(desk.solutions())
    panel.get_by_role("button", name="Make my hand-in file").click()
    station.page.wait_for_selector('.lk-handin[data-state="made"]')
    [made] = desk.folder.glob("*.handin.json")
    words = panel.text_content()
    assert made.name in words
    assert str(desk.folder.resolve()) in words
    with station.page.expect_download() as download:
        panel.get_by_role("link", name="Save a copy elsewhere").click()
    assert download.value.suggested_filename == made.name
    assert download.value.path().read_bytes() == made.read_bytes()
    station.shot("handed-in", ".lk-handin")
    shutil.copy(made, practice.folder.hand_ins)
    command = [sys.executable, "-c", "from labkit.cli import main; main()", "score"]
    subprocess.run([*command, str(practice.folder.path)], check=True, capture_output=True)
    with (practice.folder.scores / "score-sheet.csv").open(encoding="utf-8-sig") as file:
        row = next(row for row in csv.DictReader(file) if row["id"] == "t01")
    assert row["state"] == "scored"
    # One hint of half a mark was taken.
    assert float(row["marks"]) == float(row["out of"]) - 0.5
    assert float(row["out of"]) == practice.lab.marks


def _plain(text: str) -> str:
    return re.sub(r"\s+", " ", text.replace("*", "")).strip()
