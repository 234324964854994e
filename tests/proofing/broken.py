"""A sound small lab, and ways to break it: what the tests of proof-reading share."""

from __future__ import annotations

from functools import lru_cache
from typing import Any

from labkit.lab.reading import read_lab_text
from labkit.proofing import Finding, Report, proof

SOUND = """\
---
id: sound
version: 1.0
title: Sound
draw:
  near: {from: 2, to: 20}
  far: {from: 21, to: 60}
  load: {from: 0.3, to: 2.9, step: 0.1}
sources:
  ohms: {value: 0.069, source: ODVA PUB00027R1}
let:
  length: near + far
  loss: length * ohms * load
valid:
  - rule: far > near
    because: the names say so
difficulty: {formula: near + far, band: [20, 90]}
---

The trunk has a near part of {{ near }} m and a far part of {{ far }} m. It carries {{ load }} A.

```exercise loss
kind: quantity
title: The loss
question: How much is lost along one conductor?
answer: loss
unit: V
tolerance: 1 %
marks: 2
hints:
  - text: A metre has {{ ohms }} Ω.
    costs: 0.5
slips:
  - id: both-conductors
    answer: 2 * loss
    tell: That is both conductors together.
  - id: far-part-only
    answer: far * ohms * load
    tell: The near part is missing.
working: "{{ length }} m · {{ ohms }} Ω/m · {{ load }} A = {{ loss | fixed(2) }} V"
```

```exercise which
kind: choice
title: Which end
question: The supply stands at the joint. Which part loses more volts per ampere?
answer: '"near-part" if near * 3 > far else "far-part"'
marks: 1
options:
  - {id: near-part, text: three near parts in a row, tell: Compare three times near with far.}
  - {id: far-part, text: the whole of the far part, tell: Compare three times near with far.}
working: Compare {{ 3 * near }} m with {{ far }} m.
```
"""


@lru_cache(maxsize=64)
def report_on(text: str, draws: int = 150) -> Report:
    """The report on a lab's text."""
    return proof(read_lab_text(text), draws)


def broken(*changes: tuple[str, str], draws: int = 150) -> Report:
    """The report on the sound lab after some changes, each of which must take hold."""
    text = SOUND
    for old, new in changes:
        assert old in text, old
        text = text.replace(old, new, 1)
    return report_on(text, draws)


def the(report: Report, name: str) -> Finding:
    """The one finding of that id."""
    (found,) = [finding for finding in report.findings if finding.id == name]
    return found


def line_of(part: str, text: str = SOUND) -> int:
    """The line of the first one that holds `part`."""
    return next(n for n, line in enumerate(text.splitlines(), 1) if part in line)


def but_for_times(report: Report) -> dict[str, Any]:
    """The report's data without what differs from run to run: the shares of the drawing time."""

    def of(item: Any) -> Any:
        if isinstance(item, dict):
            return {name: of(value) for name, value in item.items() if "time_share" not in name}
        return [of(value) for value in item] if isinstance(item, list) else item

    whole: dict[str, Any] = of(report.to_json())
    return whole
