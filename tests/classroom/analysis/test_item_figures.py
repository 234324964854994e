"""Figures of exercises and totals against published examples and reference libraries."""

from __future__ import annotations

import math

import numpy as np
import pingouin
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import special, stats
from statsmodels.stats.multitest import multipletests

from labkit.classroom.analysis.distributions import beta_share, f_quantile, f_tail
from labkit.classroom.analysis.intervals import correlation_interval, holm, share_difference, wilson
from labkit.classroom.analysis.items import corrected_item_total, upper_lower_shares
from labkit.classroom.analysis.reliability import (
    alpha_from_variances,
    cronbach_alpha,
    feldt_interval,
    kuder_richardson_20,
    standard_error,
)
from labkit.classroom.analysis.table import Floats

# R. G. Newcombe, "Two-sided confidence intervals for the single proportion", Statistics in Medicine
# 17 (1998) 857-872, table I, method 3 (from memory of the table, and checked against SciPy below).
SINGLE = [
    (81, 263, 0.2553, 0.3662),
    (15, 148, 0.0624, 0.1605),
    (0, 20, 0.0000, 0.1611),
    (1, 29, 0.0061, 0.1718),
]
# The same author's paper on differences, Statistics in Medicine 17 (1998) 873-890, table II, method
# 10 (from memory of the table).
DIFFERENCES = [
    (56, 70, 48, 80, 0.0524, 0.3339),
    (9, 10, 3, 10, 0.1705, 0.8090),
    (10, 10, 0, 10, 0.6075, 1.0000),
]


def class_marks(seed: int, trainees: int, exercises: int) -> Floats:
    """Part marks of a class in which some are stronger, in steps of a quarter."""
    chance = np.random.default_rng(seed)
    strength = chance.normal(size=(trainees, 1))
    likely = 1 / (1 + np.exp(-strength - chance.normal(size=exercises)))
    return (chance.random((trainees, exercises)) < likely) * chance.integers(2, 5, exercises) / 4


@pytest.mark.parametrize(("seen", "count", "low", "high"), SINGLE)
def test_wilson_gives_the_published_intervals(
    seen: int, count: int, low: float, high: float
) -> None:
    found = wilson(seen / count, count)
    assert (found.low, found.high) == pytest.approx((low, high), abs=6e-5)
    reference = stats.binomtest(seen, count).proportion_ci(0.95, "wilson")
    assert (found.low, found.high) == pytest.approx((reference.low, reference.high), abs=1e-12)


@pytest.mark.parametrize(("a", "m", "b", "n", "low", "high"), DIFFERENCES)
def test_differences_of_shares_give_the_published_intervals(
    a: int, m: int, b: int, n: int, low: float, high: float
) -> None:
    found = share_difference(a / m, m, b / n, n)
    assert (found.low, found.high) == pytest.approx((low, high), abs=6e-5)


def test_wilson_of_part_marks_holds_the_true_mean_often_enough() -> None:
    chance, held = np.random.default_rng(5), 0
    for _ in range(1_000):
        shares = chance.choice([0, 0.25, 0.5, 1], p=[0.3, 0.1, 0.2, 0.4], size=12)
        found = wilson(float(shares.mean()), 12)
        held += found.low <= 0.525 <= found.high
    assert held >= 950


def test_a_correlations_interval_is_that_of_the_reference() -> None:
    chance = np.random.default_rng(1)
    one, two = chance.normal(size=(2, 17))
    reference = pingouin.corr(one, two)
    low, high = next(iter(reference.filter(like="CI95").iloc[0]))
    found = correlation_interval(float(np.corrcoef(one, two)[0, 1]), 17)
    assert found is not None
    # The reference rounds to two digits.
    assert (round(found.low, 2), round(found.high, 2)) == pytest.approx((low, high))
    assert correlation_interval(0.5, 3) is None
    # Four people on one line are no proof of a correlation of 1.
    assert correlation_interval(1.0, 4) is None
    assert (
        correlation_interval(float(np.corrcoef([0.1, 0.2, 0.7], [0.3, 0.6, 2.1])[0, 1]), 4) is None
    )
    assert correlation_interval(-1.0, 4) is None


@pytest.mark.parametrize("seed", range(5))
def test_an_exercise_is_correlated_with_the_others_and_not_with_itself(seed: int) -> None:
    marks = class_marks(seed, 15, 6)
    found = corrected_item_total(marks)
    for index, value in enumerate(found):
        others = np.delete(marks, index, axis=1).sum(axis=1)
        assert value == pytest.approx(stats.pearsonr(marks[:, index], others).statistic)


def test_an_exercise_that_all_did_alike_has_no_correlation() -> None:
    marks = class_marks(3, 12, 4)
    marks[:, 2] = 0.1 + 0.2  # rounding noise must not count as a difference
    assert corrected_item_total(marks)[2] is None
    assert corrected_item_total(np.ones((1, 1))) == [None]


def test_upper_and_lower_groups_share_the_places_that_tie() -> None:
    # Ten trainees: groups of three. Totals 9, 8, then four of 7 for the last upper place.
    totals = np.array([9.0, 8, 7, 7, 7, 7, 4, 3, 2, 1])
    shares = np.array([1.0, 1, 1, 0, 0, 0, 0, 0, 0.5, 0])
    assert upper_lower_shares(shares, totals) == pytest.approx(((2 + 0.25) / 3, 0.5 / 3))
    assert upper_lower_shares(shares, np.full(10, 5.0)) is None
    assert upper_lower_shares(shares[:1], totals[:1]) is None


@given(st.permutations(range(9)))
def test_the_order_of_the_roster_changes_no_group(order: list[int]) -> None:
    totals = np.array([5.0, 5, 5, 5, 3, 3, 3, 2, 2])
    shares = np.array([1.0, 0, 1, 0.5, 0, 1, 0, 0, 1])
    found = upper_lower_shares(shares[order], totals[order])
    assert found == pytest.approx(upper_lower_shares(shares, totals))


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize(("trainees", "exercises"), [(4, 2), (12, 11), (40, 25)])
def test_alpha_and_its_interval_are_those_of_the_reference(
    seed: int, trainees: int, exercises: int
) -> None:
    import pandas as pd

    marks = class_marks(seed, trainees, exercises)
    alpha = cronbach_alpha(marks)
    if alpha is None:
        assert marks.sum(axis=1).std() < 1e-9
        return
    reference, interval = pingouin.cronbach_alpha(pd.DataFrame(marks))
    assert alpha == pytest.approx(reference)
    found = feldt_interval(alpha, trainees, exercises)
    assert found is not None
    assert [found.low, found.high] == pytest.approx(list(interval), abs=6e-4)


@pytest.mark.parametrize("seed", range(4))
def test_kr_20_is_alpha_of_right_and_wrong(seed: int) -> None:
    import pandas as pd

    right = class_marks(seed, 14, 9) > 0
    reference, _ = pingouin.cronbach_alpha(pd.DataFrame(right.astype(float)))
    assert kuder_richardson_20(right) == pytest.approx(reference)


def test_alpha_of_the_published_example() -> None:
    # J. M. Bland and D. G. Altman, "Statistics notes: Cronbach's alpha", BMJ 314 (1997) 572: ten
    # items, variances 11.16 added up, variance of totals 77.44, alpha 0.95 (from memory).
    assert round(alpha_from_variances(10, 11.16, 77.44), 2) == 0.95


def test_the_standard_error_is_the_spread_of_one_persons_totals() -> None:
    # Parallel exercises: every mark is a true value plus noise, so both sides are known.
    chance = np.random.default_rng(8)
    true = chance.normal(size=(4_000, 1))
    marks = true + chance.normal(scale=0.7, size=(4_000, 6))
    alpha = cronbach_alpha(marks)
    assert alpha is not None
    assert standard_error(marks, alpha) == pytest.approx(0.7 * math.sqrt(6), rel=0.02)


def test_too_small_or_too_alike_has_no_reliability() -> None:
    assert cronbach_alpha(np.array([[1.0, 2], [2, 1]])) is None
    assert cronbach_alpha(np.array([[1.0], [2], [3]])) is None
    assert cronbach_alpha(np.array([[1.0, 2], [2, 1], [0, 3]])) is None
    assert kuder_richardson_20(np.ones((5, 3), bool)) is None


@given(st.floats(0.2, 300), st.floats(0.2, 300), st.floats(0, 1), st.floats(1e-4, 1 - 1e-4))
def test_the_distributions_are_those_of_the_reference(
    a: float, b: float, x: float, probability: float
) -> None:
    assert beta_share(a, b, x) == pytest.approx(special.betainc(a, b, x), abs=1e-11, rel=1e-9)
    assert f_tail(5 * x, a, b) == pytest.approx(stats.f.sf(5 * x, a, b), abs=1e-11, rel=1e-8)
    if a > 1 and b > 1:
        value = f_quantile(probability, a, b)
        assert stats.f.cdf(value, a, b) == pytest.approx(probability, abs=1e-9)


# The reference takes a tenth of a second a call.
@settings(max_examples=12, deadline=None)
@given(st.lists(st.floats(0, 1), min_size=1, max_size=12))
def test_holm_is_that_of_the_reference(probabilities: list[float]) -> None:
    reference = multipletests(probabilities, method="holm")[1]
    assert holm(probabilities) == pytest.approx(list(reference))
    padded = multipletests([*probabilities, *[1.0] * 5], method="holm")[1]
    assert holm(probabilities, len(probabilities) + 5) == pytest.approx(
        list(padded[: len(probabilities)])
    )
