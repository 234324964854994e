"""A field's unit that its formula does not give: told where the formula says it, and only there."""

from __future__ import annotations

from pathlib import Path

import pytest

from labkit.doors.installed import network_for
from labkit.doors.network import SaysUnits
from labkit.lab.reading import read_lab
from labkit.lab.reading.lab_file import read_lab_text
from labkit.language.counted_unit import counted_unit
from labkit.language.quantity import UNITS, unit_named
from labkit.proofing import proof
from labkit.proofing.findings import Severity
from labkit.proofing.units import _groups, unit_findings

ROOT = Path(__file__).parents[2]
LABS = sorted((ROOT / "labs").glob("*/lab.md"))
KNOWN = 20
"""So many fields of the shipped labs, at least, say their unit: or else none could be told."""
NAMED = {"volts": UNITS["V"], "amps": UNITS["A"], "metres": UNITS["m"], "limit": UNITS["V"]}
WORKED_OUT = {"low": "min(volts(1), volts(2))", "far": "low", "round_about": "round_about + 1"}


@pytest.mark.parametrize(
    ("formula", "unit"),
    [
        ("volts(x, 2)", "V"),
        ("limit", "V"),
        ("-volts(1)", "V"),
        ("24 - volts(1)", "V"),
        ("volts(1) + x", "V"),
        ("round(volts(1), metres)", "V"),
        ("volts(1) | round(2)", "V"),
        ("max(volts(1), limit, 3)", "V"),
        ("[volts(1), volts(2)] | max", "V"),
        ("volts(1) if x else limit", "V"),
        ("far", "V"),
    ],
)
def test_what_says_its_unit(formula: str, unit: str) -> None:
    counted = counted_unit(formula, NAMED, WORKED_OUT)
    assert counted is not None
    assert counted.symbol == unit


@pytest.mark.parametrize(
    "formula",
    [
        "24",
        "x",
        "round_about",
        # 1000 may be mV to the volt, or amperes: then it is a power.
        "1000 * volts(1)",
        "volts(1) / 1000",
        "volts(1) ** 2",
        "volts(1) + amps(1)",
        "volts(1) if x else amps(1)",
        "volts(1) > 11",
        "item.volts",
        "count(volts(1))",
        "volts(1) | fixed(2)",
        "volts(1",
    ],
)
def test_what_does_not(formula: str) -> None:
    assert counted_unit(formula, NAMED, WORKED_OUT) is None


@pytest.mark.parametrize("lab", LABS, ids=lambda file: file.parent.name)
def test_no_shipped_lab_is_told(lab: Path) -> None:
    assert unit_findings(read_lab(lab)) == []


@pytest.mark.parametrize("family", ["devicenet", "modbus", "canopen"])
def test_units_are_of_functions_that_there_are(family: str) -> None:
    known = network_for(family)
    assert isinstance(known, SaysUnits)
    assert set(known.units) <= set(known.functions)
    assert all(unit_named(symbol).symbol for symbol in known.units.values())


def told(lab: str, old: str, new: str) -> list[tuple[str, str, str, str]]:
    """What is told of a shipped lab with other words in it: the line, the sentence, the mend."""
    text = (ROOT / "labs" / lab / "lab.md").read_text("utf-8")
    assert text.count(old) >= 1, old
    text = text.replace(old, new, 1)
    return [
        (text.splitlines()[each.place.line - 1].strip(), each.of, each.sentence, each.mend)
        for each in unit_findings(read_lab_text(text))
    ]


def test_a_wrong_unit_is_told_at_its_line() -> None:
    right = "answer: distance\nunit: m\n"
    assert told("plan-the-trunk", right, right.replace("unit: m", "unit: km")) == [
        (
            "unit: km",
            "distance",
            "'distance' gives m, and its field says 'unit: km'.",
            "Write 'unit: m', or a formula that makes km of it.",
        )
    ]


@pytest.mark.parametrize(
    ("lab", "field", "gives", "wrong"),
    [
        ("modbus-line", "answer: round_ms\nunit: {}\n", "ms", "s"),
        ("canopen-line", "answer: reach\nunit: {}\n", "m", "cm"),
        # Of a cell in a table.
        ("canopen-line", "- answer: there_and_back\n        unit: {}\n", "ns", "µs"),
    ],
)
def test_functions_of_every_family_say_their_unit(
    lab: str, field: str, gives: str, wrong: str
) -> None:
    [(line, _, sentence, _)] = told(lab, field.format(gives), field.format(wrong))
    assert line == f"unit: {wrong}"
    assert f" gives {gives}, and its field says 'unit: {wrong}'." in sentence


def test_a_mere_number_may_be_asked_of_anything() -> None:
    right = "answer: distance\nunit: m\n"
    assert told("plan-the-trunk", right, "answer: distance\nunit: ''\n") == []


def test_it_must_be_mended_and_stands_in_the_report() -> None:
    text = (ROOT / "labs" / "plan-the-trunk" / "lab.md").read_text("utf-8")
    wrong = text.replace("answer: distance\nunit: m\n", "answer: distance\nunit: ft\n", 1)
    found = [each for each in proof(read_lab_text(wrong), 2).findings if each.id == "unit-misfit"]
    assert [each.severity for each in found] == [Severity.MUST]


def test_many_fields_of_shipped_labs_say_their_unit() -> None:
    known = 0
    for file in LABS:
        lab = read_lab(file)
        formulas = {name: formula.text for name, formula in lab.derived.items()}
        for exercise in lab.exercises:
            for _, group in _groups(exercise.data, ()):
                answer = str(group["answer"])
                known += counted_unit(answer, lab.language.units, formulas) is not None
    assert known >= KNOWN
