"""Help in practice: a costly hint is asked about first; after two directions comes an example."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from bare_page import BarePage, PlainFolder, bare_page
from driving import SHOTS
from test_practice_in_browser import LOW_CONTRAST, NAMELESS, TOO_WIDE

from labkit.answering.directions import NO_MORE
from labkit.lab.draw import draw
from labkit.lab.reading import read_lab

LABS = Path(__file__).parents[2] / "labs"
pytestmark = pytest.mark.browser

LAB = """\
---
id: hints
version: 1.0.0
title: Hints
draw:
  amps: {from: 2, to: 9}
---

```exercise power
kind: quantity
title: The power
question: A device draws {{ amps }} A at 24 V. What is its power?
answer: 24 * amps
unit: W
tolerance: 1
decimals: 0
marks: 4
hints:
  - {text: Power is voltage times current., costs: 1}
  - {text: 'Multiply by {{ amps }}.', costs: 0}
slips:
  - {id: divided, answer: 24 / amps, tell: You divided.}
working: 24 V · {{ amps }} A = **{{ 24 * amps }} W**.
```
"""
FOCUSED = "document.activeElement.textContent"


@pytest.fixture
def open_lab(browser: Any, tmp_path: Path, page_folder: PlainFolder) -> Iterator[Any]:
    """A function that opens the bare page of a lab, the one above; errors of it count."""
    errors: list[str] = []
    (tmp_path / "lab.md").write_text(LAB, encoding="utf-8")
    context = browser.new_context(viewport={"width": 1000, "height": 720})
    page = context.new_page()
    page.on("pageerror", lambda error: errors.append(str(error)))

    def open_(lab: Path = tmp_path / "lab.md") -> BarePage:
        scenario = draw(read_lab(lab), "hints")
        return bare_page(page, scenario, tmp_path / "desk", modules=page_folder)

    yield open_
    context.close()
    assert errors == []


@pytest.fixture
def opened(open_lab: Any) -> BarePage:
    """The bare page of the lab above."""
    page: BarePage = open_lab()
    return page


def hints(opened: BarePage) -> list[Any]:
    entries = opened.workbook.journal.read().entries
    return [entry["hint"] for entry in entries if entry["event"] == "hint"]


def shot(opened: BarePage, name: str) -> None:
    for theme in ("dark", "light"):
        opened.theme(theme)
        assert opened.page.evaluate(LOW_CONTRAST)["found"] == [], theme
        assert opened.page.evaluate(TOO_WIDE) == []
        if SHOTS:
            Path(SHOTS).mkdir(parents=True, exist_ok=True)
            opened.page.screenshot(path=f"{SHOTS}/{name}-{theme}.png", full_page=True)


def test_a_hint_that_costs_is_taken_only_after_the_question(opened: BarePage) -> None:
    frame = opened.put_on("power")
    show = frame.get_by_role("button", name="Show a hint (costs 1 mark)")
    asked = frame.get_by_role("group", name="This hint costs 1 mark. Show it?")
    show.click()
    assert asked.is_visible()
    assert hints(opened) == []
    shot(opened, "hint-asked")
    asked.get_by_role("button", name="Not now").click()
    assert not asked.is_visible()
    assert hints(opened) == []
    # A double click opens the question and shuts it again: it never takes the hint.
    show.dblclick()
    assert hints(opened) == []
    show.click()
    asked.get_by_role("button", name="Show the hint").click()
    frame.locator(".lk-hint").wait_for()
    assert hints(opened) == [1]
    assert not asked.is_visible()
    assert "Power is voltage times current." in opened.page.evaluate(FOCUSED)
    shot(opened, "hint-taken")


def test_a_hint_that_is_free_needs_no_question(opened: BarePage) -> None:
    frame = opened.put_on("power")
    frame.get_by_role("button", name="Show a hint").click()
    frame.get_by_role("button", name="Show the hint").click()
    frame.get_by_role("button", name="Show a hint (free)").click()
    frame.locator(".lk-hint").nth(1).wait_for()
    assert hints(opened) == [1, 2]


def test_the_question_is_answered_by_keyboard_alone(opened: BarePage) -> None:
    frame = opened.put_on("power")
    page, keyboard = opened.page, opened.page.keyboard
    show = frame.get_by_role("button", name="Show a hint")
    asked = frame.get_by_role("group", name="This hint costs 1 mark. Show it?")
    assert show.get_attribute("aria-expanded") == "false"
    show.focus()
    keyboard.press("Enter")
    assert asked.is_visible()
    assert show.get_attribute("aria-expanded") == "true"
    assert page.evaluate(FOCUSED) == "Not now"
    assert page.evaluate(NAMELESS) == []
    keyboard.press("Escape")
    assert not asked.is_visible()
    assert page.evaluate(FOCUSED) == "Show a hint (costs 1 mark)"
    # Enter held or pressed twice says "not now".
    keyboard.press("Enter")
    keyboard.press("Enter")
    assert not asked.is_visible()
    assert hints(opened) == []
    keyboard.press("Enter")
    keyboard.press("Shift+Tab")
    assert page.evaluate(FOCUSED) == "Show the hint"
    keyboard.press("Space")
    frame.locator(".lk-hint").wait_for()
    assert hints(opened) == [1]
    assert "Power is voltage times current." in page.evaluate(FOCUSED)


def test_an_answer_that_is_checked_meanwhile_shuts_the_question(opened: BarePage) -> None:
    frame = opened.put_on("power")
    frame.get_by_role("button", name="Show a hint").click()
    frame.get_by_role("textbox").fill("1 W")
    frame.get_by_role("textbox").press("Enter")
    frame.get_by_text("Saved").wait_for()
    assert not frame.get_by_role("group").is_visible()
    assert hints(opened) == []


def answer(frame: Any, text: str) -> Any:
    """Give an answer; what is said of it."""
    frame.get_by_role("textbox").fill(text)
    frame.get_by_role("textbox").press("Enter")
    frame.locator(".lk-outcome").wait_for()
    return frame.locator(".lk-feedback")


@pytest.mark.parametrize(
    ("lab", "name", "answers"),
    [
        ("plan-the-trunk", "all-drops", ["11111 m", "22222 m", "33333 m"]),
        ("plan-the-trunk", "supply", ["0 m", "0.5 m", "1 m"]),
    ],
)
def test_after_two_directions_an_example_is_offered_folded(
    open_lab: Any, lab: str, name: str, answers: list[str]
) -> None:
    opened = open_lab(LABS / lab / "lab.md")
    frame = opened.put_on(name)
    example = frame.locator("details.lk-example")
    for text in answers[:1]:
        answer(frame, text)
        assert not example.is_visible()
    answer(frame, answers[1])
    assert example.is_visible()
    answer(frame, answers[2]).get_by_text(NO_MORE).wait_for()
    shot(opened, f"example-folded-{name}")
    picture = example.locator("svg")
    assert not picture.is_visible()
    summary = example.locator("summary")
    assert summary.text_content() == "A worked example with other numbers"
    summary.focus()
    opened.page.keyboard.press("Enter")
    assert picture.is_visible()
    assert "these are not yours" in example.inner_text()
    shot(opened, f"example-{name}")
    answer(frame, answers[0])
    assert picture.is_visible()


def test_the_example_of_a_table_is_a_table(open_lab: Any) -> None:
    opened = open_lab(LABS / "network-power" / "lab.md")
    exercises = opened.workbook.task["exercises"]
    table = next(e for e in exercises if e["kind"] == "table" and e["practice"]["example"])
    frame = opened.put_on(table["id"])
    fields = frame.locator("input[type=text]")
    for text in ("55555", "66666", "77777"):
        fields.first.fill(text)
        frame.get_by_role("button", name="Check my answer").click()
        frame.get_by_text(NO_MORE if text == "77777" else "too large").first.wait_for()
    frame.get_by_text("A worked example").click()
    assert frame.locator(".lk-example table").is_visible()
    shot(opened, "example-table")
