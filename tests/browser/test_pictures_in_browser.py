"""Pictures of a lab where a trainee sees them: page, notebook and paper, and never too wide."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from dealt import drawn_desk
from driving import Server, Station
from page_host import LocalHost
from PIL import Image, ImageDraw

from labkit.lab.draw import Scenario, draw
from labkit.lab.reading import read_lab
from labkit.workbook.handout import Sheet, handouts

pytestmark = pytest.mark.browser
WORDS = "A motor starter with its cover off"
TEXT = f"""\
---
id: starters
version: 1.0
title: Starters
draw:
  gap: {{from: 2, to: 8}}
---

## What to look at

![{WORDS}](starter.jpg)

The starter stands in the cabinet.

```exercise one
kind: quantity
title: One
question: "![{WORDS}](starter.jpg) How far?"
answer: gap
unit: m
marks: 1
working: Measure.
```
"""
SHOWN = "image => image.complete && image.naturalWidth > 100"
WIDER = "document.documentElement.scrollWidth > innerWidth"


@pytest.fixture
def scenario(tmp_path: Path) -> Scenario:
    """A draw of a lab with a photo of 2400 by 1200 pixels."""
    folder = tmp_path / "starters"
    folder.mkdir()
    photo = Image.new("RGB", (2400, 1200), "#7d8790")
    pen = ImageDraw.Draw(photo)
    for number in range(6):
        left = 200 + 350 * number
        pen.rectangle((left, 300, left + 220, 900), fill="#2b3138", outline="#d8dde2", width=12)
        pen.ellipse((left + 60, 400, left + 160, 500), fill="#c9a227")
    photo.save(folder / "starter.jpg", "JPEG")
    (folder / "lab.md").write_text(TEXT, encoding="utf-8")
    return draw(read_lab(folder / "lab.md"), "s")


def test_the_page_shows_a_picture_and_stays_as_wide_as_the_screen(
    scenario: Scenario, host: LocalHost, devices: Callable[..., Any], tmp_path: Path
) -> None:
    host.sit_down(scenario, tmp_path / "desk")
    page = devices(here=host.url)
    page.goto(host.url)
    in_question = page.locator(".lk-question img")
    in_question.wait_for()
    page.locator(".pg-folded summary", has_text="What to look at").click()
    in_text = page.locator(".pg-folded img")
    for width in (1366, 400):
        page.set_viewport_size({"width": width, "height": 900})
        for image in (in_question, in_text):
            assert image.evaluate(SHOWN)
            assert image.get_attribute("alt") == WORDS
        assert not page.evaluate(WIDER)


def test_the_notebook_shows_a_picture(scenario: Scenario, server: Server, kept: Station) -> None:
    desk = drawn_desk(scenario, server.root / "pictured", practice=True)
    kept.open_next(desk.notebook)
    image = kept.page.locator(f".jp-RenderedMarkdown img[alt='{WORDS}']")
    image.wait_for()
    assert image.evaluate(SHOWN)
    image = kept.page.locator(".lk-question img")
    image.wait_for()
    assert image.evaluate(SHOWN)
    box = image.bounding_box()
    assert box is not None
    assert box["width"] <= kept.page.locator(".lk-question").bounding_box()["width"]
    kept.put_away()


def test_paper_shows_a_picture(scenario: Scenario, devices: Callable[..., Any]) -> None:
    page = devices()
    page.set_content(handouts([Sheet(scenario)]).decode())
    images = page.locator("img")
    assert images.count() == 2
    assert all(images.nth(number).evaluate(SHOWN) for number in range(2))
    assert not page.evaluate(WIDER)
