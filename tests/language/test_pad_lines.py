"""A scratch pad: what stands beside its lines. Notes are left alone, whatever they look like."""

import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from labkit.language.number import QuantityError
from labkit.language.pad_lines import Beside, beside_lines
from labkit.language.quantity import UNITS, read_quantity, unit_named

MINUS, MICRO = "\u2212", "\u03bc"


def beside(*lines: str) -> Beside:
    """What stands beside the last of these lines."""
    return beside_lines(lines)[-1]


CALCULATED = [
    ("212 m + 3 * 4.5 m", "= 225.5 m"),
    ("24 V - 2 * 1.2 A * 0.9 ohm", "= 21.84 V"),
    ("120/2", "= 60"),
    ("120 / 2 =", "= 60"),
    ("500 kbit/s", "= 500 kbit/s"),
    ("0.5 A * 30 m * 0.023 ohm/m", "= 0.345 V"),
    ("0,5 A * 30 m * 0,023 ohm/m", "= 0.345 V"),
    ("5 V / 0.5 ohm/m", "= 10 A·m"),
    ("3 m per s * 2 s", "= 6 m"),
    ("10/3", "≈ 3.33333"),
    ("1/3 * 3", "= 1"),
    (f"5 V {MINUS} 3 V", "= 2 V"),
    ("5 V – 3 V", "= 2 V"),
    ("3 x 4.5 m", "= 13.5 m"),
    ("2 m x 3", "= 6 m"),
    ("3 × 4,5 m", "= 13.5 m"),
    ("24 V ÷ 12 ohm", "= 2 A"),
    (f"100 {MICRO}s * 2", "= 200 µs"),
    ("24 VDC / 12 ohm", "= 2 A"),
    ("2 A DC * 3 ohm", "= 6 V"),
    ("4K7 * 2 mA", "= 9.4 V"),
    ("5' + 3 in", "= 5.25 ft"),
    ("16 2/3 m * 3", "= 50 m"),
    ("1 234 m * 2", "= 2468 m"),
    ("(120/2) ohm", "= 60 Ω"),
    ("24 V / (2) ohm", "= 12 A"),
    ("24 V / 2 / 3 ohm", "= 4 A"),
    ("((1 + 2) m + 1 m) * 2", "= 8 m"),
    ("-(3 m - 5 m)", "= 2 m"),
    ("3 * -2 m", "= -6 m"),
    ("2 + 3 * 4 - 10 / 5", "= 12"),
    ("20 V - 5 V - 3 V", "= 12 V"),
    ("Drop at the far end: 1.2 A * 0.9 ohm", "= 1.08 V"),
    ("tap 3: 4.5 m", "= 4.5 m"),
    ("+".join("1" * 25), "= 25"),
]


@pytest.mark.parametrize(("line", "result"), CALCULATED)
def test_a_line_is_calculated(line: str, result: str) -> None:
    assert beside(line) == Beside(result)


NOTES = [
    *("", "   ", "12", "12.", "-3", "=", "= =", "?", "loop", "R2"),
    *("Tap 3 is 4.5 m from the end", "24 V at tap 3", "24 V - ok", "node 5 - off"),
    *("2 taps + 3 drops", "12 - spare", "3 Am", "fuse 2 x 4 A", "cable 3 x 1.5", "and/or"),
    *("Break: 10", "10:30", "1. measure the loop", "1) 24 V", "CAN_H = white", "R = ?", "n ="),
    *("U = 24 V at tap 3", "3 m 4 m", "[2+3]", "{{ 7*7 }}", "{% raw %}", "a = b = 3 m", "5 & 3"),
    *("11-bit identifier", "0x0C", "°C * 2", "x 3", "x" * 5000, "1 + " * 2000 + "1"),
]


@pytest.mark.parametrize("line", NOTES)
def test_a_note_stays_a_note(line: str) -> None:
    assert beside(line) == Beside()


WRONG = [
    ("5 m + 3 A", "5 m and 3 A cannot be added: 5 m is a length, 3 A is a current."),
    ("3 A - 5 m", "5 m cannot be taken from 3 A: 3 A is a current, 5 m is a length."),
    ("1 V / 0", "This divides by zero, which has no result."),
    ("1,234 m", "'1,234' can be read in two ways: write 1.234 or 1234."),
    ("1.660 mA * 2", "'1.660 mA' can be read in two ways: write 1.66 or 1660."),
    (
        "120/2 ohm",
        "'120/2 ohm' can be read in two ways: write (120/2) ohm or 120/(2 ohm).",
    ),
    (
        "5 V + 3 Am",
        "'Am' is not a unit known here. Write for example m, V, mV, A, ohm, kbit/s or %.",
    ),
    (
        "2 taps * 3 m",
        "'taps' is not a unit known here. Write for example m, V, mV, A, ohm, kbit/s or %.",
    ),
    ("5 MV * 2", "'MV' is not clear: a small m is milli, a capital M is mega. Write mV."),
    ("0x1F * 2", "'0x1F' is hexadecimal: write it as a decimal number here."),
    ("24 V -", "After '-' something is missing."),
    ("24 V - * 3", "Between '-' and '*' something is missing."),
    ("* 24 V", "Before '*' something is missing."),
    ("3 - - -2", "Between '-' and '-' something is missing."),
    ("3 m 4 m * 2", "Between '3 m' and '4 m' a sign is missing: + - * or /."),
    ("(2 m + 3 m", "A bracket is not closed: write ) where it ends."),
    ("2 m + 3 m)", "A bracket is closed here that was not opened."),
    ("2 m * ()", "Between '(' and ')' something is missing."),
    ("(" * 16 + "1 + 1" + ")" * 16, "The brackets are nested too deep."),
    (
        "+".join("1" * 26),
        "A line may have 25 amounts: give the first part a name of its own.",
    ),
    ("3 m^2", "Powers are not calculated here: write the product, as in 3 m * 3 m."),
    ("(3 m)² * 2", "Powers are not calculated here: write the product, as in 3 m * 3 m."),
    ("9e9 * 9e9 m * 9e9", "The result is too large to be shown here."),
    ("1e99 m * 2", "The result is too large or too small to be shown here."),
    ("1.2.3 * 2", "'1.2.3' is not a number: it has too many points or commas."),
    ("lop * 2", "'lop' is no name from above."),
]


@pytest.mark.parametrize(("line", "words"), WRONG)
def test_a_calculation_that_goes_wrong_says_why(line: str, words: str) -> None:
    assert beside(line) == Beside(wrong=words)


def test_a_result_is_used_by_its_name() -> None:
    lines = ["loop = 120 ohm / 2", "a note", "I = 24 V / loop", "I * loop", "loop"]
    assert [each.result for each in beside_lines(lines)] == [
        "= 60 Ω",
        "",
        "= 0.4 A",
        "= 24 V",
        "= 60 Ω",
    ]


def test_a_result_is_used_as_it_was_calculated_not_as_it_is_shown() -> None:
    assert beside("a = 1 V / 3", "a * 3") == Beside("= 1 V")


def test_a_name_means_what_stands_last_above() -> None:
    shown = [
        each.result for each in beside_lines(["n * 2", "n = 3", "n * 2", "n = n + 1", "n * 2"])
    ]
    assert shown == ["", "= 3", "= 6", "= 4", "= 8"]


def test_a_name_that_is_nearly_there_is_offered() -> None:
    assert beside("loop = 3 m", "24 m - lop").wrong == (
        "'lop' is no name from above. Did you mean 'loop'?"
    )


def test_a_name_without_a_result_says_so() -> None:
    assert beside("a = 5 V + 3 A", "a * 2").wrong == "'a' has no result: mend its line first."
    assert (
        beside("a = 5 V", "a = 5 V + 3 A", "a").wrong == "'a' has no result: mend its line first."
    )


def test_a_unit_is_no_name() -> None:
    assert beside("m = 3").wrong == "'m' is a unit: take another name, such as m1."
    assert beside("Ohm = 3").wrong == "'Ohm' is a unit (Ω): take another name, such as Ohm1."
    # What was refused as a name is a unit still.
    assert beside("m = 3", "4 mV/m * 3 m") == Beside("= 12 mV")


def test_a_letter_that_is_no_unit_by_itself_is_a_name() -> None:
    assert beside("v = 2 m/s", "24 m/v") == Beside("= 12 s")
    assert beside("a = 2 m", "3 a") == Beside("= 3 A")


def test_a_resistance_may_be_called_r() -> None:
    assert beside("R = 60 ohm", "24 V/R") == Beside("= 0.4 A")
    assert beside("R = 60 ohm", "3 R + 1 ohm") == Beside("= 4 Ω")
    assert beside("R2 = 60 ohm", "R2 * 2") == Beside("= 120 Ω")


@pytest.mark.parametrize("name", ["q0", "result", "range", "self", "none", "true", "if", "loop"])
def test_the_words_of_the_expression_language_are_names_like_others(name: str) -> None:
    assert beside(f"{name} = 2 m", f"{name} * 3") == Beside("= 6 m")
    assert beside("1 m + 1 m", f"{name} * 3") == Beside(wrong=f"'{name}' is no name from above.")


@pytest.mark.parametrize(
    "line",
    [
        "__class__ * 2",
        "1 .real * 2",
        "q0.value",
        "range(9)",
        "'a' * 3",
        "2 | abs",
        "2 ~ 3",
        "1 if 1",
    ],
)
def test_nothing_but_a_sum_is_calculated(line: str) -> None:
    assert beside(line).result == ""


AMOUNTS = ("2", "3,5", "1,234", "24 V", "0.5 A", "2 m", "5 %", "0x1F", "2/3", "1e9", "a", "R")
BETWEEN = ("+", "-", "*", "/", "x", "(", ")", "^", "=", ":", "a =", "/m", "ohm", "{{", "'", "é")
PIECES = st.lists(st.sampled_from(AMOUNTS + BETWEEN), max_size=12).map(" ".join)


@settings(max_examples=150)
@given(st.lists(st.one_of(PIECES, st.text(max_size=40)), max_size=6))
def test_whatever_is_written_a_line_has_a_result_or_a_sentence_or_neither(lines: list[str]) -> None:
    found = beside_lines(lines)
    assert len(found) == len(lines)
    for each in found:
        assert not (each.result and each.wrong)
        assert each.result[:2] in ("", "= ", "≈ ")
        assert not each.wrong or each.wrong[-1] in ".?"
        assert "q0" not in each.wrong or any("q0" in line for line in lines)


WRITTEN = st.one_of(
    st.decimals(min_value=0, max_value=99_999, places=3).map(str),
    st.decimals(min_value=0, max_value=99_999, places=2).map(lambda n: str(n).replace(".", ",")),
    st.sampled_from(["1,234", "1.234", "1 234", "1'234.5", "2/3", "16 2/3", "1,2,3", "1e3"]),
)


READ_BY_BOTH = [unit.symbol for unit in UNITS.values() if unit.is_linear]


@given(WRITTEN, st.sampled_from([name for name in READ_BY_BOTH if name[:1] not in ("", "1")]))
def test_a_quantity_is_read_as_an_answer_is(number: str, symbol: str) -> None:
    answer, shown = f"{number} {symbol}", beside(f"q = {number} {symbol}")
    if shown.wrong:
        with pytest.raises(QuantityError, match=re.escape(shown.wrong)):
            read_quantity(answer, UNITS[symbol])
        return
    read, unit = read_quantity(answer, UNITS[symbol]), UNITS[symbol]
    result = unit_named(shown.result.partition(" ")[2].partition(" ")[2])
    assert read_quantity(shown.result[2:], result).to(unit) == pytest.approx(
        read.to(unit), rel=1e-5
    )
