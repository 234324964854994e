"""What halving earns, by labs whose odds can be worked out by hand."""

from __future__ import annotations

import pytest

from labkit.answering.directions import MOST
from labkit.lab.reading import read_lab_text
from labkit.proofing import Finding, Severity, proof
from labkit.proofing.findings import FEW
from labkit.proofing.halving import DIRECTIONS, NOTE_SHARE, TRIES, FoundByHalving

DRAWS = 60
LAB = """\
---
id: halves
version: 1.0
title: Halves
draw:
  a: {{from: 1, to: {to}}}
---

```exercise one
kind: {kind}
title: One
question: How many?
{fields}
marks: 2
working: It is {{{{ a }}}}.
```
"""
NUMBER = "answer: a\nunit: m\ntolerance: {tolerance}\ndecimals: 0"
TABLE = """\
columns: [Length, In words, Twice, Counted]
rows:
  - cells:
      - {{answer: a, unit: m, tolerance: 0, decimals: 0}}
      - {{answer: "'it is'", words: [it is, it is not]}}
      - {{answer: 2 * a, unit: m, tolerance: {tolerance}, decimals: 0}}
      - {{answer: a, write: whole}}"""


def found(kind: str, fields: str, to: int) -> FoundByHalving | None:
    report = proof(read_lab_text(LAB.format(kind=kind, fields=fields, to=to)), DRAWS)
    halved: list[Finding] = [item for item in report.findings if isinstance(item, FoundByHalving)]
    assert len(halved) <= 1 < FEW
    return halved[0] if halved else None  # type: ignore[return-value]


def test_a_whole_number_among_few_is_always_found() -> None:
    # A quarter of 40 numbers holds ten, and ten answers are left.
    finding = found("quantity", NUMBER.format(tolerance=0), 40)
    assert finding is not None
    assert finding.share > 0.95  # 20 for 2 is told as a decimal point gone astray, not as a side
    assert finding.severity is Severity.NOTE
    assert f"{DIRECTIONS} directions" in finding.sentence
    assert (
        f"up to {TRIES} answers earns {100 * finding.share:.0f} % of the marks" in finding.sentence
    )
    assert finding.acceptable


def test_a_number_among_many_is_not_found() -> None:
    assert found("quantity", NUMBER.format(tolerance=0), 4000) is None


@pytest.mark.parametrize(("tolerance", "share"), [(4, 0.36 + 0.03), (8, 0.68 + 0.03)])
def test_the_share_is_what_the_tolerance_covers_of_a_quarter(
    tolerance: int, share: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    # Ten guesses of 2 · tolerance + 1 whole numbers each among some 1,000 / 4, and two halvings.
    monkeypatch.setattr("labkit.proofing.halving.NOTE_SHARE", 0.0)
    monkeypatch.setattr("labkit.proofing.halving._DRAWS", 400)
    report = proof(
        read_lab_text(
            LAB.format(kind="quantity", fields=NUMBER.format(tolerance=tolerance), to=1000)
        ),
        400,
    )
    [finding] = [item for item in report.findings if isinstance(item, FoundByHalving)]
    assert finding.share == pytest.approx(share, abs=0.08)


def test_without_a_side_less_is_found(monkeypatch: pytest.MonkeyPatch) -> None:
    fields = NUMBER.format(tolerance=8)
    told = found("quantity", fields, 1000)
    assert told is not None
    monkeypatch.setattr("labkit.proofing.halving.DIRECTIONS", 0)
    assert found("quantity", fields, 1000) is None


def test_of_a_table_only_cells_whose_side_is_told_are_halved() -> None:
    # Two of four cells; of the second every even number of a quarter of 80.
    finding = found("table", TABLE.format(tolerance=1), 40)
    assert finding is None
    more = TABLE.replace("{{answer: a, write: whole}}", "{{answer: 3 * a, unit: m, tolerance: 3}}")
    finding = found("table", more.format(tolerance=2), 40)
    assert finding is not None
    assert finding.share == pytest.approx(0.75, abs=0.02)


def test_a_measured_value_and_a_place_are_halved_too() -> None:
    fields = """\
unit: ohm
nominal: a
low: a - 1
high: a + 1
meters:
  - {id: bench, text: bench meter, of_reading: 1 %, digits: 1, resolution: 0.1}
  - {id: other, text: other meter, of_reading: 1 %, digits: 1, resolution: 0.1}"""
    finding = found("measured", fields, 40)
    assert finding is not None
    assert finding.share == 1


def test_where_no_side_is_told_nothing_is_halved() -> None:
    fields = """\
answer: "'few' if a < 20 else 'many'"
options:
  - {id: few, text: few, tell: Count.}
  - {id: many, text: many, tell: Count.}"""
    assert found("choice", fields, 40) is None


def test_as_many_directions_are_reckoned_with_as_are_told() -> None:
    assert DIRECTIONS == MOST
    assert 0 < NOTE_SHARE < 1
