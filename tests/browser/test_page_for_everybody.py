"""The page at the web host without a mouse, and as axe sees it: the rest of it."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from checked_by_axe import findings, needs_axe
from course_at_the_page import OPEN_ALL
from driving import WAIT_MS
from page_host import LocalHost, PageStation, scenario_of_lab

pytestmark = pytest.mark.browser


@pytest.fixture
def station(host: LocalHost, browser: Any) -> Iterator[PageStation]:
    context = browser.new_context(viewport={"width": 1366, "height": 700})
    context.set_default_timeout(WAIT_MS)
    yield PageStation(host, context.new_page())  # type: ignore[arg-type]
    context.close()


FOCUS = """() => {
  const at = document.activeElement;
  if (at.tagName === 'INPUT') return 'INPUT';
  return at.textContent.trim().slice(0, 40) || at.getAttribute('aria-label') || at.tagName;
}"""


def tab_to(page: Any, wanted: str) -> None:
    """Press Tab until something is in focus, at most a few times."""
    seen = []
    while page.evaluate(FOCUS) != wanted:
        page.keyboard.press("Tab")
        seen.append(page.evaluate(FOCUS))
        assert len(seen) < 10, seen


def test_a_lab_can_be_worked_at_by_keys_alone(
    station: PageStation, host: LocalHost, tmp_path: Path
) -> None:
    dealt = host.sit_down(scenario_of_lab("plan-the-trunk"), tmp_path / "desk")
    first, second, *_ = dealt.solutions().values()
    page = station.page
    page.goto(host.url)
    page.locator(".pg-onwards").wait_for()
    keys = page.keyboard
    keys.press("Tab")
    assert page.evaluate(FOCUS) == "To the question"
    keys.press("Enter")
    keys.press("Tab")
    assert page.evaluate("document.activeElement.tagName") == "INPUT"
    keys.type(str(first.right))
    keys.press("Enter")
    station.wait_state(first.name, "saved")
    tab_to(page, "Next →")
    keys.press("Enter")
    page.locator(f'[data-place="{second.name}"] [aria-current]').wait_for()
    assert page.evaluate("document.activeElement.className") == "pg-stage"
    tab_to(page, "INPUT")  # past the trade words of the question
    keys.type(str(second.right))
    keys.press("Enter")
    station.wait_state(second.name, "saved")
    assert dealt.on_disk(second.name) == [second.right]


def test_a_trade_word_opens_and_closes_by_keys(
    station: PageStation, host: LocalHost, tmp_path: Path
) -> None:
    host.sit_down(scenario_of_lab("troubleshooting"), tmp_path / "desk")
    page = station.page
    page.goto(host.url)
    word = page.locator('.lk-question .pg-word[data-word="trunk"]')
    word.focus()
    page.keyboard.press("Enter")
    meaning = page.locator(".pg-meaning")
    assert "The main cable of a network" in meaning.inner_text()
    assert word.get_attribute("aria-expanded") == "true"
    page.keyboard.press("Escape")
    assert meaning.count() == 0
    page.keyboard.press(" ")
    assert meaning.count() == 1


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_a_trade_word_opens_a_picture_with_its_part_marked(
    station: PageStation, host: LocalHost, tmp_path: Path, theme: str
) -> None:
    needs_axe()
    host.sit_down(scenario_of_lab("plan-the-trunk"), tmp_path / "desk")
    page, refused = station.page, []
    page.on("console", lambda said: refused.append(said.text) if said.type == "error" else None)
    page.emulate_media(color_scheme=theme)
    page.goto(host.url)
    page.locator(".pg-onwards").wait_for()
    page.evaluate(OPEN_ALL)
    word = page.locator('.pg-beside .pg-word[data-word="drop"]').first
    word.click()
    picture = page.locator(".pg-meaning svg")
    picture.wait_for()
    assert "Marked here: drop." in str(picture.get_attribute("aria-label"))
    accent = page.locator(".pg-meaning").evaluate("it => getComputedStyle(it).borderLeftColor")
    stroke = "it => getComputedStyle(it).stroke"
    assert picture.locator('[data-part="drop"]').evaluate(stroke) == accent
    assert picture.locator('[data-part="node"]').evaluate(stroke) != accent
    assert findings(page) == []
    station.shot(f"word-{theme}")
    page.set_viewport_size({"width": 400, "height": 800})
    picture.scroll_into_view_if_needed()
    assert not page.evaluate("document.documentElement.scrollWidth > innerWidth")
    station.shot(f"word-{theme}-400")
    assert refused == []


def test_a_word_whose_picture_does_not_come_says_its_sentence(
    station: PageStation, host: LocalHost, tmp_path: Path
) -> None:
    host.sit_down(scenario_of_lab("troubleshooting"), tmp_path / "desk")
    page = station.page
    page.route("**/word/*", lambda route: route.abort())
    page.goto(host.url)
    word = page.locator('.lk-question .pg-word[data-word="trunk"]')
    word.click()
    page.get_by_text("The main cable of a network").wait_for()
    assert page.locator(".pg-meaning svg").count() == 0
    page.unroute("**/word/*")
    word.click()
    word.click()
    page.locator(".pg-meaning svg").wait_for()


VOICES = """(voices) => {
  window.spoken = [];
  const synthesis = Object.assign(new EventTarget(), {
    getVoices: () => voices,
    speak: (words) => window.spoken.push(words.text),
    cancel: () => {},
  });
  Object.defineProperty(window, 'speechSynthesis', { value: synthesis });
  window.SpeechSynthesisUtterance = function (text) { this.text = text; };
}"""


@pytest.mark.parametrize(
    ("voices", "is_there"),
    [
        ([{"lang": "en-GB", "localService": True}], True),
        ([{"lang": "en-GB", "localService": False}], False),
        ([], False),
    ],
    ids=["a voice of its own", "a voice elsewhere", "no voice"],
)
def test_a_question_is_read_aloud_where_the_browser_has_a_voice(
    station: PageStation, host: LocalHost, tmp_path: Path, voices: list[Any], is_there: bool
) -> None:
    host.sit_down(scenario_of_lab("plan-the-trunk"), tmp_path / "desk")
    page = station.page
    page.add_init_script(f"({VOICES})({json.dumps(voices)})")
    page.goto(host.url)
    page.locator(".pg-onwards").wait_for()
    press = page.get_by_role("button", name="Read aloud")
    assert press.is_visible() == is_there
    if is_there:
        press.click()
        assert "the two farthest points" in page.evaluate("window.spoken[0]")
        assert page.get_by_role("button", name="Stop reading").is_visible()
