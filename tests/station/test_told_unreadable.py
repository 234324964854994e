"""An assessed trainee is told at once what cannot be read, all of an answer or a part of it."""

from __future__ import annotations

from pathlib import Path

from at_a_desk import Desk, task_file

from labkit.lab.draw import draw
from labkit.lab.reading import read_lab_text

LAB = """\
---
id: forms
version: 1.0
title: Forms
draw:
  n: {from: 5, to: 9}
---
Text.

```exercise plan
kind: address_plan
title: Addresses
question: Give addresses.
devices: "['scale', 'valve']"
marks: 1
working: Any.
```

```exercise sheet
kind: table
title: Sheet
question: Fill in.
columns: [what, how many, how long]
rows:
  - cells: [taps, {answer: n, write: whole}, {answer: n, unit: m}]
marks: 1
working: As drawn.
```
"""


def test_what_cannot_be_read_is_told_and_nothing_else(tmp_path: Path) -> None:
    desk = Desk(task_file(draw(read_lab_text(LAB), "1"), tmp_path, practice=False))
    plan, sheet = (desk.exercise(name).answering for name in ("plan", "sheet"))
    told = plan.verdict({"scale": "0x05", "valve": "64"})
    assert told is not None
    assert not told.readable
    assert told.message == (
        "scale: '0x05' is hexadecimal: write it as a decimal number here.\nThe rest can be read."
    )
    assert plan.verdict({"scale": "node 5", "valve": "64"}) is None
    told = sheet.verdict({"1.2": "6 or 7", "1.3": "5"})
    assert told is not None
    assert "how many (taps): '6 or 7'" in told.message
    assert "how long" not in told.message
    assert sheet.verdict({"1.2": "6", "1.3": "400 km"}) is None
