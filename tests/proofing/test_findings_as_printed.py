"""Sums and verdicts as a text prints them: read, worked out again, and held against the text."""

from __future__ import annotations

import pytest
from broken import SOUND, broken, line_of, report_on, the
from hypothesis import given
from hypothesis import strategies as st

from labkit.proofing import Severity
from labkit.proofing.printed_claims import claims
from labkit.proofing.printed_sums import sums

WORKING = '"{{ length }} m · {{ ohms }} Ω/m · {{ load }} A = {{ loss | fixed(2) }} V"'
THE_CHOICE = "working: Compare {{ 3 * near }} m with {{ far }} m."
whole = st.integers(min_value=0, max_value=9_999)


@pytest.mark.parametrize(
    ("text", "holds"),
    [
        ("3 m + 2 · 4.5 m = **12 m**; the limit is 20 m.", [True]),
        ("24 V − 2 · 4.17 V = 15.66 V", [True]),
        ("24 V − 2 · 4.17 V = **15.65 V**; a node needs 11 to 25 V.", [False]),
        ("4.57 / 6 = 0.76 A", [True]),
        ("4.57 / 6 = 0.77 A", [False]),
        ("(20 · 0.015 + 0.005) · 1.0 = 0.305 and on", [True]),
        ("2 · 3 + 4 · 5 = 6 + 20 = 26", [True, True]),
        ("2 · 3 + 4 · 5 = 6 + 20 = 27", [False, False]),
        ("0.25 km · 22.6 Ω/km = 5.65 Ω", [True]),
        ("250 m · 22.6 Ω/km = 5.65 Ω", [True]),
        ("520 + 440 = 960 mA = 0.960 A", [True, True]),
        ("520 + 440 = 960 mA = 0.970 A", [True, False]),
        ("0.61 V + 0.0225 V = 0.6325 V = 0.64 V", [True, False]),
        ("1 / 125 ms = 8 µs", [True]),
        ("47 bits + 8 · 2 = 63 bits", [True]),
        ("1.5 V - 2 V = −0.5 V", [True]),
        ("1\u202f649 + 1 = 1\u202f650", [True]),
        # What is no sum, or cannot be read for sure, is left alone.
        ("52 m between the taps + 3 m + 6 m = 60 m", []),
        ("5 % of 60 + 2 = 9", []),
        ("0x400 + (5 << 3) + 7 = 0x42F", []),
        ("2⁵ − 2 = 31", []),
        ("10.72.204.162 + 3 = 4", []),
        ("3 m · 4 m = 12 m²", [True]),
        ("3 m · 4 m = 13 m²", [False]),
        ("3 · 4 m = 13 m⁴", []),
        ("switch 1 = 250 kbit/s", []),
        ("L = 12 m", []),
        ("(3 + 4 = 8", []),
        ("3 / 0 = 1", []),
        ("1 649 + 1 = 1", []),
    ],
)
def test_sums_are_worked_out_from_what_is_printed(text: str, holds: list[bool]) -> None:
    assert [found.holds for found in sums(text)] == holds


@given(whole, whole, whole, whole)
def test_right_sums_hold_and_wrong_ones_do_not(a: int, b: int, c: int, off: int) -> None:
    value = (a + b) * c - a
    [found] = sums(f"({a} m + {b} m) · {c} − {a} m = {value}".replace("= -", "= −"))
    assert found.holds
    [wrong] = sums(f"({a} + {b}) · {c} − {a} = {value + 1 + off}".replace("= -", "= −"))
    assert not wrong.holds


@given(st.text(max_size=80))
def test_any_text_is_read(text: str) -> None:
    assert all(found.values for found in sums(text))
    assert all(claim.text for claim in claims(text))


@given(st.text(alphabet="0123456789 +−·/()=.mVA*≤<of ", max_size=40))
def test_any_text_of_figures_is_read(text: str) -> None:
    assert all(found.values for found in sums(text))
    assert all(claim.text for claim in claims(text))


@pytest.mark.parametrize(
    ("text", "holds"),
    [
        ("500 kbit/s: 98 m of 100 m, drops 30 m of 39 m: keeps the rules.", [True]),
        ("125 kbit/s: 504.5 m of 500 m, drops of 156 m: keeps them.", [False]),
        ("231 m of 250 m: breaks the rules.", [False]),
        ("The trunk is too long: 260 m of 250 m, drops 30 m of 39 m.", [True]),
        ("98 m of 100 m. It keeps the rules; 3 A ≤ 4 A.", [True]),
        ("3.2 A ≤ 3 A", [False]),
        ("The loss, 4.7 V, is above: 4.7 V > 4.65 V", [True]),
        ("4.65 V < 4.65 V", [False]),
        # Left alone: no verdict, two verdicts, a question, another unit, part of a sum.
        ("98 m of 100 m", []),
        ("120 m of 100 m breaks what 80 m of 100 m keeps", []),
        ("Check whether 120 m of 100 m keeps the rule", []),
        ("120 m of 100 m does not keep the rule", []),
        ("3000 mA ≤ 4 A", []),
        ("2 m + 3 m > 4 m", []),
        ("500 m of 8 V keeps", []),
    ],
)
def test_claims_are_held_against_their_numbers(text: str, holds: list[bool]) -> None:
    assert [claim.holds for claim in claims(text)] == holds


def test_a_sound_lab_says_what_its_numbers_say() -> None:
    assert not {item.id for item in report_on(SOUND).findings} & {
        "sum-as-printed",
        "claim-as-printed",
    }


def test_a_working_that_does_not_add_up_as_printed() -> None:
    rounded = WORKING.replace("{{ load }}", "{{ load | fixed(0) }}")
    finding = the(broken((WORKING, rounded)), "sum-as-printed")
    assert finding.severity is Severity.MUST
    assert (finding.exercise, finding.place.line) == ("loss", line_of("working:"))
    assert "does not add up as printed: its numbers give" in finding.sentence


def test_numbers_without_their_units_are_named() -> None:
    def mend_of(printed: str) -> str:
        told = f'"{printed} = {{{{ near + far }}}} m."'
        return the(broken(("The near part is missing.", told)), "sum-as-printed").mend

    bare = mend_of("7 · 0.001 + {{ far }} m")
    assert bare == "Write its unit behind every number: there is none behind 7 and 0.001."
    assert "Print more digits" in mend_of("3 · {{ near }} m + {{ far }} m")


def test_a_sum_in_the_lab_s_text_and_in_the_words_on_a_mistake() -> None:
    text = "It carries {{ load }} A, so {{ load }} A + 1 A = {{ load + 1.1 }} A."
    assert the(broken(("It carries {{ load }} A.", text)), "sum-as-printed").exercise == ""
    tell = ("The near part is missing.", '"{{ near }} m + {{ far }} m = {{ far }} m."')
    assert the(broken(tell), "sum-as-printed").exercise == "loss"


def test_a_verdict_that_its_numbers_deny_in_some_draws() -> None:
    claim = "working: '{{ near }} m of 19 m: keeps the rule.'"
    finding = the(broken((THE_CHOICE, claim)), "claim-as-printed")
    assert finding.severity is Severity.MUST
    assert finding.exercise == "which"
    assert "'20 m of 19 m: keeps the rule.' is not true" in finding.sentence
    assert "of 150 draws" in finding.sentence


def test_a_slip_whose_answer_is_told_as_another_one() -> None:
    alike = "  - id: nearly\n    answer: 2 * loss\n    tell: Nearly.\n"
    finding = the(
        broken(("  - id: far-part-only", alike + "  - id: far-part-only")), "slip-never-told"
    )
    assert "'both-conductors'" in finding.sentence
    sometimes = alike.replace("2 * loss", "2 * loss if near > 8 else 3 * loss")
    finding = the(
        broken(("  - id: far-part-only", sometimes + "  - id: far-part-only")),
        "slip-told-as-another",
    )
    assert finding.severity is Severity.LOOK
    assert (finding.exercise, finding.of) == ("loss", "nearly")
    assert "told as 'both-conductors' in" in finding.sentence
