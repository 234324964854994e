"""Slips, tolerances, giveaways and guesses: each finding is provoked by a broken lab."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest
from broken import SOUND, broken, line_of, report_on, the

from labkit.doors.installed import check_for
from labkit.lab.draw import draw
from labkit.lab.reading import read_lab_text
from labkit.lab.starter import starter_lab
from labkit.proofing import Report, Severity, proof
from labkit.proofing.sample import options_of
from labkit.proofing.trial import Trials

SHIPPED = Path(__file__).parents[2] / "labs"
SLIP = "answer: 2 * loss"


def ids(report: Report) -> set[str]:
    return {finding.id for finding in report.findings}


@pytest.mark.parametrize(
    ("formula", "reason"),
    [
        ("loss", "it always gives the right answer"),
        ("loss * 1.004", "within the tolerance of the right one"),
    ],
)
def test_a_slip_that_nobody_is_told(formula: str, reason: str) -> None:
    finding = the(broken((SLIP, f"answer: {formula}")), "slip-never-told")
    assert finding.severity is Severity.MUST
    assert "'both-conductors' is told in none of 150 draws: " in finding.sentence
    assert reason in finding.sentence
    assert finding.place.line == line_of("id: both-conductors")


def test_a_slip_that_is_always_another_one() -> None:
    finding = the(broken(("answer: far * ohms * load", "answer: loss + loss")), "slip-never-told")
    assert "'far-part-only'" in finding.sentence
    assert "the answer of 'both-conductors', which is told instead" in finding.sentence


def test_a_slip_that_is_right_in_some_draws() -> None:
    report = broken((SLIP, "answer: loss if near < 5 else 2 * loss"))
    finding = the(report, "slip-is-right")
    assert finding.severity is Severity.LOOK
    assert draw(report.lab, finding.seed).names["near"] < 5
    assert re.search(r"right answer in \d+ of 150 draws", finding.sentence)


@pytest.mark.parametrize(("tolerance", "severity"), [("5 %", Severity.LOOK), ("30 %", "must")])
def test_a_tolerance_that_takes_a_slip_for_right(tolerance: str, severity: object) -> None:
    report = broken(("tolerance: 1 %", f"tolerance: {tolerance}"))
    finding = the(report, "tolerance-takes-slip")
    assert finding.severity is (Severity.MUST if severity == "must" else severity)
    names = draw(report.lab, finding.seed).names
    assert abs(names["far"] - names["length"]) / names["length"] < 0.3
    assert f"{names['loss']:.6g} is right" in finding.sentence


def test_a_slip_whose_answer_cannot_be_read() -> None:
    finding = the(broken((SLIP, "answer: loss * 10 ** 250")), "slip-unreadable")
    assert finding.severity is Severity.MUST
    assert "is not a number" in finding.sentence


def test_a_slip_in_another_kind_of_unit_cannot_be_read(monkeypatch: pytest.MonkeyPatch) -> None:
    # A kind that writes its slips in amperes where volts are asked.
    quantity = type(check_for("quantity"))
    monkeypatch.setattr(quantity, "slip_answers", lambda *_: {"both-conductors": "3 A"})
    finding = the(proof(read_lab_text(SOUND), 20), "slip-unreadable")
    assert "give it in V" in finding.sentence


def test_a_right_value_rounded_to_three_figures_and_refused() -> None:
    report = broken(
        ("tolerance: 1 %", "tolerance: 0.0001"), ("answer: loss\n", "answer: 10 * loss\n")
    )
    finding = the(report, "rounding-rejected")
    assert finding.severity is Severity.LOOK
    assert "rounded to 3 significant figures, is marked wrong" in finding.sentence
    assert finding.place.line == line_of("tolerance: 1 %")
    value = 10 * draw(report.lab, finding.seed).names["loss"]
    assert f"{value:.10g} is right" in finding.sentence


def test_who_says_how_to_round_is_not_told() -> None:
    report = broken(
        ("tolerance: 1 %", "tolerance: 0.0001"),
        ("answer: loss\n", "answer: 10 * loss\n"),
        ("along one conductor?", "along one conductor? Give two decimals."),
    )
    assert "rounding-rejected" not in ids(report)


def test_an_exact_sum_is_not_rounded_to_three_figures() -> None:
    report = broken(
        ("tolerance: 1 %", "tolerance: 0.01"), ("answer: loss\n", "answer: 1000 * near + far\n")
    )
    assert "rounding-rejected" not in ids(report)


def test_decimals_that_are_asked_for_and_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    # A kind that takes its tolerance seriously even against the decimals it asks for.
    quantity: Any = type(check_for("quantity"))
    sound = quantity.check

    def strict(self: object, ask: dict[str, str], key: dict[str, float], answer: str) -> object:
        return sound(self, ask, {**key, "tolerance": 0.001}, answer)

    monkeypatch.setattr(quantity, "check", strict)
    monkeypatch.setattr(quantity, "right_answer", lambda _, _ask, key: f"{key['value']!r} V")
    report = proof(read_lab_text(SOUND), 40)
    asked = [f for f in report.findings if f.id == "rounding-rejected" and "asked" in f.sentence]
    assert [finding.severity for finding in asked] == [Severity.MUST]


@pytest.mark.parametrize(
    ("old", "new", "what", "line"),
    [
        ("A metre has {{ ohms }} Ω.", "It is {{ loss | fixed(2) }}.", "hint 1 ", "{{ ohms }} Ω."),
        ("How much is", "Not {{ loss }} V? How much is", "the question ", "question: How much"),
        ("title: The loss", "title: '{{ loss }} V'", "the title ", "title: The loss"),
        (
            "It carries",
            "It loses {{ loss | fixed(2) }} V. It carries",
            "the text ",
            "The trunk has",
        ),
        (
            "The supply stands",
            "With {{ loss }} V lost the supply stands",
            "the question of 'which' ",
            "question: The supply",
        ),
    ],
)
def test_a_text_that_holds_the_answer(old: str, new: str, what: str, line: str) -> None:
    finding = the(broken((old, new)), "gives-away")
    assert finding.severity is Severity.MUST
    assert finding.sentence.startswith(f"{what}holds the right answer of 'loss' in all 150 draws")
    assert finding.mend.startswith("Take the answer out of this text")  # words alone give it too
    assert finding.place.line == line_of(line)


def test_an_answer_in_part_of_the_draws_is_to_be_looked_at() -> None:
    report = broken(("{{ ohms }} Ω.", "{{ loss if load < 2.2 else 0 }} V."))
    assert the(report, "gives-away").severity is Severity.LOOK
    assert "gives-away" not in ids(broken(("{{ ohms }} Ω.", "{{ loss if load < 1 else 0 }} V.")))


def test_a_drawn_value_that_is_asked_for_is_to_be_looked_at() -> None:
    report = broken(("answer: loss\n", "answer: far\n"))
    found = [finding for finding in report.findings if finding.id == "gives-away"]
    assert {finding.severity for finding in found} == {Severity.LOOK}
    assert all("drawn value 'far'" in finding.sentence for finding in found)


def test_the_largest_of_the_given_numbers_is_not_given_away() -> None:
    report = broken(
        ("load: {from: 0.3, to: 2.9, step: 0.1}", "load: {from: 1, to: 90, count: 5}"),
        ("loss: length * ohms * load", "loss: load | max"),
        ("far * ohms * load", "load | min"),
        ("It carries {{ load }} A.", "{% for one in load %}{{ one }} m, {% endfor %}"),
        ("{{ load }} A = ", ""),
    )
    assert "gives-away" not in ids(report)


def test_a_text_that_names_the_right_option_alone() -> None:
    report = broken(
        (
            "The supply stands",
            "It is {{ 'three near parts in a row' if near * 3 > far else 'the whole of the far "
            "part' }}. The supply stands",
        )
    )
    finding = the(report, "gives-away")
    assert finding.exercise == "which"
    assert finding.severity is Severity.MUST


def test_a_text_that_names_all_options_gives_none_away() -> None:
    both = "Three near parts in a row, or the whole of the far part? The supply stands"
    assert "gives-away" not in ids(broken(("The supply stands", both)))


SECOND = """
```exercise again
kind: quantity
title: Once more
question: And now?
answer: ANSWER
unit: V
tolerance: 1 %
marks: 1
working: W.
```
"""

CELLS = """
```exercise cells
kind: table
title: A table
question: Fill it in.
columns: [What, Given, Asked]
rows:
  - cells: [length, "{{ GIVEN }} m", {answer: 7 * near + far, unit: m}]
marks: 1
working: W.
```
"""


@pytest.mark.parametrize(
    ("answer", "severity"),
    [
        ("loss * 1.004", Severity.MUST),
        ("loss if near > 6 else 2 * loss", Severity.LOOK),
        ("loss if near > 12 else 2 * loss", None),
        ("3 * loss", None),
    ],
)
def test_an_answer_that_is_right_at_another_exercise(
    answer: str, severity: Severity | None
) -> None:
    text = SOUND + SECOND.replace("ANSWER", answer)
    report = report_on(text)
    found = [finding for finding in report.findings if finding.id == "same-as-another"]
    assert [finding.severity for finding in found] == ([severity] if severity else [])
    for finding in found:
        assert (finding.exercise, finding.of) == ("again", "loss")
        assert finding.place.line == line_of("exercise again", text)
        loss = draw(report.lab, finding.seed).names["loss"]
        assert f"it is '{loss:.2f} V'" in finding.sentence or severity is Severity.MUST
        assert re.search(r"in (all 150|\d+ of 150) draws", finding.sentence)


def test_the_same_option_of_two_exercises_whatever_its_letter() -> None:
    which = "```exercise which" + SOUND.split("```exercise which")[1]
    twice = SOUND + "\n" + which.replace("exercise which", "exercise which-more")
    finding = the(report_on(twice), "same-as-another")
    assert (finding.exercise, finding.of) == ("which-more", "which")
    assert finding.severity is Severity.MUST
    apart = which.replace("exercise which", "exercise which-less").replace("> far", "<= far")
    assert "same-as-another" not in ids(report_on(SOUND + "\n" + apart))


def test_two_answers_that_never_change_are_told_as_such() -> None:
    text = SOUND.replace("answer: loss\n", "answer: 4.65\n")
    assert "same-as-another" not in ids(report_on(text + SECOND.replace("ANSWER", "4.65")))


def test_a_given_cell_that_holds_another_answer() -> None:
    finding = the(report_on(SOUND + CELLS.replace("GIVEN", "loss | fixed(2)")), "gives-away")
    assert finding.exercise == "loss"
    assert finding.severity is Severity.MUST
    assert finding.sentence.startswith("an option, cell or item of 'cells' holds the right answer")
    assert "gives-away" not in ids(report_on(SOUND + CELLS.replace("GIVEN", "near")))


def test_a_hint_that_holds_the_answer_to_another_exercise() -> None:
    hint = ("marks: 1\n", "marks: 1\nhints:\n  - text: 'It loses {{ loss | fixed(2) }} V.'\n")
    finding = the(broken(hint), "gives-away")
    assert finding.exercise == "loss"
    assert finding.sentence.startswith("hint 1 of 'which' holds the right answer of 'loss'")


def test_an_option_that_holds_another_answer() -> None:
    option = (
        "text: three near parts in a row",
        "text: 'three near parts: {{ loss | fixed(2) }} V'",
    )
    finding = the(broken(option), "gives-away")
    assert finding.exercise == "loss"
    assert "of 'which' holds the right answer" in finding.sentence


@pytest.mark.parametrize(
    ("changes", "way", "severity"),
    [
        ([("near * 3 > far", "near > 4")], "choosing 'near-part' always", Severity.MUST),
        ([("near * 3 > far", "near > 17")], "choosing 'far-part' always", Severity.MUST),
        ([("answer: loss\n", "answer: 3 if near < 14 else loss\n")], "'3.00 V'", Severity.MUST),
        ([("answer: loss\n", "answer: 3 if near < 10 else loss\n")], "'3.00 V'", Severity.LOOK),
    ],
)
def test_an_answer_that_is_right_too_often(
    changes: list[tuple[str, str]], way: str, severity: Severity
) -> None:
    finding = the(broken(*changes), "guessable")
    assert way in finding.sentence
    assert finding.severity is severity


def test_the_chance_that_the_kind_gives_is_stated() -> None:
    sentence = the(broken(("near * 3 > far", "near > 4")), "guessable").sentence
    assert "blind choice among 2 options gives 50 %, told from 80 % on" in sentence
    open_one = the(broken(("answer: loss\n", "answer: 3 if near < 14 else loss\n")), "guessable")
    assert "blind choice gives next to nothing, told above 40 %" in open_one.sentence


def test_the_longest_option_is_a_way_to_guess() -> None:
    longer = '\'{{ "a good deal more than the other" if %s else "the other" }} (%s)\''
    report = broken(
        ("text: three near parts in a row", f"text: {longer % ('near * 3 > far', 'near')}"),
        ("text: the whole of the far part", f"text: {longer % ('near * 3 <= far', 'far')}"),
    )
    sentence = the(report, "guessable").sentence
    assert "choosing the longest option earns full marks in all 150 draws" in sentence


def test_the_same_share_of_the_trunk_is_a_way_to_guess() -> None:
    """The shipped lab before half of its plans were mirrored: 0.7 of the trunk did for most."""
    text = (SHIPPED / "plan-the-trunk" / "lab.md").read_text(encoding="utf-8")
    one_sided = text.replace("thick_side: {one of: [left, right]}", "thick_side: {one of: [left]}")
    finding = next(
        item
        for item in proof(read_lab_text(one_sided), 100).findings
        if item.id == "guessable" and item.exercise == "supply"
    )
    assert finding.severity is Severity.MUST
    assert re.search(r"answering 0\.[67]\d? times 'trunk_length'", finding.sentence)


def test_a_new_lab_passes_with_nothing_but_what_halving_earns() -> None:
    report = report_on(starter_lab("fresh", "Fresh"), 300)
    assert ids(report) <= {"found-by-halving"}


def test_options_of_another_shape_are_no_options() -> None:
    lab = read_lab_text(SOUND)
    choice = Trials(lab).tried(draw(lab, "s")).tried[1]
    assert sorted(options_of(choice.ask).values()) == [
        "the whole of the far part",
        "three near parts in a row",
    ]
    for shape in (["a", "b"], {"a": "b"}, "ab", [{"id": 1, "text": "x"}], [{"id": "a"}], None):
        assert options_of({"options": shape}) == {}


def test_a_picture_that_says_the_answer() -> None:
    starter = starter_lab("packing-trunk", "Packing trunk")
    asked = """
```exercise taps
kind: quantity
title: The current in all
question: How much current do all devices draw together?
answer: sum(currents)
unit: A
tolerance: 0.01
marks: 1
working: "{{ sum(currents) }} A"
```
"""
    report = proof(read_lab_text(starter + asked), 40)
    [finding] = [item for item in report.findings if item.id == "gives-away"]
    assert finding.exercise == "taps"
    assert finding.severity is Severity.MUST
    assert "the picture ('… kbit/s" in finding.sentence
    assert "gives-away" not in ids(proof(read_lab_text(starter), 40))
