"""The bench of a Modbus line on its screens: sizes, axe, the keyboard alone, the family's words."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from bare_page import PlainFolder
from bench_of_family import looked_at, opening
from checked_by_axe import needs_axe
from playwright.sync_api import expect
from test_bench_screens import COUNT_POINTING, Keys

pytestmark = pytest.mark.browser
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
    with opening(browser, tmp_path, page_folder, HEADER + EXERCISES) as open_:
        yield open_


@pytest.mark.parametrize("width", [1366, 400])
def test_every_screen_of_it_fits_and_is_read_by_axe(opened: Any, width: int) -> None:
    needs_axe()
    bare = opened(width)
    frame = bare.put_on("refused")
    for press, shows in (
        ("Watch the indicators", "line lamp"),
        ("Ask the master", "refused with exception 02"),
        ("Log the frames", "refuses (exception 02)"),
        ("Scope", "controller sending"),
    ):
        frame.get_by_role("button", name=press, exact=True).click()
        frame.get_by_text(shows).locator("visible=true").first.wait_for()
        looked_at(bare, f"modbus-{press.split()[0].lower()}-{width}")
    device = frame.get_by_role("button", name=re.compile(", planned address ")).nth(1)
    device.click()
    frame.get_by_role("button", name="Set what the master asks of it").wait_for()
    looked_at(bare, f"modbus-device-{width}")


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
