"""What a lab states: values with their sources, and how hard a scenario is."""

from __future__ import annotations

import pytest

from labkit.lab.draw import draw, draw_again
from labkit.lab.reading import read_lab_text
from labkit.language.problems import DefinitionError

TEXT = """\
---
id: stated
version: 1
title: Stated
draw:
  gaps: {from: 2, to: 9, count: taps}
sources:
  taps: {value: 3, source: A plan}
  ohms: {value: "0.069", source: ODVA PUB00027R1}
let:
  loss: sum(gaps) * ohms
network:
  family: devicenet
  rate: 125
  trunk:
    - {cable: thin, length: taps * 10}
  taps: {at: "[taps]", drop: "[1]", device: '["scale"]', current: "[0.1]"}
valid:
  - {rule: loss > ohms, because: of the test}
difficulty: {formula: loss / ohms, band: [6, 27]}
---

```exercise loss
kind: quantity
title: "{{ taps }}"
question: With {{ ohms }} ohm a metre?
answer: loss
unit: V
marks: 1
working: W.
```
"""


def test_formulas_of_every_kind_use_the_values_by_name() -> None:
    lab = read_lab_text(TEXT)
    scenario = draw(lab, "s")
    assert lab.constant_values == {"taps": 3, "ohms": 0.069}
    assert type(lab.constant_values["taps"]) is int
    assert lab.constants["ohms"].source == "ODVA PUB00027R1"
    assert len(scenario.names["gaps"]) == 3
    assert scenario.network.trunk_length == 30
    assert lab.exercises[0].question.render(scenario.names) == "With 0.069 ohm a metre?"
    assert scenario.prepare(lab.exercises[0]).key["value"] == scenario.names["loss"]


def test_the_values_are_not_drawn() -> None:
    before = draw(read_lab_text(TEXT), "s")
    more = TEXT.replace("sources:\n", "sources:\n  spare: {value: 1, source: x}\n")
    after = draw(read_lab_text(more), "s")
    assert before.drawn == after.drawn
    assert before.fingerprint == after.fingerprint
    assert set(before.drawn) == {"gaps"}


def test_a_scenario_knows_how_hard_it_is_also_when_drawn_again() -> None:
    lab = read_lab_text(TEXT)
    scenario = draw(lab, "s")
    assert scenario.difficulty == pytest.approx(sum(scenario.names["gaps"]))
    assert draw_again(lab, "s", scenario.tries).difficulty == scenario.difficulty
    assert lab.difficulty is not None
    assert lab.difficulty.band == (6, 27)


def test_a_lab_need_state_nothing() -> None:
    text = TEXT.replace("difficulty: {formula: loss / ohms, band: [6, 27]}\n", "")
    assert draw(read_lab_text(text), "s").difficulty is None
    bare = TEXT.replace(", band: [6, 27]", "")
    assert read_lab_text(bare).difficulty is not None


@pytest.mark.parametrize(
    ("old", "new", "line", "words"),
    [
        ("value: 3", "value: three", 8, "not a number"),
        ("value: 3, ", "", 8, "is missing"),
        (", source: A plan", "", 8, "is missing"),
        ("  taps: {value", "  gaps: {value", 8, "drawn above already"),
        ("  taps: {value", "  loss: {value", 11, "under 'sources' already"),
        ("  taps: {value", "  max: {value", 8, "already in use"),
        ("  taps: {value", "  network: {value", 8, "already in use"),
        ("count: taps", "count: loss", 6, "comes after"),
        ("[6, 27]", "[27, 6]", 20, "Exchange them"),
        ("[6, 27]", "[6]", 20, "at least 2"),
        ("[6, 27]", "[6, much]", 20, "not a number"),
        ("formula: loss / ohms, ", "", 20, "is missing"),
        ("formula: loss / ohms", "formla: loss", 20, "Did you mean 'formula'?"),
        ("formula: loss / ohms", "formula: los", 20, "Did you mean 'loss'?"),
        ("value: 3", "valeu: 3", 8, "Did you mean 'value'?"),
    ],
)
def test_a_mistake_is_told_with_its_line(old: str, new: str, line: int, words: str) -> None:
    assert old in TEXT
    with pytest.raises(DefinitionError) as refused:
        read_lab_text(TEXT.replace(old, new, 1))
    told = [problem for problem in refused.value.problems if words in str(problem)]
    assert [problem.place.line for problem in told] == [line]


def test_a_difficulty_that_is_no_number_is_told_with_its_place() -> None:
    lab = read_lab_text(TEXT.replace("formula: loss / ohms", "formula: gaps"))
    with pytest.raises(DefinitionError, match=r"line 20.*not a number"):
        _ = draw(lab, "s").difficulty
