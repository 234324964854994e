"""The gain between two tests, against SciPy and against a worked example of 1908."""

from __future__ import annotations

import math
import random

import pytest
from scipy import stats

from labkit.classroom.analysis.charts import gain_chart, pair_chart
from labkit.classroom.analysis.gain import gain_of, mean_interval

# Additional hours of sleep of ten patients, "Student" (1908), table 1: laevo less dextro.
STUDENTS = [1.2, 2.4, 1.3, 1.3, 0.0, 1.0, 1.8, 0.8, 4.6, 1.4]


def test_the_interval_of_students_own_example() -> None:
    """Mean 1.58; the interval as statistics programs print it for these data."""
    interval = mean_interval(STUDENTS)
    assert interval is not None
    assert (interval.low, interval.high) == pytest.approx((0.7001142, 2.4598858), abs=1e-7)


@pytest.mark.parametrize("people", [2, 3, 5, 14, 60, 400])
def test_gain_and_interval_are_scipys_of_pairs(people: int) -> None:
    drawn = random.Random(people)
    pairs = [(drawn.uniform(0, 70), drawn.uniform(20, 100)) for _ in range(people)]
    gain = gain_of(pairs)
    before, after = zip(*pairs, strict=True)
    reference = stats.ttest_rel(after, before)
    known = reference.confidence_interval(0.95)
    assert gain.interval is not None
    assert (gain.interval.low, gain.interval.high) == pytest.approx((known.low, known.high))
    assert gain.gain == pytest.approx(gain.after - gain.before)
    assert gain.gain == pytest.approx(sum(after) / people - sum(before) / people)


def test_an_unpaired_interval_would_be_another_one() -> None:
    """Everybody gains nearly the same: that tells much in pairs and little without them."""
    pairs = [(10.0 * n, 10.0 * n + 20 + n % 2) for n in range(8)]
    interval = gain_of(pairs).interval
    assert interval is not None
    assert interval.high - interval.low < 1
    apart = stats.ttest_ind([b for _, b in pairs], [a for a, _ in pairs]).confidence_interval(0.95)
    assert apart.high - apart.low > 40


def test_people_are_counted_by_how_they_did() -> None:
    gain = gain_of([(10, 50), (50, 50), (60, 40), (33.3, 33.3 + 1e-12)])
    assert (gain.better, gain.same, gain.worse) == (1, 2, 1)


def test_no_interval_where_nothing_tells_of_one() -> None:
    alone, alike = gain_of([(20, 60)]), gain_of([(20, 60), (30, 70), (0, 40)])
    assert (alone.interval, alike.interval) == (None, None)
    assert "one person alone" in alone.doubts[0]
    assert "all gained the same" in alike.doubts[0]
    assert (alone.shown, alike.shown) == ("", "")
    with pytest.raises(ValueError, match="nobody"):
        gain_of([])


def test_few_people_and_the_ends_of_the_scale_are_told() -> None:
    few = [(40.0 + n, 60.0 + 2 * n) for n in range(9)]
    assert "Fewer than 10" in gain_of(few).doubts[0]
    many = [(40.0 + n, 60.0 + 2 * n) for n in range(10)]
    assert gain_of(many).doubts == ()
    full = [(40.0 + n, 100.0 if n < 4 else 70.0) for n in range(10)]
    assert "0 or 100 %" in gain_of(full).doubts[0]


@pytest.mark.parametrize(
    ("gains", "said"),
    [([10, 12, 14], "above 0"), ([-10, -12, -14], "below 0"), ([-10, 12, 1], "holds 0")],
)
def test_what_the_interval_shows(gains: list[float], said: str) -> None:
    assert said in gain_of([(50, 50 + gain) for gain in gains]).shown


def test_lines_of_single_people_are_drawn_from_five_on() -> None:
    pairs = [(20.0 + n, 50.0 + n * n) for n in range(5)]
    assert pair_chart(gain_of(pairs)).count('class="pair"') == 5
    assert pair_chart(gain_of(pairs[:4])).count('class="pair"') == 0
    assert pair_chart(gain_of(pairs[:4])).count('class="mean"') == 1


def test_the_chart_says_the_gain_and_its_interval_in_words() -> None:
    gain = gain_of([(20, 50), (30, 70), (25, 52)])
    assert gain.interval is not None
    said = gain_chart(gain)
    low, high = gain.interval.low, gain.interval.high
    assert f"Mean gain 32 percentage points, 95 % interval {low:.0f} to {high:.0f}." in said
    assert math.floor(low) > 0
    assert 'class="limit"' in said
