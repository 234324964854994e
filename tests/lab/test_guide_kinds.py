"""Every kind's example in the authoring guide is taken out of it, put into a lab and proof-read."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from PIL import Image

from labkit.doors import installed
from labkit.lab.reading import read_lab
from labkit.proofing import Severity, proof

GUIDE = (Path(__file__).parents[2] / "instructors" / "authoring.md").read_text(encoding="utf-8")
EXERCISES = GUIDE.split("## Exercises")[1].split("## What proof finds")[0]

# The names that the examples take for granted.
HEADER = """\
---
id: guide
version: 1.0
title: Guide
draw:
  gaps: {from: 10, to: 40, count: 8}
  amps: {from: 0.2, to: 1.5, step: 0.1, count: 3}
  currents: {from: 0.2, to: 1.5, step: 0.1, count: 8}
  names:
    one of: [infeed, rinser, filler, capper, torque check, labeller, date printer, reject gate]
    count: 8
    different: yes
  produced: {one of: [1, 2, 3, 4], count: 8}
  consumed: {one of: [0, 1, 2], count: 8}
  nodes: {from: 3, to: 61, count: 3, different: yes}
  rate: {one of: [125, 250, 500]}
  n: {from: 2, to: 6}
  whole_tap: {from: 1, to: 4}
  master: {one of: [0, 1, 2]}
  level: {from: -500, to: 500}
  wanted: {from: 0, to: 7}
  part: {one of: [infeed, coil, relay]}
  byte: {from: 0, to: 1}
  bit: {from: 0, to: 6}
  edition: {from: 1, to: 9}
  fix: {from: 1, to: 20}
  at: {from: 0, to: 6}
  net: {from: 1, to: 250}
  host: {from: 2, to: 200}
let:
  devices: names[:3]
  node: nodes[0]
  volts: "24"
  positions: running_total(gaps)
  total: positions[-1] + 5
  least: total / 2
  lengths: '[3, 4, 5, 3, 4, 6, 3, 4]'
  starts: '[2, 5, 9, 14, 17, 21, 27, 30]'
network:
  family: devicenet
  rate: 125
  trunk:
    - {cable: thick, length: total}
  taps: {at: positions, drop: '[2] * 8', device: names, current: currents}
  supply: {at: total / 2, rating: 8}
---

"""


def examples() -> dict[str, list[str]]:
    """The kinds and their examples; where one shows a kind's own fields only, the rest is added."""
    found: dict[str, list[str]] = {}
    kind = ""
    for match in re.finditer(
        r"^### ([^\n]*)$|^```yaml\n(.*?)^```$", EXERCISES, re.MULTILINE | re.DOTALL
    ):
        if match[1]:
            kind = next(iter(re.findall(r"`(\w+)`", match[1])), "")
            continue
        named = re.search(r"^kind: (\w+)$", match[2], re.MULTILINE)
        name = named[1] if named else kind
        common = {"kind": name, "title": "T", "question": "What?", "marks": "1", "working": "W."}
        missing = [
            f"{field}: {value}\n"
            for field, value in common.items()
            if not re.search(rf"^{field}:", match[2], re.MULTILINE)
        ]
        found.setdefault(name, []).append("".join(missing) + match[2])
    return found


def test_every_kind_has_an_example() -> None:
    assert set(examples()) == installed.kinds()


@pytest.mark.parametrize(
    ("kind", "example"), [(kind, text) for kind, texts in examples().items() for text in texts]
)
def test_the_example_of_a_kind_passes_proof(kind: str, example: str, tmp_path: Path) -> None:
    block = f"```exercise {kind.replace('_', '-')}\n{example}```\n"
    (tmp_path / "lab.md").write_text(HEADER + block, encoding="utf-8")
    Image.new("RGB", (80, 40)).save(tmp_path / "starter.png")
    report = proof(read_lab(tmp_path / "lab.md"), 12)
    assert report.drawn == 12
    # What is measured or wired is the same for everybody here, and the supply has much room.
    fixed = {"guessable"} if kind in ("measured", "wiring", "supply_position") else set()
    must = [item for item in report.of(Severity.MUST) if item.id not in fixed]
    assert [item.sentence for item in must] == []
