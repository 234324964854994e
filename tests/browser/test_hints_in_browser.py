"""A hint that costs marks is asked for twice, and the question is answered by keyboard as well."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from bare_page import BarePage, bare_page
from driving import SHOTS
from test_practice_in_browser import LOW_CONTRAST, NAMELESS, TOO_WIDE

from labkit.lab.draw import draw
from labkit.lab.reading import read_lab

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
def opened(browser: Any, tmp_path: Path) -> Iterator[BarePage]:
    """The bare page of the lab above; errors of it count."""
    errors: list[str] = []
    (tmp_path / "lab.md").write_text(LAB, encoding="utf-8")
    context = browser.new_context(viewport={"width": 1000, "height": 720})
    page = context.new_page()
    page.on("pageerror", lambda error: errors.append(str(error)))
    yield bare_page(page, draw(read_lab(tmp_path / "lab.md"), "hints"), tmp_path / "desk")
    context.close()
    assert errors == []


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
            opened.page.screenshot(path=f"{SHOTS}/{name}-{theme}.png")


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
