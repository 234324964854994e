"""Quantities as people type them: read, or answered with a sentence; never a crash."""

import math
from decimal import Decimal

import pytest
from hypothesis import example as with_example
from hypothesis import given
from hypothesis import strategies as st
from scipy import constants

from labkit.language.number import QuantityError
from labkit.language.quantity import UNITS, form, read_quantity, unit_named


@pytest.mark.parametrize(
    ("text", "unit", "value"),
    [
        ("60 ohm", "Ω", 60),
        ("60Ω", "Ω", 60),
        ("60 Ohms", "Ω", 60),
        ("0,91 V", "V", 0.91),
        ("910 mV", "V", 0.91),
        (".91 v", "V", 0.91),
        ("0,910 V", "V", 0.91),
        ("1.5e3 m", "m", 1500),
        ("−3 A", "A", -3),
        ("- 3 A", "A", -3),
        ("1 234,5 m", "m", 1234.5),
        ("1.234,5 m", "m", 1234.5),
        ("1,234.5 m", "m", 1234.5),
        ("1\u00a0234 m", "m", 1234),
        ("1'200 m", "m", 1200),
        ("250 kbps", "kbit/s", 250),
        ("0.25 Mbit/s", "kbit/s", 250),
        ("12 V DC", "V", 12),
        ("49 %", "%", 49),
        ("12", "", 12),
        ("12 nodes", "", 12),
        ("100 ft", "m", 30.48),
    ],
)
def test_what_a_technician_writes_is_read(text: str, unit: str, value: float) -> None:
    assert read_quantity(text, UNITS[unit]).to(UNITS[unit]) == pytest.approx(value, rel=1e-12)


@pytest.mark.parametrize(
    ("text", "unit", "words"),
    [
        ("", "V", "Nothing is written"),
        ("   ", "V", "Nothing is written"),
        ("12", "V", "12 of what?"),
        ("1,234 m", "m", "two ways"),
        ("12 m", "V", "is a length, but a voltage is asked for"),
        ("3 MV", "V", "a small m is milli"),
        ("3 parsec", "m", "not a unit known here"),
        ("about 3 m", "m", "does not start with a number"),
        ("1,2,3 V", "V", "too many points or commas"),
        ("1e400 m", "m", "not a"),
        ("x" * 500, "m", "longer than"),
        ("🙂", "V", "does not start with a number"),
    ],
)
def test_what_cannot_be_read_gets_a_sentence(text: str, unit: str, words: str) -> None:
    with pytest.raises(QuantityError, match=r"^[A-Z0-9'🙂]") as refused:
        read_quantity(text, UNITS[unit])
    assert words in str(refused.value)


@given(st.text(max_size=40), st.sampled_from(sorted(UNITS)))
@with_example("٣ m", "m")
@with_example("1e99 km", "m")
@with_example("+.m", "m")
def test_any_text_gives_a_finite_number_or_a_sentence(text: str, symbol: str) -> None:
    try:
        value = read_quantity(text, UNITS[symbol]).to(UNITS[symbol])
    except QuantityError:
        return
    assert math.isfinite(value)


@given(
    st.decimals(min_value=Decimal("-1e6"), max_value=Decimal("1e6"), places=4),
    st.sampled_from(sorted(set(UNITS) - {""})),
    st.booleans(),
)
def test_both_decimal_habits_read_back_what_was_written(
    number: Decimal, symbol: str, comma: bool
) -> None:
    written = f"{number:f}".replace(".", "," if comma else ".")
    unit = UNITS[symbol]
    assert read_quantity(f"{written} {symbol}", unit).to(unit) == float(number)


@pytest.mark.parametrize("symbol", sorted(UNITS))
def test_the_form_shown_for_a_unit_holds_no_number_and_units_that_can_be_read(symbol: str) -> None:
    unit = UNITS[symbol]
    words, _, units = form(unit).partition(": ")
    assert not any(letter.isdecimal() for letter in form(unit))
    assert words == ("a number and its unit" if units else "a number")
    for each in units.split(" or "):
        assert read_quantity(f"12 {each}", unit).to(unit) > 0


def test_sizes_agree_with_an_outside_reference() -> None:
    # SciPy's constants: SI prefixes (BIPM SI brochure), the international foot and inch.
    expected = {
        "km": constants.kilo,
        "cm": constants.centi,
        "mm": constants.milli,
        "ft": constants.foot,
        "in": constants.inch,
        "mV": constants.milli,
        "µV": constants.micro,
        "kΩ": constants.kilo,
        "MΩ": constants.mega,
        "min": constants.minute,
        "h": constants.hour,
        "ns": constants.nano,
        "%": constants.centi,
    }
    for symbol, size in expected.items():
        assert float(UNITS[symbol].size) == pytest.approx(size, rel=1e-15), symbol


def test_milli_and_mega_are_never_taken_for_each_other() -> None:
    assert unit_named("mΩ").size == Decimal("0.001")
    assert unit_named("MΩ").size == Decimal(1000000)
    assert unit_named("mohm").size == Decimal("0.001")
    assert unit_named("Mohm").size == Decimal(1000000)
    for doubtful in ("MV", "MA", "MS"):
        with pytest.raises(QuantityError, match="milli"):
            unit_named(doubtful)
