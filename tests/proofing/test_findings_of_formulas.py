"""Unused names and values without a source: found without a draw."""

from __future__ import annotations

import pytest
from broken import SOUND, line_of, report_on

from labkit.proofing import Finding, Severity


def changed(*changes: tuple[str, str], name: str) -> list[Finding]:
    text = SOUND
    for old, new in changes:
        assert old in text
        text = text.replace(old, new, 1)
    return [finding for finding in report_on(text, 3).findings if finding.id == name]


@pytest.mark.parametrize(
    ("old", "new", "names"),
    [
        ("let:\n", "let:\n  spare: near + 1\n", ["spare"]),
        ("let:\n", "let:\n  spare: near + 1\n  more: spare + 1\n", ["spare", "more"]),
        ("draw:\n", "draw:\n  spare: {from: 1, to: 3}\n", ["spare"]),
        ("sources:\n", "sources:\n  spare: {value: 3, source: A book}\n", ["spare"]),
        ("draw:\n", "draw:\n  n: {from: 1, to: 3}\n  l: {from: 1, to: 3, count: n}\n", ["l"]),
    ],
)
def test_a_name_that_nothing_uses(old: str, new: str, names: list[str]) -> None:
    found = changed((old, new), name="unused")
    assert [finding.sentence.split("'")[1] for finding in found] == names
    assert {finding.severity for finding in found} == {Severity.LOOK}
    text = SOUND.replace(old, new, 1)
    assert [finding.place.line for finding in found] == [line_of(f"  {n}:", text) for n in names]


@pytest.mark.parametrize(
    "use",
    [
        ("It carries", "{{ spare }} It carries"),
        ("How much", "How {{ spare }} much"),
        ("rule: far > near", "rule: far > near and spare"),
        ("formula: near + far", "formula: near + far + 0 * spare"),
        ("tell: The near part is missing.", "tell: '{{ spare }}'"),
    ],
)
def test_a_name_that_something_uses_is_not_told(use: tuple[str, str]) -> None:
    assert changed(("let:\n", "let:\n  spare: near + 1\n"), use, name="unused") == []


@pytest.mark.parametrize(
    ("formula", "values"),
    [
        ("4.57 / near", ["4.57"]),
        ("near * 0.015 + 0.005", ["0.015", "0.005"]),
        ("near + 63", ["63"]),
        ("near * -17", ["17"]),
        ("near * 3 / 2 + 10 + 0.5", []),
        ("near * 100 / 1000 * 0.001 * 10000", []),
        ("[near, far, load][-1] | round(12) + round(near, 15)", []),
        ("([near] * 3 + [far] * 10)[12] + ([near] * 10 + [far] * 9)[:17] | max", []),
        ('{"a": 4.65}["a"] * near', ["4.65"]),
    ],
)
def test_a_value_without_a_source(formula: str, values: list[str]) -> None:
    found = changed(("answer: loss\n", f"answer: >\n  {formula}\n"), name="unsourced")
    assert [finding.sentence.split(" in ")[0] for finding in found] == values
    assert all("sources:" in finding.mend for finding in found)
    assert {finding.severity for finding in found} <= {Severity.LOOK}


def test_a_value_that_is_drawn_by_name_is_the_labs_own() -> None:
    rate = ("draw:\n", "draw:\n  rate: {one of: [125, 250]}\n")
    use = ("answer: loss\n", "answer: loss if rate == 250 else loss / 3\n")
    assert changed(rate, use, name="unsourced") == []
    assert len(changed(use, ("rate == 250", "near == 250"), name="unsourced")) == 1


def test_what_rules_compare_is_the_authors_own() -> None:
    assert changed(("rule: far > near", "rule: loss < 47.3"), name="unsourced") == []


def test_a_value_in_several_formulas_is_told_once_at_the_first() -> None:
    found = changed(
        ("length: near + far", "length: near + far + 17"),
        ("answer: 2 * loss", "answer: 17 * loss"),
        ("far * ohms * load", "far * 17"),
        name="unsourced",
    )
    (finding,) = found
    assert "and in 2 more formulas" in finding.sentence
    assert finding.place.line == line_of("length: near + far")


def test_a_name_that_is_used_by_way_of_another_is_not_told() -> None:
    chain = ("let:\n", "let:\n  spare: near + 1\n  more: spare + 1\n")
    assert changed(chain, ("It carries", "{{ more }} It carries"), name="unused") == []
