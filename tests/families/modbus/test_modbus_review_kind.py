"""The kind `review` over a Modbus line: what is planted is found, and nothing else is wrong."""

from __future__ import annotations

import json
import xml.etree.ElementTree as ET
from collections import Counter
from typing import Any

import pytest

from labkit.doors.installed import check_for, review_for
from labkit.kinds.common.drawn import WIDTHS
from labkit.lab.draw import draw
from labkit.lab.reading import read_lab_text
from labkit.language.problems import DefinitionError

REVIEW: Any = review_for("modbus")
CHECK: Any = check_for("review")
LAB = """\
---
id: line-to-review
version: 1.0
title: A line to review
draw:
  gaps: {{from: 20, to: 60, count: 4}}
  stubs: {{from: 3, to: 12, count: 4}}
  nodes: {{from: 1, to: 247, count: 5, different: yes}}
let:
  places: running_total(gaps)
network:
  family: modbus
  rate: 19200
  trunk: places[3]{more}
  taps:
    at: '[0, places[0], places[1], places[2], places[3]]'
    derivation: '[0, stubs[0], [stubs[1], stubs[2]], 0, stubs[3]]'
    device: '["controller", "gate", ["pump", "meter"], "drive", "gauge"]'
    address: '[none, nodes[0], [nodes[1], nodes[2]], nodes[3], nodes[4]]'
  master: '"controller"'
  terminators: {{at: '{ends}', ohms: 120}}
  polarization: {{at: '"controller"', up: 560, down: 560}}
  earth: '"controller"'
---

```exercise drawing
kind: review
title: A drawing
question: What is wrong?
errors: [{errors}]
plant: {plant}
marks: 3
working: Rule by rule.
```
"""


def prepared(seed: str, errors: str, plant: int = 1, **more: str) -> Any:
    fields = {"ends": "[0, places[3]]", "more": "", **more}
    lab = read_lab_text(LAB.format(errors=errors, plant=plant, **fields))
    return draw(lab, seed).prepare(lab.exercises[0])


def named(*errors: str) -> str:
    return ", ".join(f"{{error: {error}}}" for error in errors)


def found(made: Any) -> list[str]:
    drawing = REVIEW.from_json(json.loads(json.dumps(made.key["drawing"])))
    return sorted(each.rule for each in drawing.found())


@pytest.mark.parametrize("error", sorted(REVIEW.errors))
def test_an_error_breaks_its_own_rule_and_no_other(error: str) -> None:
    for seed in range(20):
        assert found(prepared(f"s{seed}", named(error))) == [REVIEW.errors[error]]


def test_several_are_planted_together_and_each_can_be_the_one() -> None:
    counted: Counter[str] = Counter()
    for seed in range(60):
        rules = found(prepared(f"d{seed}", named(*REVIEW.errors), 3))
        assert len(rules) == 3
        counted.update(rules)
    assert set(counted) == set(REVIEW.errors.values())


def test_both_errors_of_terminators_stand_at_places_of_their_own() -> None:
    two = ("terminator on a derivation", "three terminators")
    for seed in range(30):
        made = prepared(f"both{seed}", named(*two), 2)
        assert found(made) == ["terminators"] * 2
        right = CHECK.right_answer(made.ask, made.key)
        assert CHECK.check(made.ask, made.key, right).right


def test_the_verdict_earns_each_error_and_defends_what_is_right() -> None:
    made = prepared("verdict", named("two biases", "address twice", "address not allowed"), 3)
    right = CHECK.right_answer(made.ask, made.key)
    assert CHECK.check(made.ask, made.key, right).right
    for slip, answer in CHECK.slip_answers(made.ask, made.key).items():
        verdict = CHECK.check(made.ask, made.key, answer)
        assert not verdict.right
        assert verdict.slip == slip
    wrong = CHECK.check(made.ask, made.key, [{"part": "line", "rule": "loads"}])
    assert wrong.credit == 0
    assert "All stations, the master too, are 6 unit loads; 28 are allowed" in wrong.message
    assert "0 m (end of the trunk), controller" in [p["words"] for p in made.ask["parts"]]


def test_every_part_has_its_number_and_its_box_inside_the_drawing() -> None:
    made = prepared("boxes", named("three terminators", "two earths", "derivation too long"), 3)
    parts = made.ask["parts"]
    assert [part["number"] for part in parts] == [*range(1, len(parts) + 1)]
    for width, shown in zip(WIDTHS, made.ask["drawings"], strict=True):
        assert set(shown["boxes"]) == {part["id"] for part in parts}
        for left, top, wide, high in (box for boxes in shown["boxes"].values() for box in boxes):
            assert left >= 0
            assert top >= 0
            assert left + wide <= width
            assert top + high <= shown["height"]
        words = [text.text for text in ET.fromstring(shown["svg"]).iter() if text.text]
        assert all(str(part["number"]) in words for part in parts)
    on_paper = " ".join(made.ask["bands"])
    assert all(f">{part['number']}</text>" in on_paper for part in parts)


def test_a_line_that_breaks_a_rule_as_planned_is_refused() -> None:
    with pytest.raises(DefinitionError, match="right end of the trunk has no terminator"):
        prepared("one-end", named("two earths"), ends="[0]")
    with pytest.raises(DefinitionError, match="1001"):
        prepared("long", named("two earths"), more=" * 0 + 1001", ends="[0, 1001]")


def test_an_error_that_is_none_of_the_family_is_told_with_the_near_one() -> None:
    with pytest.raises(DefinitionError, match="no error 'terminator on a drop' to plant"):
        prepared("drop", named("terminator on a drop"))
