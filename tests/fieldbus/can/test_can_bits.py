"""Stuffing and reading of bits."""

from itertools import groupby

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from labkit.fieldbus.can.bits import (
    bits_number,
    bits_of,
    crc15,
    number_bits,
    stuff,
    stuff_places,
    unstuff,
)
from labkit.fieldbus.errors import PlanError

bit = st.integers(0, 1)
rows = st.one_of(
    st.lists(bit, max_size=60),
    st.lists(st.tuples(bit, st.integers(1, 12)), max_size=12).map(
        lambda runs: [level for level, count in runs for _ in range(count)]
    ),
)


@settings(deadline=None)
@given(rows)
def test_unstuffing_undoes_stuffing(row: list[int]) -> None:
    assert unstuff(stuff(row)) == tuple(row)


@settings(deadline=None)
@given(rows)
def test_stuffed_row_has_no_six_equal_bits(row: list[int]) -> None:
    assert all(len(list(run)) <= 5 for _, run in groupby(stuff(row)))


@settings(deadline=None)
@given(rows)
def test_stuffing_adds_at_most_one_bit_in_four_after_the_first_five(row: list[int]) -> None:
    added = len(stuff(row)) - len(row)
    assert added == len(stuff_places(row)) <= max(0, len(row) - 1) // 4


@settings(deadline=None)
@given(rows)
def test_stuffing_of_the_mirrored_levels_is_mirrored(row: list[int]) -> None:
    assert stuff([1 - level for level in row]) == tuple(1 - level for level in stuff(row))


# Worked by hand after the rule of ISO 11898-1.
@pytest.mark.parametrize(
    ("plain", "stuffed"),
    [
        ("", ""),
        ("0000", "0000"),
        ("00000", "000001"),
        ("000000", "0000010"),
        ("11111", "111110"),
        ("1111100001", "111110000011"),
        ("111110000", "11111000001"),
        ("11111000011110000", "111110000011111000001"),
        ("0111110", "01111100"),
    ],
)
def test_hand_worked_stuffing(plain: str, stuffed: str) -> None:
    assert stuff(bits_of(plain)) == bits_of(stuffed)


def test_worst_pattern_reaches_one_stuff_bit_in_four() -> None:
    row = bits_of("11111" + "00001111" * 6)
    assert len(stuff(row)) - len(row) == (len(row) - 1) // 4


def test_stuff_error_names_the_sixth_bit() -> None:
    with pytest.raises(PlanError, match="bit 6: a sixth dominant bit"):
        unstuff(bits_of("1000000"))
    with pytest.raises(PlanError, match="bit 5: a sixth recessive bit"):
        unstuff(bits_of("111111"))


@settings(deadline=None)
@given(st.integers(0, 2**29 - 1))
def test_number_and_bits(value: int) -> None:
    assert bits_number(number_bits(value, 29)) == value
    assert number_bits(value, 29) == bits_of(f"{value:029b}")


@settings(deadline=None)
@given(rows, rows)
def test_crc_is_linear(one: list[int], other: list[int]) -> None:
    size = max(len(one), len(other))
    first = [0] * (size - len(one)) + one
    second = [0] * (size - len(other)) + other
    both = [a ^ b for a, b in zip(first, second, strict=True)]
    assert crc15(both) == crc15(first) ^ crc15(second)


@settings(deadline=None)
@given(rows)
def test_crc_of_a_row_with_its_own_crc_is_zero(row: list[int]) -> None:
    assert crc15([*row, *number_bits(crc15(row), 15)]) == 0


def test_text_may_be_spaced() -> None:
    assert bits_of("01 0_1|1\n") == (0, 1, 0, 1, 1)


@pytest.mark.parametrize("wrong", ["012", "ab", [0, 2], [0, True], [0.0], ["1"], 5, None, [None]])
def test_what_is_no_row_of_bits(wrong: object) -> None:
    with pytest.raises(PlanError, match=r"bit"):
        bits_of(wrong)  # type: ignore[arg-type]
