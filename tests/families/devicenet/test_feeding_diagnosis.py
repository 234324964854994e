"""The kind `diagnosis` with fuses in the drops, and with two supplies: drawn, answered, printed."""

from __future__ import annotations

from html import unescape
from typing import Any

import pytest

from labkit.doors.installed import check_for, page_for
from labkit.lab.draw import draw
from labkit.lab.reading import read_lab_text

HEAD = """---
id: feeding
version: 1.0.0
title: Feeding
minutes: 20
network:
  family: devicenet
  rate: 125
  trunk:
    - {cable: thick, length: 60}
  taps: {at: '[5, 20, 40, 55]', drop: '[1, 2, 2, 1]', device: '["panel", "clamp", "gate", "lamp"]',
    current: '[0.3, 0.5, 0.5, 0.4]', address: '[0, 1, 2, 3]'}
  supplies: {at: '[10, 50]', name: '["first", "second"]', voltage: '[24, 24.6]', rating: '[8, 8]'}
  breaks: '[30]'
---
# Feeding

```exercise find
kind: diagnosis
title: Something is dark
question: What is wrong?
marks: 5
scanner: panel
names: 2
tap_fuse: 3
sections: yes
power: yes
cases:
"""
FUSE = (
    "  - - {kind: touching, connector: gate, a: V+, b: V-}\n"
    "    - {kind: fuse blown, connector: 'tap 3, drop'}\n"
)
SECTIONS = "  - - {kind: plus joined, piece: 'tap 2, right – tap 3, left'}\n"
CHECK: Any = check_for("diagnosis")


def drawn(cases: str) -> Any:
    lab = read_lab_text(f"{HEAD}{cases}working: Look.\n```\n")
    return draw(lab, "a").prepare(lab.exercises[0])


@pytest.mark.parametrize("cases", [FUSE, SECTIONS])
def test_the_right_answer_is_right_and_every_slip_is_told(cases: str) -> None:
    made = drawn(cases)
    right = CHECK.right_answer(made.ask, made.key)
    assert CHECK.check(made.ask, made.key, right).right
    slips = CHECK.slip_answers(made.ask, made.key)
    assert slips
    for slip, answer in slips.items():
        assert CHECK.check(made.ask, made.key, answer).slip == slip
    assert CHECK.caveats(made.ask, made.key) == []


def test_a_new_fuse_on_the_short_is_no_repair_and_both_are() -> None:
    made = drawn(FUSE)
    page: Any = page_for("diagnosis")(made.ask, made.key)

    def told(kind: str, **fields: Any) -> str:
        return str(page.take({"kind": kind, **fields}, {})["entry"]["text"])

    def behind() -> str:
        return told("volts", a="tap 3, drop/5", b="tap 3, drop/1")

    assert behind() == "0.0 mV"
    assert told("volts", a="tap 3, left/5", b="tap 3, left/1").startswith("2")
    for kind in ("power off", "replace fuse", "power on"):
        told(kind, **({"connector": "tap 3, drop"} if kind == "replace fuse" else {}))
    assert behind() == "0.0 mV"
    steps = [*page.front.steps]
    told("power off")
    assert told("ohms", a="gate/5", b="gate/1") == "0.2 Ω"
    told("land", connector="gate")
    told("replace fuse", connector="tap 3, drop")
    told("power on")
    assert behind().startswith("2")
    verdict = CHECK.right_answer(made.ask, made.key)
    checked = CHECK.check(made.ask, made.key, {**verdict, "steps": steps})
    assert checked.slip == "not-repaired"
    assert CHECK.check(made.ask, made.key, {**verdict, "steps": page.front.steps}).right


def test_an_assessed_bench_shows_the_same_and_does_not_hold_the_fault() -> None:
    for cases, kind in ((FUSE, "fuse blown"), (SECTIONS, "plus joined")):
        made = drawn(cases)
        assessed: Any = page_for("diagnosis")({**made.ask, **made.assessed()}, None)
        here: Any = page_for("diagnosis")(made.ask, made.key)
        assert kind not in str(made.ask)
        for step in (
            {"kind": "supply current", "supply": "first"},
            {"kind": "volts", "a": "tap 3, drop/5", "b": "tap 3, drop/1"},
            {"kind": "unplug", "connector": "first"},
            {"kind": "volts", "a": "clamp/5", "b": "clamp/1"},
            {"kind": "power off"},
            {"kind": "ohms", "a": "tap 3, left/5", "b": "tap 3, drop/5"},
            {"kind": "ohms", "a": "tap 2, right/5", "b": "tap 3, left/5"},
        ):
            recorded, live = (each.take(step, {})["entry"] for each in (assessed, here))
            assert recorded["text"] == live["text"], step


def test_on_paper_the_fuses_have_a_table_and_repairs_are_named() -> None:
    for cases, repair in (
        (FUSE, "replace the fuse of tap 3, drop"),
        (SECTIONS, "break V+ in tap 2, right – tap 3, left"),
    ):
        made = drawn(cases)
        sheet = unescape(CHECK.paper_for_marking(made.ask, made.key, 5))
        assert repair in sheet
        assert "Across the fuse, off" in sheet
        assert ('<strong class="filled">OL</strong>' in sheet) == (cases == FUSE)
    assert "replace fuse 5, break plus 10" in sheet
