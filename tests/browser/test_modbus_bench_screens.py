"""The bench of a Modbus line on its screens: sizes, axe, the keyboard alone, the family's words."""

from __future__ import annotations

import os
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from bare_page import BarePage, PlainFolder, bare_page
from checked_by_axe import findings, needs_axe
from driving import WAIT_MS
from playwright.sync_api import expect
from test_bench_screens import COUNT_POINTING, Keys, _is_fit

from labkit.lab.draw import draw
from labkit.lab.reading import read_lab_text

pytestmark = pytest.mark.browser
SHOTS = os.environ.get("LABKIT_SHOTS")
LAB = Path(__file__).parents[1] / "lab" / "labs" / "modbus-bench" / "lab.md"
HEADER = LAB.read_text("utf-8").split("```exercise")[0]
EXERCISES = """```exercise silent
kind: diagnosis
title: One device is silent
marks: 5
question: Find the fault and repair it.
scanner: controller
cases:
  - - {kind: form set, device: "{{ names[hit] }}", form: 8O1}
power: yes
working: So.
```
```exercise refused
kind: diagnosis
title: One device refuses
marks: 5
question: Find the fault and repair it.
scanner: controller
cases:
  - - {kind: request set, device: "{{ names[hit] }}", function: 3, start: 1}
power: yes
working: So.
```
```exercise plug
kind: wiring
device: "{{ names[hit] }}"
title: A plug
marks: 3
question: Wire it.
working: So.
```
"""


@pytest.fixture
def opened(browser: Any, tmp_path: Path, page_folder: PlainFolder) -> Iterator[Any]:
    """A function that opens the lab at a size: its bare page; errors of it count."""
    errors: list[str] = []
    contexts = []

    def open_(width: int = 1366, height: int = 768) -> BarePage:
        context = browser.new_context(viewport={"width": width, "height": height})
        contexts.append(context)
        context.set_default_timeout(WAIT_MS)
        page = context.new_page()
        page.on("pageerror", lambda error: errors.append(f"{error.message}\n{error.stack}"))
        (tmp_path / "files").mkdir()
        scenario = draw(read_lab_text(HEADER + EXERCISES), "screens")
        return bare_page(page, scenario, tmp_path / "files", modules=page_folder)

    yield open_
    for context in contexts:
        context.close()
    assert errors == []


@pytest.mark.parametrize("width", [1366, 400])
def test_every_screen_of_it_fits_and_is_read_by_axe(opened: Any, width: int) -> None:
    needs_axe()
    bare = opened(width)
    frame = bare.put_on("refused")
    for press, shows in (
        ("Watch the indicators", "line lamp"),
        ("Ask the master", "refused with exception 02"),
        ("Log the frames", "refuses (exception 02)"),
    ):
        frame.get_by_role("button", name=press).click()
        frame.get_by_text(shows).locator("visible=true").first.wait_for()
        _looked_at(bare, f"{press.split()[0].lower()}-{width}")
    device = frame.get_by_role("button", name=re.compile(", planned address ")).nth(1)
    device.click()
    frame.get_by_role("button", name="Set what the master asks of it").wait_for()
    _looked_at(bare, f"device-{width}")


def _looked_at(bare: BarePage, name: str) -> None:
    width = bare.page.viewport_size["width"]
    if width > 1000:
        _is_fit(bare)
    else:
        # The line's picture moves in its own box there; axe counts the room around its parts.
        assert bare.page.evaluate("document.documentElement.scrollWidth") <= width
    # What the bare page itself lacks is no finding about the bench.
    of_the_page = ("document-title", "html-has-lang", "landmark", "page-has-heading", "region")
    found = [each for each in findings(bare.page) if not each.startswith(of_the_page)]
    assert found == []
    if SHOTS:
        for theme in ("light", "dark"):
            bare.theme(theme)
            bare.page.screenshot(path=Path(SHOTS) / f"modbus-{name}-{theme}.png", full_page=True)


def _go_to_device(keys: Keys, name: str) -> None:
    keys.go_to_part("left end")
    keys.press("ArrowDown")
    for _ in range(10):
        keys.press("ArrowLeft")
    for _ in range(10):
        if keys.focused().split(",")[0] == name:
            break
        keys.press("ArrowRight")
    assert keys.focused().split(",")[0] == name
    keys.press("Enter")


def test_a_whole_diagnosis_with_the_keyboard_alone(opened: Any) -> None:
    bare = opened()
    bare.page.evaluate(COUNT_POINTING)
    frame = bare.put_on("silent")
    task = next(each for each in bare.workbook.task["exercises"] if each["id"] == "silent")
    [fault] = task["practice"]["key"]["faults"]
    keys = Keys(bare.page)
    keys.tab_to("Ask the master")
    keys.press("Enter")
    expect(frame.locator(".lk-result")).to_contain_text("without an answer in 3 tries")
    keys.tab_to(str(frame.locator(".lk-spot[tabindex='0']").get_attribute("aria-label")))
    _go_to_device(keys, fault["device"])
    keys.tab_to(f"{fault['device']}, terminal 1")
    keys.probe(2, 1)
    keys.tab_to("DC volts")
    keys.press("Enter")
    keys.tab_to("Read")
    keys.press("Enter")
    expect(frame.locator(".lk-display")).to_have_text(re.compile(r"^\d+\.\d mV$"))
    keys.tab_to("Set the characters", back=True)
    keys.press("Enter")
    frame.get_by_text(f"set characters 8E1 at {fault['device']}: done.").wait_for()
    keys.tab_to("Ask the master", back=True)
    keys.press("Enter")
    expect(frame.locator(".lk-result")).not_to_contain_text("without an answer")
    for label, value in (("The fault", fault["kind"]), ("Its place", fault["device"])):
        keys.tab_to(label)
        for _ in range(80):
            if bare.page.evaluate("document.activeElement.value") == value:
                break
            keys.press("ArrowDown")
    keys.tab_to("Check my answer")
    keys.press("Enter")
    expect(frame).to_have_attribute("data-verdict", "right")
    assert bare.page.evaluate("window.pointed") == 0


def test_a_plug_of_the_line_speaks_of_a_shield(opened: Any) -> None:
    frame = opened().put_on("plug")
    cable = frame.get_by_role("group", name="Conductors of the cable")
    cable.get_by_role("button", name="Conductor bare (shield), loose").click()
    frame.get_by_text("bare (shield): now choose a terminal.").wait_for()
    assert "drain" not in frame.inner_text()
