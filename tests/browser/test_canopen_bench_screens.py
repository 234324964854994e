"""The bench of a CANopen bus on its screens: sizes, axe, lamps of CiA 303-3, the family's words."""

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

pytestmark = pytest.mark.browser
LAB = Path(__file__).parents[1] / "lab" / "labs" / "canopen-bus" / "lab.md"
HEADER = LAB.read_text("utf-8").split("```exercise")[0]
EXERCISES = """```exercise silent
kind: diagnosis
title: One node does not run
marks: 5
question: Find the fault and repair it.
scanner: controller
cases:
  - - {kind: heartbeat set, device: "{{ names[hit] }}", ms: 0}
power: yes
working: So.
```
"""


@pytest.fixture
def opened(browser: Any, tmp_path: Path, page_folder: PlainFolder | None) -> Iterator[Any]:
    """A function that opens the lab at a size: its bare page; errors of it count."""
    with opening(browser, tmp_path, page_folder, HEADER + EXERCISES) as open_:
        yield open_


@pytest.mark.parametrize("width", [1366, 400])
def test_every_screen_of_it_fits_and_is_read_by_axe(opened: Any, width: int) -> None:
    needs_axe()
    bare = opened(width)
    frame = bare.put_on("silent")
    for press, shows in (
        ("Watch the indicators", "double flash red: controller"),
        ("Ask the manager", "no heartbeat of it within 1500 ms"),
        ("Log the frames", "has booted up"),
    ):
        frame.get_by_role("button", name=press).click()
        frame.get_by_text(shows).locator("visible=true").first.wait_for()
        looked_at(bare, f"canopen-{press.split()[0].lower()}-{width}")
    frame.get_by_role("button", name=re.compile(", planned node-ID ")).nth(1).click()
    frame.get_by_role("button", name="Store the heartbeat time").wait_for()
    looked_at(bare, f"canopen-device-{width}")


def test_lamps_that_flash_show_how_often_and_a_repair_lets_them_be_steady(opened: Any) -> None:
    bare = opened()
    frame = bare.put_on("silent")
    [fault] = bare.workbook.task["exercises"][0]["practice"]["key"]["faults"]
    watch = frame.get_by_role("button", name="Watch the indicators")
    watch.click()
    letters = frame.locator(".lk-look-letter")
    expect(letters.filter(has_text=re.compile("^2$"))).to_have_count(1)
    expect(letters.filter(has_text=re.compile("^g$"))).to_have_count(1)
    name = re.compile(f"^{fault['device']}.*, planned node-ID ")
    frame.get_by_role("button", name=name).click()
    frame.get_by_role("button", name="Store the heartbeat time").click()
    frame.get_by_text(f"store 500 ms in 0x1017 of {fault['device']}: done.").wait_for()
    watch.click()
    expect(letters.filter(has_text=re.compile("^G$"))).to_have_count(4)
    expect(letters.filter(has_text=re.compile("^[2g]$"))).to_have_count(0)
