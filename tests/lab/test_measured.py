"""Measured values: what parts and meter allow, worked a second time, and what lies outside."""

import itertools
import math
from pathlib import Path
from typing import Any

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from labkit.lab.draw import draw, draw_again
from labkit.lab.kinds import check_for
from labkit.lab.kinds.measured import Meter, decimals_of
from labkit.lab.reading import read_lab, read_lab_text
from labkit.lab.verdict import Verdict
from labkit.language.problems import DefinitionError

BENCH_DAY = read_lab(Path(__file__).parents[1] / "library" / "bench-day" / "lab.md")
SCENARIO = draw(BENCH_DAY, "any")
PREPARED = SCENARIO.prepare(next(one for one in BENCH_DAY.exercises if one.kind == "measured"))
ASK, KEY = PREPARED.ask, PREPARED.key
CHECK = check_for("measured")

HEADER = "---\nid: a\nversion: 1\ntitle: A\nlet:\n  lead: 0.4\n---\n\n"
PARTS = """\
parts:
  first: {value: 121, tolerance: 1 %}
  second: {value: 121, tolerance: 1.21}
"""
METERS = """\
meters:
  - {id: bench, text: bench, of_reading: 0.5 %, digits: 2, resolution: 0.1}
"""
GOOD = """\
```exercise x
kind: measured
title: T
question: Q
unit: ohm
nominal: first * second / (first + second) + lead
parts:
  first: {value: 121, tolerance: 1 %}
  second: {value: 121, tolerance: 1.21}
meters:
  - {id: bench, text: bench, of_reading: 0.5 %, digits: 2, resolution: 0.1}
outside:
  - {id: one, from: 110, to: 135, tell: One alone.}
  - {id: open, from: 1000, tell: Open.}
marks: 1
working: W
```
"""


def key_of(text: str) -> dict[str, Any]:
    lab = read_lab_text(HEADER + text)
    return draw(lab, "seed").prepare(lab.exercises[0]).key


def verdict(value: Any, meter: str = "bench") -> Verdict:
    return CHECK.check(ASK, KEY, {"value": value, "meter": meter})


typed = st.one_of(
    st.floats(0, 300).map(lambda value: f"{value:.1f} ohm"),
    st.sampled_from(["OL", "60", "60 V", "1e99 Mohm", "-1e99 MΩ", "", "\ud800", "٣ ohm", "0.L kΩ"]),
    st.text(max_size=12),
)
scalars = st.none() | st.booleans() | st.integers() | st.floats() | typed
json_values = st.recursive(
    scalars,
    lambda inner: (
        st.lists(inner, max_size=3)
        | st.dictionaries(st.sampled_from(["value", "meter", "x"]), inner)
    ),
    max_leaves=6,
)


@settings(deadline=None)
@given(
    json_values
    | st.fixed_dictionaries(
        {"value": typed, "meter": st.sampled_from(["bench", "pocket"]) | scalars}
    )
)
def test_any_json_gets_a_verdict(answer: Any) -> None:
    found = CHECK.check(ASK, KEY, answer)
    assert isinstance(found, Verdict)
    assert found.credit in (0, 1)
    assert found.message
    assert not found.awaits
    assert found.readable == (CHECK.unreadable(ASK, answer) == "")
    assert found.readable or not found.slip
    assert isinstance(CHECK.shown(ASK, answer), str)


def test_the_right_answer_is_right_and_each_range_is_recognised() -> None:
    for number in range(20):
        scenario = draw(BENCH_DAY, f"measured {number}")
        exercise = next(one for one in BENCH_DAY.exercises if one.kind == "measured")
        made = scenario.prepare(exercise)
        right = CHECK.right_answer(made.ask, made.key)
        assert CHECK.check(made.ask, made.key, right).right
        slips = CHECK.slip_answers(made.ask, made.key)
        assert set(slips) == {"one-missing", "three", "shorted", "open"}
        for slip, answer in slips.items():
            found = CHECK.check(made.ask, made.key, answer)
            assert (found.slip, found.credit) == (slip, 0)


def test_the_parts_allow_what_their_extremes_give() -> None:
    # Two resistors of 121 ohm, 1 % (119.79 to 122.21 ohm), in parallel: half of each extreme.
    key = key_of(GOOD)
    assert key["nominal"] == pytest.approx(60.5 + 0.4)
    assert key["low"] == pytest.approx(119.79 / 2 + 0.4)
    assert key["high"] == pytest.approx(122.21 / 2 + 0.4)


@given(
    st.lists(st.tuples(st.floats(1, 500), st.floats(0, 20)), min_size=2, max_size=2),
    st.sampled_from(["first + second", "first - second", "first * second / (first + second)"]),
)
@settings(deadline=None, max_examples=60)
def test_corners_are_the_extremes_of_every_point_between(
    parts: list[tuple[float, float]], formula: str
) -> None:
    (one, one_off), (two, two_off) = parts
    text = GOOD.replace("first * second / (first + second) + lead", formula)
    text = text.replace("value: 121, tolerance: 1 %", f"value: {one!r}, tolerance: {one_off!r} %")
    text = text.replace("value: 121, tolerance: 1.21", f"value: {two!r}, tolerance: {two_off!r} %")
    assume("e" not in f"{one!r}{two!r}{one_off!r}{two_off!r}")
    key = key_of(text)
    steps = [-1, -0.6, -0.2, 0.2, 0.6, 1]
    points = [
        eval(
            formula,
            {"first": one * (1 + a * one_off / 100), "second": two * (1 + b * two_off / 100)},
        )
        for a, b in itertools.product(steps, steps)
    ]
    slack = 1e-9 * (1 + one + two)
    assert key["low"] - slack <= min(points)
    assert max(points) <= key["high"] + slack
    # The corners themselves are among the points: the interval is not wider than it must be.
    assert key["low"] == pytest.approx(min(points), abs=slack)
    assert key["high"] == pytest.approx(max(points), abs=slack)


@given(
    st.floats(-1000, 1000),
    st.floats(0, 100),
    st.floats(0, 0.5),
    st.integers(0, 20),
    st.sampled_from([0.001, 0.1, 1.0]),
    st.floats(-2500, 2500),
)
def test_a_reading_fits_when_some_true_value_is_within_the_meters_error(
    low: float, width: float, share: float, digits: int, resolution: float, reading: float
) -> None:
    meter = Meter(share, digits, resolution)
    least, most = meter.readings(low, low + width)
    error = share * abs(reading) + digits * resolution
    fits = reading + error >= low and reading - error <= low + width
    assume(min(abs(reading - least), abs(reading - most)) > 1e-6)
    assert (least < reading < most) == fits


@pytest.mark.parametrize(
    ("value", "right", "slip", "words"),
    [
        ("60.9 ohm", True, "", "Right"),
        ("0,0609 kΩ", True, "", "Right"),
        ("122 Ω", False, "one-missing", "one terminator alone"),
        ("40.6 ohm", False, "three", "three terminators"),
        ("0.3 ohm", False, "shorted", "touch"),
        ("OL", False, "open", "No terminator is reached"),
        ("0.L Mohm", False, "open", "No terminator is reached"),
        ("70 ohm", False, "", "above what these parts"),
        ("50 ohm", False, "", "below what these parts"),
    ],
)
def test_a_reading_is_judged_and_explained(value: str, right: bool, slip: str, words: str) -> None:
    found = verdict(value)
    assert (found.right, found.slip) == (right, slip)
    assert words in found.message


def test_what_is_outside_is_told_without_the_bounds() -> None:
    for value in ("70 ohm", "50 ohm"):
        assert not any(character.isdigit() for character in verdict(value).message)


def test_over_range_that_nothing_is_told_of_is_above() -> None:
    key = {**KEY, "outside": []}
    found = CHECK.check(ASK, key, {"value": "OL", "meter": "bench"})
    assert found.message.startswith("A reading over range is above")


def test_the_meter_widens_what_the_parts_allow() -> None:
    # A reading that the rough meter may show of a right circuit, and the good one may not.
    lead = SCENARIO.names["lead"]
    high = 122.21 / 2 + lead
    between = (high + 0.2) / (1 - 0.005) + 0.2
    assert between < (high + 0.3) / (1 - 0.012)
    assert not verdict(f"{between:.3f} ohm", "bench").right
    assert verdict(f"{between:.3f} ohm", "pocket").right


@pytest.mark.parametrize(
    ("answer", "words"),
    [
        ({"value": "60 ohm"}, "Choose the meter"),
        ({"value": "60 ohm", "meter": "other"}, "Choose the meter"),
        ({"value": "60", "meter": "bench"}, "60 of what?"),
        ({"value": "60 V", "meter": "bench"}, "resistance is asked for"),
        ({"value": "", "meter": "bench"}, "Nothing is written"),
        ("60 ohm", "Write what the meter shows"),
        (None, "Write what the meter shows"),
    ],
)
def test_what_is_no_reading_is_unreadable_and_says_what_to_write(answer: Any, words: str) -> None:
    found = CHECK.check(ASK, KEY, answer)
    assert not found.readable
    assert words in found.message


def test_one_meter_need_not_be_chosen() -> None:
    lab = read_lab_text(HEADER + GOOD)
    made = draw(lab, "seed").prepare(lab.exercises[0])
    assert CHECK.check(made.ask, made.key, {"value": "60.9 ohm"}).right


def test_nothing_of_the_key_is_in_what_the_trainee_gets() -> None:
    assert set(ASK) == {"unit", "meters", "caution"}
    assert all(set(meter) == {"id", "text"} for meter in ASK["meters"])
    check: Any = CHECK
    page = check.paper(ASK)
    for range_ in KEY["outside"]:
        assert range_["tell"] not in page
    assert f"{KEY['low']:.1f}" not in page


@pytest.mark.parametrize(
    ("resolution", "decimals"), [(0.1, 1), (0.02, 2), (5.0, 0), (0.001, 3), (10.0, 0), (0.25, 2)]
)
def test_a_display_has_as_many_decimals_as_its_resolution(resolution: float, decimals: int) -> None:
    assert decimals_of(resolution) == decimals


@pytest.mark.parametrize("value", [60.4999, 1 / 3, 1e-7, 12345.678])
def test_a_right_answer_is_right_however_it_must_be_rounded(value: float) -> None:
    meter = {"share": 0.0, "digits": 0, "resolution": 0.1}
    key = {"nominal": value, "low": value, "high": value, "meters": {"m": meter}, "outside": []}
    ask = {"unit": "V", "meters": [{"id": "m", "text": "m"}], "caution": ""}
    assert CHECK.check(ask, key, CHECK.right_answer(ask, key)).right


def test_low_and_high_may_be_given_instead_of_parts() -> None:
    text = GOOD.replace("first * second / (first + second) + lead", "24 - 2 * lead")
    text = text.replace(PARTS, "low: 20 + lead\nhigh: 25\n")
    key = key_of(text)
    assert (key["low"], key["nominal"], key["high"]) == (20.4, 23.2, 25.0)
    with pytest.raises(DefinitionError, match=r"is not between 'low' \(20\.4\) and 'high' \(22\)"):
        key_of(text.replace("high: 25", "high: 22"))


@pytest.mark.parametrize(
    ("old", "new", "line", "words"),
    [
        (
            "  first: {value: 121, tolerance: 1 %}",
            "  first: {value: 121, tolerance: x}",
            16,
            "'x' is not a tolerance",
        ),
        ("  first:", "  lead:", 16, "'lead' is a name of the lab already"),
        ("  first:", "  round:", 16, "'round' is a name of the lab already"),
        ("first * second / (first + second)", "first", 17, "does not use the part 'second'"),
        ("0.5 %, digits", "0.5, digits", 19, "Write it in %"),
        ("0.5 %, digits", "60 %, digits", 19, "Write 50 % at most"),
        ("resolution: 0.1", "resolution: 0", 19, "is not a resolution"),
        ("resolution: 0.1", "resolution: fine", 19, "is not a number"),
        ("digits: 2", "digits: two", 19, "is not a whole number"),
        ("from: 1000, ", "", 22, "which readings are meant"),
        ("from: 110, to: 135", "from: 135, to: 110", 21, "135 is above 'to' (110)"),
        ("id: open", "id: one", 22, "range 'one' is there twice"),
        ("from: 1000", "from: lots", 22, "'lots' is not a name of this lab"),
        ("unit: ohm", "unit: oomph", 13, "is not a unit known here"),
        (
            METERS,
            "",
            10,
            "is missing",
        ),
        ("nominal: ", "low: 3\nnominal: ", 14, "'high' is missing"),
        ("nominal: ", "low: 3\nhigh: 4\nnominal: ", 17, "'low' and 'high' too"),
        (
            PARTS,
            "",
            14,
            "what the real parts allow",
        ),
        (
            "first * second / (first + second) + lead",
            "(first - 121) ** 2 + second",
            14,
            "does not only rise",
        ),
    ],
)
def test_an_authors_mistake_is_told_with_its_line(
    old: str, new: str, line: int, words: str
) -> None:
    assert old in GOOD
    with pytest.raises(DefinitionError) as caught:
        key_of(GOOD.replace(old, new, 1))
    problems = [(problem.place.line, str(problem)) for problem in caught.value.problems]
    assert any(at == line and words in text for at, text in problems), problems


def test_parts_are_put_over_names_that_are_not_worked_out_yet() -> None:
    # Scoring works names out only when asked: the overlay of parts must ask, not copy.
    text = HEADER.replace("lead: 0.4", "lead: 0.2 + 0.2") + GOOD
    lab = read_lab_text(text)
    again = draw_again(lab, "seed", 1).prepare(lab.exercises[0])
    assert again.key == draw(lab, "seed").prepare(lab.exercises[0]).key
    assert math.isclose(again.key["nominal"], 60.9)
