"""What a few draws show by chance alone is no finding: a preview proof-reads only so many."""

from __future__ import annotations

import pytest

from labkit.lab.reading import read_lab_text
from labkit.preview.quick_proof import DRAWS
from labkit.proofing import proof

LAB = """\
---
id: third
version: 1.0
title: One of three
minutes: 5
draw:
  which: {one of: CASES}
  length: {from: 2, to: 90}
---

{{ length }}

```exercise count
kind: quantity
title: A number
question: How many?
answer: which
unit: m
tolerance: 0
marks: 1
working: So many.
```
"""


@pytest.mark.parametrize(
    ("cases", "told"), [("[40, 70, 95]", False), ("[40, 40, 40, 70, 95]", True)]
)
def test_one_answer_of_three_is_guessed_no_more_often_in_few_draws_than_in_many(
    cases: str, told: bool
) -> None:
    lab = read_lab_text(LAB.replace("CASES", cases))
    for draws in (DRAWS, 400):
        found = [each for each in proof(lab, draws).findings if each.id == "guessable"]
        assert bool(found) is told, draws
