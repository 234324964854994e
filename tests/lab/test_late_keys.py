"""What only a wrong answer needs is worked out for a wrong answer only, and is never lost."""

from __future__ import annotations

import pytest

from labkit.doors.installed import check_for
from labkit.doors.prepared import Prepared
from labkit.lab.draw import draw
from labkit.lab.reading.lab_file import read_lab_text

LAB = """\
---
id: late
version: 1.0
title: Late
---

```exercise ohm
kind: quantity
title: T
question: Q?
answer: 12
unit: V
marks: 1
slips:
  - {id: broken, answer: 1 / (12 - 12), tell: Never worked out.}
working: W
```
"""


def test_a_right_answer_never_works_the_slips_out() -> None:
    exercise = (lab := read_lab_text(LAB)).exercises[0]
    prepared = draw(lab, "seed").prepare(exercise)
    check = check_for("quantity")
    assert check.check(prepared.ask, prepared.key_as_needed, "12 V").right
    with pytest.raises(ValueError, match="divides by zero"):
        check.check(prepared.ask, prepared.key_as_needed, "11 V")
    with pytest.raises(ValueError, match="divides by zero"):
        prepared.key  # noqa: B018


def test_a_late_part_is_worked_out_once_and_is_in_the_whole_key() -> None:
    calls: list[int] = []

    def late() -> list[int]:
        calls.append(0)
        return [2]

    prepared = Prepared({}, {"a": 1}, late={"b": late})
    lean = prepared.key_as_needed
    assert "b" in lean
    assert (lean["a"], lean["b"], lean["b"], lean.get("b"), lean.get("c", 9)) == (
        1,
        [2],
        [2],
        [2],
        9,
    )
    assert len(calls) == 1
    assert prepared.key == {"a": 1, "b": [2]}
    assert len(calls) == 1
    with pytest.raises(KeyError):
        lean["c"]
