"""Lengths of frames, and the load they make."""

import pytest
from can_strategies import frames
from hypothesis import given, settings
from hypothesis import strategies as st

from labkit.fieldbus.can.frame import Frame
from labkit.fieldbus.can.length import (
    bit_time_us,
    duration_us,
    exact_bits,
    load_rule,
    logged_load,
    unstuffed_bits,
    worst_case_bits,
)
from labkit.fieldbus.can.wire import encode
from labkit.fieldbus.errors import PlanError


@settings(deadline=None)
@given(frames())
def test_exact_length_lies_between_both_bounds(frame: Frame) -> None:
    sent = frame.data_bytes
    exact = exact_bits(frame)
    assert unstuffed_bits(sent, extended=frame.extended) <= exact
    assert exact <= worst_case_bits(sent, extended=frame.extended)
    assert exact - encode(frame).stuff_bits == unstuffed_bits(sent, extended=frame.extended)


@settings(deadline=None)
@given(frames())
def test_interframe_space_is_three_bits(frame: Frame) -> None:
    assert exact_bits(frame) == exact_bits(frame, interframe_space=False) + 3
    assert exact_bits(frame, interframe_space=False) == len(encode(frame).levels)


# ISO 11898-1 field widths added up by hand: 1 + 11 + 1 + 1 + 1 + 4 + 8n + 15 + 1 + 2 + 7 + 3, and
# 20 more bits (SRR, 18 identifier bits, one more reserved bit) in the extended format.
def test_unstuffed_length_is_the_sum_of_the_fields() -> None:
    assert unstuffed_bits(0) == 47
    assert unstuffed_bits(8) == 111
    assert unstuffed_bits(8, extended=True) == 131


def test_times() -> None:
    assert bit_time_us(125) == 8.0
    assert duration_us(135, 500) == 270.0
    assert duration_us(135, 83.3) == pytest.approx(135 / 0.0833)


def test_load_of_a_log() -> None:
    frame = Frame(0x2AA, b"\xa5" * 8)
    assert logged_load([frame] * 100, 125, 1.0) == pytest.approx(100 * exact_bits(frame) / 125_000)
    assert logged_load([], 125, 1.0) == 0.0


def test_load_of_a_full_window_is_one() -> None:
    frame = Frame(0x2AA)
    bits = exact_bits(frame)
    assert logged_load([frame], 1, bits / 1000) == 1.0
    assert logged_load([frame], 1, (bits - 3) / 1000) == 1.0
    with pytest.raises(PlanError, match="check the window"):
        logged_load([frame], 1, (bits - 4) / 1000)


def test_load_rule_in_per_cent() -> None:
    rule = load_rule(0.3, 0.5, "the whole bus", "invented limit")
    assert (rule.value, rule.limit, rule.unit, rule.ok) == (30, 50, "%", True)
    assert not load_rule(0.51, 0.5, "the whole bus", "invented limit").ok


@settings(deadline=None)
@given(st.sampled_from([-1, 9, True, 1.0, float("nan"), "8", None]))
def test_bad_count_of_data_bytes(wrong: object) -> None:
    with pytest.raises(PlanError, match="data bytes"):
        worst_case_bits(wrong)  # type: ignore[arg-type]


@pytest.mark.parametrize("wrong", [0, -1, float("nan"), float("inf"), True, "125", None, 1e300])
def test_bad_bit_rate(wrong: object) -> None:
    with pytest.raises(PlanError, match="bit rate"):
        bit_time_us(wrong)  # type: ignore[arg-type]
