"""A lab's picture can leave out the data rate and the current in all, where an exercise asks it."""

from __future__ import annotations

from pathlib import Path

import pytest

from labkit.lab.draw import draw
from labkit.lab.reading import read_lab
from labkit.language.problems import DefinitionError

LAB = """---
id: quiet-picture
version: 1.0
title: Quiet picture
draw:
  metres: {from: 40, to: 80}
network:
  family: devicenet
  rate: 250
  trunk: [{cable: thick, length: metres}]
  taps: {at: '[10, 20]', drop: '[1, 2]', device: '["scale", "gate"]', current: '[0.5, 0.25]'}
  LEAVES
---

Text.

```picture
```

```exercise total
kind: quantity
title: Total
question: How much in all?
answer: 0.5 + 0.25
unit: A
marks: 1
working: Add.
```
"""


def told(folder: Path, leaves: str) -> tuple[str, str]:
    """The picture as text, and the line of facts, of a lab with this line in its network."""
    file = folder / "lab.md"
    file.write_text(LAB.replace("LEAVES", leaves), encoding="utf-8")
    lab = read_lab(file)
    scenario = draw(lab, "quiet")
    assert lab.network is not None
    return lab.network.draw(scenario.network), lab.network.facts(scenario.network)


@pytest.mark.parametrize(
    ("leaves", "rate", "total"),
    [
        ("", True, True),
        ("picture leaves out: [total]", True, False),
        ("picture leaves out: [rate]", False, True),
        ("picture leaves out: [rate, total]", False, False),
    ],
)
def test_the_picture_shows_what_the_lab_does_not_leave_out(
    tmp_path: Path, leaves: str, rate: bool, total: bool
) -> None:
    picture, facts = told(tmp_path, leaves)
    assert ("250 kbit/s" in picture) == ("250 kbit/s" in facts) == rate
    assert ("0.75 A" in picture) == total
    assert "0.25 A" in picture


def test_only_what_a_picture_shows_can_be_left_out(tmp_path: Path) -> None:
    with pytest.raises(DefinitionError, match="picture leaves out") as raised:
        told(tmp_path, "picture leaves out: [lengths]")
    assert "rate" in str(raised.value)
