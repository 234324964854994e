"""One-sided answers and whole numbers: what is right, what is told, what proof-reading says."""

from __future__ import annotations

import math
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labkit.lab.draw import draw
from labkit.lab.kinds import check_for
from labkit.lab.reading import read_lab_text
from labkit.language.problems import DefinitionError
from labkit.proofing import proof

HEAD = """---
id: spans
version: 1.0
title: Spans
draw:
  length: {one of: [70, 71, 73, 76, 79, 80]}
---
Text.

```exercise asked
kind: quantity
title: How long
question: What is the least length?
unit: m
marks: 1
working: As it is.
"""
LEAST: dict[str, Any] = {
    "value": 70 / 3, "up_to": 30.0, "tolerance": 0.25, "decimals": 1, "breaks": "Longer drops.",
    "slips": [{"id": "other", "value": 40.0, "tell": "The other rule."}],
}  # fmt: skip
MOST: dict[str, Any] = {
    **{name: part for name, part in LEAST.items() if name != "up_to"}, "down_to": 20.0
}  # fmt: skip
METRES = {"unit": "m"}


def lab(*lines: str) -> str:
    return HEAD + "\n".join(lines) + "\n```\n"


def asked(*lines: str, seed: str = "1") -> tuple[Any, dict[str, Any], dict[str, Any]]:
    definition = read_lab_text(lab(*lines))
    prepared = draw(definition, seed).prepare(definition.exercises[0])
    return check_for("quantity"), prepared.ask, prepared.key


@pytest.mark.parametrize(
    ("text", "credit", "slip", "told"),
    [
        ("23.4 m", 1, "", "from 23.4 m to 30 m"),
        ("24 m", 1, "", ""),
        ("30 m", 1, "", ""),
        ("23.334 m", 1, "", ""),
        ("23.33334 m", 1, "", ""),
        ("2340 cm", 1, "", ""),
        ("23.33 m", 0, "rounded-away", "the least is rounded up. Longer drops."),
        ("23.3 m", 0, "rounded-away", "Longer drops."),
        ("23 m", 0, "rounded-away", ""),
        ("23.2 m", 0, "", "23.2 m is too small. Longer drops."),
        ("30.1 m", 0, "", "keeps the rule, but it is more than is sensible"),
        ("40.1 m", 0, "other", "The other rule."),
        ("250 m", 0, "decimal-point", ""),
        ("80 m", 0, "feet-and-metres", ""),
    ],
)
def test_from_the_least_to_what_is_sensible(text: str, credit: int, slip: str, told: str) -> None:
    verdict = check_for("quantity").check(METRES, LEAST, text)
    assert (verdict.credit, verdict.slip) == (credit, slip)
    assert told in verdict.message
    if verdict.directions:
        assert "too" not in verdict.without_direction


@pytest.mark.parametrize(
    ("text", "credit", "slip", "told"),
    [
        ("23.3 m", 1, "", "from 20 m to 23.3 m"),
        ("20 m", 1, "", ""),
        ("23.4 m", 0, "rounded-away", "the most is rounded down"),
        ("24 m", 0, "rounded-away", ""),
        ("24.5 m", 0, "", "24.5 m is too large. Longer drops."),
        ("19.9 m", 0, "", "less than is sensible"),
    ],
)
def test_from_what_is_sensible_to_the_most(text: str, credit: int, slip: str, told: str) -> None:
    verdict = check_for("quantity").check(METRES, MOST, text)
    assert (verdict.credit, verdict.slip) == (credit, slip)
    assert told in verdict.message


@given(
    value=st.floats(0.01, 10_000),
    room=st.floats(0, 2),
    decimals=st.integers(0, 3),
    share=st.floats(-1, 2),
    up=st.booleans(),
)
def test_no_number_that_breaks_the_rule_is_right(
    value: float, room: float, decimals: int, share: float, up: bool
) -> None:
    far = value * (1 + room if up else 1 / (1 + room))
    key = {"value": value, "up_to" if up else "down_to": far, "tolerance": value / 50,
           "decimals": decimals, "breaks": "", "slips": []}  # fmt: skip
    check = check_for("quantity")
    assert check.check(METRES, key, check.right_answer(METRES, key)).right
    given = value + share * (far - value)
    low, high = sorted((value, far))
    noise = 2e-9 * max(1.0, high)
    right = check.check(METRES, key, f"{given:.15g} m").right
    if not low - noise <= given <= high + noise:
        assert not right
    elif low <= given <= high:
        assert right


@given(value=st.floats(0.1, 5_000), decimals=st.integers(0, 4))
def test_the_right_answer_is_rounded_to_the_side_where_the_rule_holds(
    value: float, decimals: int
) -> None:
    key = {"value": value, "up_to": value + 2, "tolerance": 1.0, "decimals": decimals,
           "breaks": "", "slips": []}  # fmt: skip
    written = float(check_for("quantity").right_answer(METRES, key).split()[0])
    assert written >= value - 2e-9 * max(1.0, value)
    assert written - value < 10.0**-decimals


def test_marks_on_paper_name_the_span() -> None:
    check: Any = check_for("quantity")
    sheet = check.paper_for_marking(METRES, LEAST, 2)
    assert "Accepted: from 23.4 m to 30 m (the least is 23.333333 m), 2 marks" in sheet
    whole = {**LEAST, "value": 9.0, "up_to": 12.0, "decimals": 0}
    sheet = check.paper_for_marking({"unit": "byte", "whole": True}, whole, 2)
    assert "from 9 byte to 12 byte, whole numbers only" in sheet


def test_the_fields_make_the_key() -> None:
    check, ask, key = asked("answer: length / 3", "up to: 30", "breaks: Over {{ length }} m.")
    assert key["value"] < key["up_to"] == 30
    assert "Over 7" in check.check(ask, key, "20 m").message
    check, ask, key = asked("answer: length", "down to: length - 5")
    assert check.check(ask, key, f"{key['value'] - 5:g} m").right
    assert not check.check(ask, key, f"{key['value'] + 0.1:g} m").right


def test_a_span_without_numbers_is_told_with_its_draw() -> None:
    with pytest.raises(DefinitionError, match="on the wrong side of the answer"):
        asked("answer: length", "up to: length - 1")
    with pytest.raises(DefinitionError, match="on the wrong side of the answer"):
        asked("answer: length", "down to: length + 1")
    report = proof(read_lab_text(lab("answer: length", "up to: 75")), 40)
    assert "no-value" in {finding.id for finding in report.findings}


@pytest.mark.parametrize(
    ("lines", "told"),
    [
        (("answer: 3", "up to: 4", "down to: 2"), "has one end that a rule sets"),
        (("answer: 3", "breaks: No."), "Add 'up to' or 'down to'"),
        (("answer: 3", "whole: yes", "decimals: 2"), "whole numbers have no decimals"),
    ],
)
def test_fields_that_do_not_go_together(lines: tuple[str, ...], told: str) -> None:
    with pytest.raises(DefinitionError, match=told):
        read_lab_text(lab(*lines))


def test_proof_reads_spans() -> None:
    slip = "slips: [{id: s, answer: length / 3 + (1 if length < 76 else 30), tell: Not that.}]"
    wide = proof(read_lab_text(lab("answer: length / 3", "up to: 40", slip)), 40)
    assert "the span takes the slip 's' for right" in " ".join(f.sentence for f in wide.findings)
    narrow = proof(
        read_lab_text(lab("answer: length / 3", "up to: length / 3 + 0.2", "decimals: 0")), 40
    )
    rejected = [f for f in narrow.findings if f.id == "rounding-rejected"]
    assert rejected
    assert "to the safe side" in rejected[0].sentence
    fits = proof(read_lab_text(lab("answer: length / 3", "up to: 40", "decimals: 0")), 40)
    assert "rounding-rejected" not in {finding.id for finding in fits.findings}


def test_whole_numbers_are_whole() -> None:
    slip = "slips: [{id: part, answer: (length - 1) / 8 - 0.4, tell: Half a byte.}]"
    lines = ("answer: -(-length // 8)", "whole: yes", "tolerance: 1", slip)
    definition = read_lab_text(lab(*lines).replace("unit: m", "unit: byte"))
    scenario = draw(definition, "1")
    prepared = scenario.prepare(definition.exercises[0])
    check, ask, key = check_for("quantity"), prepared.ask, prepared.key
    right = int(key["value"])
    assert key["value"] == math.ceil(scenario.names["length"] / 8)
    assert check.right_answer(ask, key) == f"{right} byte"
    assert check.check(ask, key, f"{right:.1f} byte").right
    assert check.check(ask, key, f"{right * 8} bit").right
    half = check.check(ask, key, f"{right - 0.9:g} byte")
    assert (half.credit, half.slip, half.readable) == (0, "not-whole", True)
    assert check.check(ask, key, f"{key['slips'][0]['value']:.2f} byte").slip == "part"


def test_a_whole_number_must_be_one_in_every_draw() -> None:
    with pytest.raises(DefinitionError, match="but a whole number is asked for"):
        asked("answer: length / 3", "whole: yes")


def test_of_whole_numbers_none_beside_it_is_right() -> None:
    check, ask, key = asked("answer: length * 10", "whole: yes")
    assert not check.check(ask, key, f"{key['value'] + 1:g} m").right


@pytest.mark.parametrize(
    "text", ["6 or 7", "6/64", "6 or seven", "6 to 7", "6 V", "6 %", "6 - 1", "6 (or so) 7", "6 k"]
)
def test_what_follows_a_count_is_not_ignored(text: str) -> None:
    verdict = check_for("quantity").check({"unit": ""}, {**LEAST, "value": 6.0}, text)
    assert not verdict.readable
    assert verdict.credit == 0


@pytest.mark.parametrize("text", ["6", "6 taps", "6 data frames", "6 bytes", "6 nodes."])
def test_a_noun_after_a_count_is_read(text: str) -> None:
    assert check_for("quantity").check({"unit": ""}, {**LEAST, "value": 6.0}, text).right


CELL = """
kind: table
title: How long
question: What is the least length?
marks: 1
columns: [what, how much]
rows:
  - cells: ["length", {CELL}]
working: As it is.
```
"""


def table(cell: str) -> str:
    return HEAD.split("kind:", maxsplit=1)[0].rstrip("\n") + CELL.replace("{CELL}", f"{{{cell}}}")


def test_a_cell_of_a_table_may_be_one_sided_and_whole() -> None:
    definition = read_lab_text(
        table(
            'answer: length / 3, unit: m, up to: 30, breaks: "Over {{ length }} m.", decimals: 1, '
            "slips: [{id: s, answer: 50, tell: Not that.}]"
        )
    )
    prepared = draw(definition, "1").prepare(definition.exercises[0])
    check, ask, key = check_for("table"), prepared.ask, prepared.key
    assert check.check(ask, key, {"1.2": "29"}).right
    low = check.check(ask, key, {"1.2": "20"})
    assert "Over 7" in low.message
    assert not low.right
    assert check.slip_answers(ask, key) == {"s": {"1.2": "50.0 m"}}
    assert check.check(ask, key, check.right_answer(ask, key)).right
    whole = read_lab_text(table("answer: length, unit: m, whole: yes"))
    prepared = draw(whole, "1").prepare(whole.exercises[0])
    assert not check.check(prepared.ask, prepared.key, {"1.2": "70.5"}).right
    assert check.check(
        prepared.ask, prepared.key, check.right_answer(prepared.ask, prepared.key)
    ).right
    with pytest.raises(DefinitionError, match="belongs to a number with a unit"):
        read_lab_text(table("answer: length, write: whole, up to: 90"))


def test_of_two_mistakes_close_together_the_nearer_one_is_told() -> None:
    slips = [
        {"id": "no-contacts", "value": 2.30, "tell": "The contacts are missing."},
        {"id": "one-contact-each", "value": 2.33, "tell": "One contact each."},
    ]
    key = {"value": 2.4, "tolerance": 0.02, "decimals": 2, "slips": slips}
    check = check_for("quantity").check
    told = [check({"unit": "V"}, key, f"{value} V").slip for value in (2.31, 2.32)]
    assert told == ["no-contacts", "one-contact-each"]


@pytest.mark.parametrize(
    ("written", "slip"),
    [("0.8 A", "rounded-too-far"), ("0.7 A", ""), ("1 A", ""), ("0.80 A", "rounded-too-far")],
)
def test_a_right_number_with_too_few_decimals_is_told_as_rounded(written: str, slip: str) -> None:
    key = {"value": 0.786, "tolerance": 0.002, "decimals": 3, "slips": []}
    verdict = check_for("quantity").check({"unit": "A"}, key, written)
    assert not verdict.right
    assert verdict.slip == slip
    if slip:
        assert "give 3 decimals" in verdict.message
