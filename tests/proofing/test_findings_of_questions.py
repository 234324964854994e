"""A least that is taken from below, a most from above, and parts of what is counted."""

from __future__ import annotations

import pytest
from broken import SOUND, broken, line_of, report_on, the

from labkit.proofing import Severity

QUESTION = "question: How much is lost along one conductor?"


@pytest.mark.parametrize(
    ("asking", "said", "side"),
    [
        ("How many volts are lost *at least*?", "at least", -1),
        ("What is the minimum loss?", "minimum", -1),
        ("How many volts may a meter show at most?", "at most", 1),
        ("Up to 2.5 A flow. What is the maximum?", "maximum", 1),
    ],
)
def test_a_number_on_the_wrong_side_is_taken(asking: str, said: str, side: int) -> None:
    finding = the(broken((QUESTION, f'question: "{asking}"')), "rule-broken-is-right")
    assert finding.severity is Severity.LOOK
    assert (finding.exercise, finding.place.line) == ("loss", line_of("tolerance:"))
    details = finding.to_json()["details"]
    assert details["asked"].replace("*", "") == said
    assert (float(details["taken"].split()[0]) - details["right"]) * side > 0


@pytest.mark.parametrize(
    "question",
    [
        '"The supply gives at most 8 A. How much is lost?"',
        '"Is it at least 3 V or at most 4 V? How much is lost?"',
        '"How much is lost?"',
    ],
)
def test_what_is_given_is_not_asked_for(question: str) -> None:
    report = broken((QUESTION, f"question: {question}"))
    assert "rule-broken-is-right" not in {finding.id for finding in report.findings}


def test_a_one_sided_answer_is_judged_as_it_is_asked_for() -> None:
    one_sided = ("tolerance: 1 %", "up to: loss + 1")
    asked = (QUESTION, "question: How many volts are lost at least?")
    report = broken(asked, one_sided)
    assert "rule-broken-is-right" not in {finding.id for finding in report.findings}


def counted(answer: str, *fields: str) -> str:
    lines = ["", "```exercise count", "kind: quantity", "title: So many", "question: How many?"]
    lines += [f"answer: {answer}", "unit: byte", *fields, "marks: 1", "working: So many.", "```"]
    return SOUND + "\n".join(lines) + "\n"


def test_a_part_of_what_is_counted_is_taken() -> None:
    finding = the(report_on(counted("near + 2", 'tolerance: "0.5"')), "part-is-right")
    assert finding.severity is Severity.LOOK
    assert finding.exercise == "count"
    assert ".4 byte' is taken for" in finding.sentence


@pytest.mark.parametrize(
    ("answer", "fields"),
    [
        ("near + 2", ("whole: yes",)),
        ("near + 2", ('tolerance: "0.1"',)),
        ("near + (0.5 if near == 7 else 0)", ('tolerance: "0.5"',)),
    ],
)
def test_whole_numbers_and_means_are_left_alone(answer: str, fields: tuple[str, ...]) -> None:
    ids = {finding.id for finding in report_on(counted(answer, *fields)).findings}
    assert "part-is-right" not in ids


def test_a_question_that_cannot_be_worked_out_is_told_and_stops_nothing() -> None:
    report = broken((QUESTION, "question: 'How much is lost, {{ 1 / (near - near) }}?'"))
    assert "no-value" in {finding.id for finding in report.findings}
