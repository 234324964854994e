"""A bench whose fault nobody can find, or cannot tell from another, is told to the author."""

from __future__ import annotations

from collections.abc import Iterable

import pytest
from broken import report_on, the

from labkit.bench.faults import Fault
from labkit.bench.making import MeterTest
from labkit.proofing import Report, Severity

LAB = """\
---
id: quiet
version: 1.0.0
title: Quiet
draw:
  far: {from: 5, to: 40}
network:
  family: devicenet
  rate: 125
  trunk:
    - {cable: thick, length: far + 5}
  taps: {at: '[2, far]', drop: '[1, 2]', device: '["panel", "valves"]', current: '[0.2, 0.3]'}
  supply: {at: 3, rating: 8}
---
```exercise quiet
kind: diagnosis
title: Quiet
question: Find the fault.
scanner: panel
cases:
CASE
marks: 1
working: Measure.
```
"""


WIRED = f"""{LAB[: LAB.index("```exercise")]}```exercise wired
kind: wiring
title: Wired
question: Wire it.
device: valves
marks: 1
working: By colour.
```
"""


def test_words_that_take_long_are_worked_out_in_the_first_twenty_draws(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    told: list[object] = []
    telling = MeterTest.telling

    def counted(test: MeterTest, faults: Iterable[Fault]) -> object:
        told.append(test)
        return telling(test, faults)

    monkeypatch.setattr(MeterTest, "telling", counted)
    assert report_on(WIRED, 20).drawn == 20
    first = len(told)
    assert first >= 20 * 3
    told.clear()
    assert report_on(WIRED, 24).drawn == 24
    assert len(told) == first


def reported(*faults: str) -> Report:
    lines = [f"{'  - - ' if n == 0 else '    - '}{{{fault}}}" for n, fault in enumerate(faults)]
    return report_on(LAB.replace("CASE", "\n".join(lines)), 5)


def ids(report: Report) -> set[str]:
    return {finding.id for finding in report.findings} & {"unseen", "has-twins"}


def test_a_fault_behind_another_must_be_mended() -> None:
    report = reported(
        "kind: supply dead, supply: supply", "kind: rate set, device: valves, rate: 500"
    )
    finding = the(report, "unseen")
    assert finding.severity is Severity.MUST
    assert "500 kbit/s is set at" in finding.sentence
    assert finding.seed == "proof-1"
    assert ids(report) == {"unseen"}


def test_a_loose_contact_that_an_assessed_class_cannot_see() -> None:
    report = reported("kind: loose, connector: right end, wire: CAN_H, every_s: 7, open_s: 2")
    finding = the(report, "unseen")
    assert finding.severity is Severity.LOOK
    assert "In an assessed class nothing shows this" in finding.sentence
    assert "assessed" in finding.mend
    assert ids(report) == {"unseen", "has-twins"}


def test_twins_are_a_note() -> None:
    finding = the(reported("kind: broken, connector: valves, wire: CAN_H"), "has-twins")
    assert finding.severity is Severity.NOTE
    assert "at tap 2, drop" in finding.sentence


@pytest.mark.parametrize(
    "fault",
    [
        "kind: terminator missing, end: left end",
        "kind: rate set, device: valves, rate: 500",
        "kind: swapped, connector: valves, a: CAN_H, b: CAN_L",
    ],
)
def test_a_fault_that_shows_and_has_no_twin_is_not_told(fault: str) -> None:
    assert ids(reported(fault)) == set()


STORY = (
    LAB.replace("far: {from: 5, to: 40}", "at: {from: 0, to: 3}\n  other: {from: 0, to: 3}")
    .replace("network:", """let:
  names: '["panel", "valves", "lamp", "gate"]'
  culprit: names[at]
network:""")
    .replace("length: far + 5", "length: 40")
    .replace("'[2, far]', drop: '[1, 2]'", "'[2, 8, 14, 20]', drop: '[1, 2, 1, 2]'")
    .replace("""'["panel", "valves"]'""", "names")
    .replace("current: '[0.2, 0.3]'", "current: '[0.2, 0.3, 0.2, 0.3]'")
    .replace("CASE", '  - - {kind: babbling, device: "{{ culprit }}"}')
)  # fmt: skip


def told(question: str) -> Report:
    return report_on(STORY.replace("question: Find the fault.", f"question: {question}"), 60)


def test_a_story_that_names_the_place_is_told() -> None:
    finding = the(told("The {{ culprit }} was replaced. Find the fault."), "tells-place")
    assert finding.severity is Severity.LOOK
    assert "names the place that is to be found in all 60 draws" in finding.sentence
    assert "question" in finding.place.field
    assert STORY.count(finding.named) > 0  # type: ignore[attr-defined]


@pytest.mark.parametrize(
    "question",
    [
        "Find the fault.",
        "The supply is warm, and the valves are slow. Find the fault.",
        "The {{ names[other] }} does nothing. Find the fault.",
        "The panel, the valves, the lamp or the gate, or two of them. Find the fault.",
    ],
)
def test_a_story_that_names_what_it_would_name_anyhow_is_not_told(question: str) -> None:
    assert "tells-place" not in {finding.id for finding in told(question).findings}
