"""The checks of plain values: what they let through, and the sentence for what they do not."""

import math
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labkit.fieldbus import checked
from labkit.fieldbus.circuit import CircuitError
from labkit.fieldbus.errors import PlanError

ANYTHING = st.one_of(
    st.floats(), st.integers(), st.booleans(), st.text(), st.none(), st.lists(st.integers())
)
BOUNDS = st.floats(-1e6, 1e6)


@given(ANYTHING, BOUNDS, BOUNDS, st.booleans())
def test_number_lets_through_exactly_the_finite_numbers_of_the_range(
    value: Any, low: float, high: float, above: bool
) -> None:
    plain = type(value) in (int, float)
    good = plain and (low < value if above else low <= value) and value <= high
    try:
        found = checked.number(value, "the length", "m", low, high, above=above)
    except PlanError:
        assert not good
    else:
        assert good
        assert type(found) is float
        assert found == value


@given(ANYTHING, st.integers(-100, 100), st.integers(-100, 100))
def test_whole_lets_through_exactly_the_whole_numbers_of_the_range(
    value: Any, low: int, high: int
) -> None:
    good = type(value) is int and low <= value <= high
    try:
        assert checked.whole(value, "the count", low, high) == value
    except PlanError:
        assert not good
    else:
        assert good


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf, 10**400])
def test_without_a_highest_value_a_number_must_still_be_finite(value: float) -> None:
    with pytest.raises(PlanError, match="give it as a finite number in m"):
        checked.number(value, "the length", "m", -math.inf)


def test_a_number_whose_class_derives_from_float_or_int_comes_back_plain() -> None:
    class Metres(float):
        pass

    assert type(checked.number(Metres(2.5), "the length", "m")) is float
    assert checked.number(0, "the length", "m") == 0.0


def test_a_sentence_names_the_thing_and_its_owner_and_says_what_is_allowed() -> None:
    with pytest.raises(CircuitError) as caught:
        checked.number(7, "the voltage", "V", 1.0, 5.0, of=("resistor", "r1"), error=CircuitError)
    assert str(caught.value) == (
        "The voltage of resistor 'r1' is 7 V; it must be at least 1 and at most 5 V."
    )
    with pytest.raises(PlanError) as caught_too:
        checked.whole(64, "the node address", 0, 63, of="pump")
    assert str(caught_too.value) == (
        "The node address of pump is 64, outside 0 to 63: choose a number in that range."
    )


@pytest.mark.parametrize("value", [[10**5000], "x" * 10_000])
def test_a_value_too_long_to_show_still_gets_a_short_sentence(value: Any) -> None:
    with pytest.raises(PlanError) as caught:
        checked.whole(value, "the count", 0, 1)
    assert len(str(caught.value)) < 200
