"""An example of an answer that earns marks: provoked in a kind's own page and in the lab's text."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from broken import SOUND, broken, line_of, report_on, the

from labkit.doors.installed import check_for
from labkit.lab.draw import draw
from labkit.lab.reading import read_lab, read_lab_text
from labkit.proofing import Severity, proof

ROOT = Path(__file__).parents[2]
ID = "example-is-right"
QUESTION = "question: How much is lost along one conductor?"
BROAD = ("tolerance: 1 %", "tolerance: 1")
NARROW = ("tolerance: 1 %", "tolerance: 0.2")
ADDRESS = """
```exercise bit
kind: direct_address
title: The bit
question: Where is bit {{ near % 8 }} of the pump's first byte?
map: {device: '["pump"]', at: '[near]', length: '[2]'}
area: input
area_bytes: "40"
device: '"pump"'
byte: "0"
bit: near % 8
marks: 1
working: "%IX{{ near }}.{{ near % 8 }}"
```
"""


def test_the_sound_lab_has_no_such_example() -> None:
    assert "example-is-right" not in {finding.id for finding in report_on(SOUND).findings}


@pytest.mark.parametrize(
    "shown", ["for example 2.5 V", "900 V or 2.5 V", "such as 2500 mV", {"value": 1}]
)
def test_an_example_of_the_kind_that_is_right_in_some_draws(
    shown: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    quantity = type(check_for("quantity"))
    monkeypatch.setattr(quantity, "examples", lambda *_: ["a number", shown])
    report = proof(read_lab_text(SOUND.replace(*BROAD)), 60)
    found = [finding for finding in report.findings if finding.id == "example-is-right"]
    if isinstance(shown, dict):
        assert found == []
        return
    [finding] = found
    assert finding.severity is Severity.MUST
    assert finding.place.line == line_of("kind: quantity")
    assert finding.exercise == "loss"
    value = next(word for word in shown.split() if word.startswith("2"))
    assert f"the kind 'quantity' shows '{value} " in finding.sentence
    loss = draw(report.lab, finding.seed).names["loss"]
    assert abs(loss - 2.5) <= 1
    assert "Report this" in finding.mend


@pytest.mark.parametrize(
    "words",
    ["(for example 2.5 V)", "e.g. **2.5 V**", "such as: “2.5 V”", "like this: `2500 mV`"],
)
def test_an_example_in_the_question_that_is_right_in_many_draws(words: str) -> None:
    finding = the(broken(BROAD, (QUESTION, f"question: 'How much is lost? Write {words}'")), ID)
    assert finding.severity is Severity.MUST
    assert finding.sentence.startswith("the question shows '2")
    assert "(must be mended above 10 %)" in finding.sentence
    assert finding.place.line == line_of(QUESTION)


def test_an_example_that_is_right_now_and_then_is_to_be_looked_at() -> None:
    finding = the(broken(NARROW, (QUESTION, f"{QUESTION} (for example 2.5 V)")), ID)
    assert finding.severity is Severity.LOOK
    assert abs(draw(report_on(SOUND).lab, finding.seed).names["loss"] - 2.5) <= 0.2


def test_an_example_that_is_never_right_and_other_numbers_are_none() -> None:
    for words in ("for example 900 V", "for example 2.5 A", "24 V", "at 2.5 V", "for example V"):
        report = broken(BROAD, (QUESTION, f"{QUESTION} ({words})"))
        assert ID not in {finding.id for finding in report.findings}, words


def test_an_example_in_the_text_counts_for_every_exercise() -> None:
    text = SOUND.replace(*BROAD).replace("It carries", "Write units (such as 2.5 V). It carries")
    finding = the(report_on(text), ID)
    assert (finding.exercise, finding.place.line) == ("loss", line_of("The trunk has"))
    assert finding.sentence.startswith("the text shows '2.5 V'")


def test_an_address_set_as_code_is_an_example_too() -> None:
    text = SOUND.replace("It carries", "Bit 3 of byte 11 is `%IX11.3`. It carries") + ADDRESS
    finding = the(report_on(text), ID)
    assert (finding.exercise, finding.severity) == ("bit", Severity.LOOK)
    assert draw(report_on(text).lab, finding.seed).names["near"] == 11
    assert "'%IX11.3' as an example" in finding.sentence


def test_an_example_for_one_cell_of_a_table() -> None:
    lab = read_lab(ROOT / "tests" / "lab" / "data" / "small-answers.md")
    table = next(exercise for exercise in lab.exercises if exercise.kind == "table")
    scenario = draw(lab, "proof-1")
    prepared = scenario.prepare(table)
    right = check_for("table").right_answer(prepared.ask, prepared.key)
    cell = next(text for text in right.values() if text.isdigit())
    source = (ROOT / "tests" / "lab" / "data" / "small-answers.md").read_text("utf-8")
    title = next(line for line in source.splitlines() if line == f"title: {table.data['title']}")
    report = proof(read_lab_text(source.replace(title, f"title: Such as {cell}", 1)), 1)
    assert table.id in {finding.exercise for finding in report.findings if finding.id == ID}


def test_an_author_may_let_it_stand() -> None:
    accepted = f"accepted:\n  - finding: {ID}\n    because: it is the unit that counts\nmarks: 2"
    report = broken(NARROW, (QUESTION, f"{QUESTION} (for example 2.5 V)"), ("marks: 2", accepted))
    assert ID not in {finding.id for finding in report.findings}
    assert [stands.finding.id for stands in report.accepted] == [ID]
