"""Amounts keep their dimension: what is right of units holds of them, and answers read them."""

from decimal import Decimal
from itertools import product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labkit.language.amount import Amount
from labkit.language.number import QuantityError
from labkit.language.quantity import UNITS, quantity_of, read_quantity, unit_named


def amount(text: str) -> Amount:
    """Of "3 m": a number, a blank, a unit or none."""
    number, _, unit = text.partition(" ")
    return Amount.of(quantity_of(number, unit_named(unit)))


PRODUCTS = [
    ("2 V", "3 A", "6 W"),
    ("2 A", "3 ohm", "6 V"),
    ("2 V", "3 s", "6 V·s"),
    ("500 kbit/s", "128 µs", "64 bit"),
    ("5 kHz", "2 s", "10000"),
    ("3 m", "2 m", "6 m²"),
    ("3 m", "2 A", "6 A·m"),
    ("0.05 A", "0.9 ohm", "45 mV"),
    ("4 %", "24 V", "0.96 V"),
    ("24 V", "4 %", "0.96 V"),
    ("3", "4.5 m", "13.5 m"),
    ("150 cm", "2", "300 cm"),
    ("3", "5 %", "15 %"),
    ("50 %", "50 %", "0.25"),
    ("0.5 mA", "24 V", "12 mW"),
]


@pytest.mark.parametrize(("left", "right", "shown"), PRODUCTS)
def test_a_product_has_the_unit_of_both(left: str, right: str, shown: str) -> None:
    assert str(amount(left) * amount(right)) == shown


QUOTIENTS = [
    ("24 V", "2 A", "12 Ω"),
    ("24 V", "12 ohm", "2 A"),
    ("48 W", "24 V", "2 A"),
    ("8 byte", "500 kbit/s", "128 µs"),
    ("1", "20 ms", "50 Hz"),
    ("1", "500 kbit/s", "2 µs/bit"),
    ("23 ohm", "1 km", "0.023 Ω/m"),
    ("1", "4 V", "0.25 1/V"),
    ("1", "2 ohm", "0.5 A/V"),
    ("3 m", "2 s", "1.5 m/s"),
    ("24 V", "2", "12 V"),
    ("12 V", "24 V", "0.5"),
    ("50 %", "2", "25 %"),
]


@pytest.mark.parametrize(("left", "right", "shown"), QUOTIENTS)
def test_a_quotient_has_the_unit_of_both(left: str, right: str, shown: str) -> None:
    assert str(amount(left) / amount(right)) == shown


@pytest.mark.parametrize(
    ("left", "right", "words"),
    [
        ("5 m", "3 A", "5 m and 3 A cannot be added: 5 m is a length, 3 A is a current."),
        ("24 V", "3", "24 V and 3 cannot be added: 24 V is a voltage, 3 is a plain number."),
        ("24 V", "5 %", "24 V and 5 % cannot be added: 24 V is a voltage, 5 % is a percentage."),
        ("24", "5 %", "24 and 5 % cannot be added: write with * what the % is of, as in 24 * 5 %."),
    ],
)
def test_unlike_amounts_are_not_added(left: str, right: str, words: str) -> None:
    with pytest.raises(QuantityError) as raised:
        amount(left) + amount(right)
    assert str(raised.value) == words
    with pytest.raises(QuantityError, match="cannot be taken from"):
        amount(left) - amount(right)


def test_a_compound_unit_is_named_where_amounts_are_unlike() -> None:
    with pytest.raises(QuantityError, match=r"0\.023 Ω/m is in Ω/m"):
        amount("5 m") + amount("0.023 ohm") / amount("1 m")


@pytest.mark.parametrize("below", ["0", "0 V", "0 %"])
def test_nothing_is_divided_by_zero(below: str) -> None:
    with pytest.raises(QuantityError, match="divides by zero"):
        amount("0 V") / amount(below)


@pytest.mark.parametrize(
    ("shown", "number", "unit"),
    [
        ("0.345 V", "0.345", "V"),
        ("0.045 V", "0.045", "V"),
        ("500 µV", "0.0005", "V"),
        ("1100 m", "1100", "m"),
        ("150 km", "150000", "m"),
        ("0.25 km", "0.25", "km"),
        ("0", "-0", ""),
        ("0 m", "0", "m"),
        ("123456789", "123456789", ""),
        ("3.33333 m", "3.3333333333", "m"),
        # Answers ask back "1.234 mA": it could be 1234 mA.
        ("1.2340 mA", "1.2340", "mA"),
        ("0.0001 mm", "0.0000001", "m"),
    ],
)
def test_an_amount_is_shown_in_a_unit_that_suits_it(shown: str, number: str, unit: str) -> None:
    assert str(amount(f"{number} {unit}".strip())) == shown


@pytest.mark.parametrize("number", ["1e31", "1e-31", "1e20"])
def test_numbers_beyond_the_trade_have_no_result(number: str) -> None:
    with pytest.raises(QuantityError, match="too "):
        str(amount(number))


NUMBERS = st.decimals(min_value=-10_000, max_value=10_000, places=3, allow_nan=False)
SYMBOLS = st.sampled_from(sorted(name for name, unit in UNITS.items() if unit.is_linear))
SCALES = [name for name, unit in UNITS.items() if not unit.is_linear]
AMOUNTS = st.builds(lambda n, s: Amount.of(quantity_of(f"{n:f}0", UNITS[s])), NUMBERS, SYMBOLS)
WHOLE = st.builds(lambda a, n: Amount(Decimal(n), a.powers), AMOUNTS, st.integers(-1000, 1000))


@given(WHOLE, WHOLE, WHOLE)
def test_amounts_calculate_as_numbers_do(a: Amount, b: Amount, c: Amount) -> None:
    same = Amount(c.value, b.powers)
    left, right = a * (b + same), a * b + a * same
    assert (left.value, left.powers) == (right.value, right.powers)
    assert (a * b).powers == (b * a).powers
    if b.value:
        back = a * b / b
        assert back.powers == a.powers
        assert abs(back.value - a.value) <= abs(a.value) * Decimal("1e-25")
    assert (a - a).value == 0


@pytest.mark.parametrize("symbol", SCALES)
def test_nothing_is_calculated_with_a_point_on_a_scale_nor_with_a_logarithm(symbol: str) -> None:
    with pytest.raises(QuantityError, match=f"with {symbol}: it is a "):
        amount(f"20 {symbol}")


@given(AMOUNTS, AMOUNTS)
def test_only_like_amounts_are_added(a: Amount, b: Amount) -> None:
    alike = a.powers == b.powers and (a.unit is UNITS["%"]) == (b.unit is UNITS["%"])
    try:
        total = a + b
    except QuantityError:
        assert not alike
    else:
        assert alike
        assert total.powers == a.powers
        assert total.value == a.value + b.value


@given(AMOUNTS, AMOUNTS, st.sampled_from("+-*/"))
def test_what_is_shown_of_a_usual_unit_is_read_as_an_answer(
    a: Amount, b: Amount, sign: str
) -> None:
    try:
        made = {"+": a.__add__, "-": a.__sub__, "*": a.__mul__, "/": a.__truediv__}[sign](b)
        shown = str(made)
    except QuantityError:
        return
    symbol = shown.partition(" ")[2]
    if symbol not in UNITS:
        return
    unit = UNITS[symbol]
    read = Amount.of(read_quantity(shown, unit))
    assert read.powers == made.powers
    assert abs(read.value - made.value) <= abs(made.value) * Decimal("1e-5")
    # An hour is no round share of a second: of such sizes the last figures are lost.
    lost = abs(made.value) * Decimal("1e-24")
    assert made.is_rounded or abs(read.value - made.value) <= lost


def test_each_product_and_quotient_of_two_units_has_a_symbol() -> None:
    linear = [unit for unit in UNITS.values() if unit.is_linear]
    for left, right in product(linear, linear):
        # Nought of them: "5 MWh/pF" has a symbol, and is too large a number to be shown.
        a, b = Amount.of(quantity_of("0", left)), Amount.of(quantity_of("4", right))
        assert str(a * b)
        assert str(a / b)
