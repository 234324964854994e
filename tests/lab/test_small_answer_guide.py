"""The tables, switches and frames printed in the authoring guide work, and its lists are whole."""

from __future__ import annotations

import re
from pathlib import Path

from labkit.doors.installed import check_for
from labkit.families.devicenet.frame_facts import FACTS, TELLS
from labkit.families.devicenet.frame_reading import SERVICES, WRITE_TELLS
from labkit.families.devicenet.switches import TELLS as SWITCH_TELLS
from labkit.kinds.switches.check import NOT_SET
from labkit.lab.draw import draw
from labkit.lab.reading import read_lab_text

GUIDE = (Path(__file__).parents[2] / "instructors" / "authoring.md").read_text(encoding="utf-8")
HEADER = """\
---
id: guide
version: 1.0
title: Guide
draw:
  devices: {one of: [rinser, filler, capper], count: 3, different: yes}
  amps: {from: 0.2, to: 6, step: 0.1, count: 3}
  nodes: {from: 1, to: 62, count: 3, different: yes}
  node: {from: 3, to: 62}
  master: {one of: [0, 1, 2]}
  rate: {one of: [125, 250, 500]}
  level: {from: -500, to: 500}
let: {volts: "24"}
---

"""


def test_the_exercises_in_the_guide_are_read_drawn_and_right() -> None:
    # Those of another network family are tried with that family.
    exercises = GUIDE[GUIDE.index("## Exercises") :]
    blocks = re.findall(r"```yaml\n(kind: (\w+)\n.*?)```", exercises, re.DOTALL)
    assert {"table", "switches", "frame"} <= {kind for _, kind in blocks}
    for text, kind in blocks:
        if kind not in ("table", "switches", "frame"):
            continue
        lab = read_lab_text(f"{HEADER}```exercise {kind}\n{text}```\n")
        for number in range(20):
            scenario = draw(lab, f"guide {number}")
            prepared = scenario.prepare(lab.exercises[0])
            check = check_for(kind)
            right = check.right_answer(prepared.ask, prepared.key)
            assert check.check(prepared.ask, prepared.key, right).right
            assert check.slip_answers(prepared.ask, prepared.key)


def test_the_guide_names_every_fact_service_and_mistake() -> None:
    section = GUIDE[GUIDE.index("### A table to fill in") :]
    for name in (*FACTS, NOT_SET, *SWITCH_TELLS, *TELLS, *WRITE_TELLS, *SERVICES):
        assert f"`{name}`" in section, name
