"""Quantities as people write them: read right, or refused with a sentence; never anything else."""

import math
import re
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labkit.language.number import QuantityError, read_number
from labkit.language.quantity import MAX_TEXT, UNITS, read_quantity, unit_named

NBSP, NARROW, MINUS = "\u00a0", "\u202f", "\u2212"
MICRO, GREEK_MU, OHM_SIGN = "\u00b5", "\u03bc", "\u2126"

READ = [
    ("60 ohm", "Ω", 60),
    (f"60 {OHM_SIGN}", "Ω", 60),
    ("60R", "Ω", 60),
    ("0,91 V", "V", 0.91),
    ("910 mV", "V", 0.91),
    ("910mV", "mV", 910),
    ("24 V DC", "V", 24),
    ("1.234 m", "m", 1.234),
    ("0,123 m", "m", 0.123),
    ("1234,5 m", "m", 1234.5),
    ("1 234,5 m", "m", 1234.5),
    (f"1{NARROW}234{NBSP}m", "m", 1234),
    ("1'234.5 m", "m", 1234.5),
    ("1.234,5 m", "m", 1234.5),
    ("1,234.5 m", "m", 1234.5),
    ("1,234,567 m", "m", 1234567),
    ("1.234.567 m", "m", 1234567),
    (f"{MINUS}3 A", "A", -3),
    ("- 3 A", "A", -3),
    ("+3 A", "A", 3),
    ("-0 A", "A", 0),
    (".5 m", "m", 0.5),
    (",5 m", "m", 0.5),
    ("5. m", "m", 5),
    ("1.5e3 mm", "m", 1.5),
    ("1e99 m", "m", 1e99),
    ("5'", "m", 1.524),
    ('6"', "m", 0.1524),
    ("5 feet", "m", 1.524),
    ("٣ m", "m", 3),
    ("１２ m", "m", 12),
    ("5 MΩ", "Ω", 5e6),
    ("5 Mohm", "Ω", 5e6),
    ("5 mohm", "Ω", 5e-3),
    (f"5 {MICRO}s", "s", 5e-6),
    (f"5 {GREEK_MU}s", "s", 5e-6),
    ("5 us", "s", 5e-6),
    ("250 kbit/s", "bit/s", 250_000),
    ("250 KBIT/S", "kbit/s", 250),
    ("250 kBd", "kbit/s", 250),
    ("49 %", "%", 49),
    ("12", "", 12),
    ("12 devices", "", 12),
]


@pytest.mark.parametrize(("text", "unit", "value"), READ)
def test_a_technicians_way_of_writing_is_read(text: str, unit: str, value: float) -> None:
    assert read_quantity(text, UNITS[unit]).to(UNITS[unit]) == pytest.approx(value, rel=1e-15)


REFUSED = [
    ("", "m", "Nothing is written"),
    (" \t\n" + NBSP, "m", "Nothing is written"),
    ("1,234 m", "m", "two ways: write 1.234 or 1234"),
    (f"{MINUS}1,234 m", "m", "two ways: write -1.234 or -1234"),
    ("1,234e3 m", "m", "two ways"),
    ("12", "m", "Write the unit too: m."),
    ("1.28", "%", "two ways: write 1.28 % or 128 %."),
    ("12 V", "m", "12 V is a voltage, but a length is asked for"),
    ("2 A", "Ω", "a current, but a resistance"),
    ("12 furlongs", "m", "'furlongs' is not a unit"),
    ("5 m²", "m", "is an area, but a length is asked for"),
    ("5 m m", "m", "not a unit"),
    ("5' 6\"", "m", "not a unit"),
    ("5 MV", "V", "a small m is milli, a capital M is mega. Write mV"),
    ("5 😀", "m", "not a unit"),
    ("5\ud800 m", "m", "not a unit"),
    ("😀", "m", "does not start with a number"),
    ("² m", "m", "does not start with a number"),
    ("±5 m", "m", "does not start with a number"),
    ("nan m", "m", "does not start with a number"),
    ("inf m", "m", "does not start with a number"),
    ("-", "m", "does not start with a number"),
    ("3.4.5 m", "m", "too many points or commas"),
    ("1,2,3 m", "m", "too many points or commas"),
    ("12.34.567,8 m", "m", "too many points or commas"),
    ("1e999 m", "m", "is not a number"),
    ("5 m" + "x" * MAX_TEXT, "m", f"longer than {MAX_TEXT} characters"),
]


@pytest.mark.parametrize(("text", "unit", "sentence"), REFUSED)
def test_what_cannot_be_read_gets_a_sentence(text: str, unit: str, sentence: str) -> None:
    with pytest.raises(QuantityError) as caught:
        read_quantity(text, UNITS[unit])
    assert sentence in str(caught.value)


near_numbers = st.from_regex(
    r"[+\-\u2212]?[0-9٣.,'’ \u00a0]{0,12}([eE][+-]?[0-9]{0,4})?\s?(m|mV|Ω|ohm|µs|%|'|\")?",
    fullmatch=True,
)
long_numbers = st.from_regex(r"[0-9]{1,180}(e[+-]?[0-9]{1,3})? k?m", fullmatch=True)


@given(
    text=st.one_of(st.text(), near_numbers, long_numbers),
    unit=st.sampled_from(sorted(UNITS)),
)
def test_any_text_is_a_finite_number_or_a_sentence(text: str, unit: str) -> None:
    try:
        value = read_quantity(text, UNITS[unit]).to(UNITS[unit])
    except QuantityError as error:
        sentence = str(error)
    else:
        sentence = f"{value}." if math.isfinite(value) else "not finite"
    assert sentence.endswith(".")


@given(
    value=st.decimals(-99_999, 99_999, places=2),
    unit=st.sampled_from(sorted(UNITS)),
    comma=st.booleans(),
    minus=st.sampled_from(["-", MINUS]),
    space=st.sampled_from(["", " ", NBSP]),
    grouped=st.booleans(),
)
def test_what_is_written_with_either_decimal_habit_reads_back(
    value: Decimal, unit: str, comma: bool, minus: str, space: str, grouped: bool
) -> None:
    text = f"{value:,.2f}" if grouped else f"{value:.2f}"
    if comma:
        text = text.translate(str.maketrans(",.", ".,"))
    space = space or " " if unit[:1] == "1" else space  # "1/min"
    quantity = read_quantity(text.replace("-", minus) + space + unit, UNITS[unit])
    assert (quantity.value, quantity.unit) == (value, UNITS[unit])
    assert quantity.value == read_number(text)


@given(unit=st.sampled_from(sorted(UNITS)), value=st.decimals(-9999, 9999, places=4))
def test_a_quantity_as_written_by_str_reads_back(unit: str, value: Decimal) -> None:
    quantity = read_quantity(f"{value} {unit}", UNITS[unit], decimals=4)
    assert read_quantity(str(quantity), UNITS[unit], decimals=4) == quantity


@pytest.mark.parametrize("symbol", sorted(UNITS))
def test_each_unit_is_found_by_its_symbol(symbol: str) -> None:
    unit = UNITS[symbol]
    assert unit.symbol == symbol
    assert unit_named(symbol) is unit


@pytest.mark.parametrize("word", ["MV", "MA", "MW", "MM", "MS", "M"])
def test_a_capital_m_is_not_taken_for_milli(word: str) -> None:
    with pytest.raises(QuantityError, match="a small m is milli, a capital M is mega"):
        unit_named(word)


@pytest.mark.parametrize("word", ["Mbit/s", "mbit/s", "MBIT/S"])
def test_nobody_means_a_thousandth_of_a_bit(word: str) -> None:
    assert unit_named(word) is UNITS["Mbit/s"]


@pytest.mark.parametrize("text", ["3.808 ms", "1.660 mA"])
def test_what_is_asked_back_names_a_way_to_write_it_that_is_read(text: str) -> None:
    number, unit = text.split()
    with pytest.raises(QuantityError) as told:
        read_quantity(text, UNITS[unit])
    said = re.findall(r"\d[\d.]*\d", str(told.value).split("write")[1])
    assert [read_quantity(f"{way} {unit}", UNITS[unit]).value for way in said] == [
        Decimal(number),
        Decimal(number) * 1000,
    ]
