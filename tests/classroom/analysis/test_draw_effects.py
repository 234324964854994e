"""Effects of the draw: least squares as the reference has it, rounds that keep the false alarms."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
import statsmodels.api as sm
from tiny_class import MakeRoom

from labkit.classroom.analysis.table import Floats, mark_tables
from labkit.classroom.analysis.variants import (
    Variant,
    dealt_round,
    least_squares,
    residuals,
    variant_effects,
    variants_of,
)
from labkit.classroom.marks.scoring import score


def outcome(seed: int, people: int = 14) -> tuple[Floats, Floats]:
    chance = np.random.default_rng(seed)
    ability = chance.normal(size=people)
    return (chance.random(people) < 1 / (1 + np.exp(-ability))).astype(float), ability


@pytest.mark.parametrize("seed", range(5))
def test_the_f_test_and_the_change_are_those_of_the_reference(seed: int) -> None:
    shares, ability = outcome(seed)
    chance = np.random.default_rng(seed + 50)
    values = chance.uniform(3, 9, len(shares))
    small = sm.OLS(shares, sm.add_constant(ability)).fit()
    full = sm.OLS(shares, sm.add_constant(np.column_stack([ability, values]))).fit()
    change, easier, harder, probability = least_squares(
        shares, ability, Variant("x", values[:, None], ("x",))
    )
    assert probability == pytest.approx(full.compare_f_test(small)[1])
    assert change == pytest.approx(abs(full.params[2]) * np.ptp(values))
    ends = (f"{values.max():.4g}", f"{values.min():.4g}")
    assert (easier, harder) == (ends if full.params[2] > 0 else ends[::-1])


@pytest.mark.parametrize("seed", range(5))
def test_a_named_choice_is_tested_as_the_reference_tests_its_columns(seed: int) -> None:
    shares, ability = outcome(seed, 18)
    kind = np.random.default_rng(seed + 90).permutation(np.arange(18) % 3)
    columns = np.column_stack([kind == 1, kind == 2]).astype(float)
    small = sm.OLS(shares, sm.add_constant(ability)).fit()
    full = sm.OLS(shares, sm.add_constant(np.column_stack([ability, columns]))).fit()
    variant = Variant("size", columns, ("middle", "far"), "near")
    change, easier, harder, probability = least_squares(shares, ability, variant)
    assert probability == pytest.approx(full.compare_f_test(small)[1])
    levels = dict(zip(("near", "middle", "far"), [0, *full.params[2:]], strict=True))
    assert change == pytest.approx(max(levels.values()) - min(levels.values()))
    assert easier == max(levels, key=lambda name: levels[name])
    assert harder == min(levels, key=lambda name: levels[name])


def test_the_rounds_come_near_the_probability_of_all_orders() -> None:
    values, left = np.array([1.0, 2, 3, 4, 5, 9]), np.array([0.1, -0.3, 0.2, 0.4, 0.9, -1.3])
    left -= left.mean()
    seen = abs((values - values.mean()) @ left)
    orders = [abs((np.array(o) - values.mean()) @ left) for o in itertools.permutations(values)]
    exact = np.mean(np.array(orders) >= seen - 1e-12)
    found = dealt_round([values[:, None]], [left])[0, 0]
    # Two thousand rounds: within four standard deviations of a share.
    assert found == pytest.approx(exact, abs=4 * np.sqrt(exact * (1 - exact) / 2_000))


def marks_of(chance: np.random.Generator, people: int, exercises: int) -> tuple[Floats, Floats]:
    ability = chance.normal(size=(people, 1))
    shares = (chance.random((people, exercises)) < 1 / (1 + np.exp(-ability))).astype(float)
    return shares, shares.sum(axis=1)


def all_left(shares: Floats, totals: Floats) -> list[Floats]:
    return [residuals(column, totals - column) for column in shares.T]


def test_a_draw_without_effect_is_blamed_in_at_most_one_class_of_twenty() -> None:
    alarms = 0
    for seed in range(200):
        chance = np.random.default_rng(seed)
        shares, totals = marks_of(chance, 12, 6)
        # A skew value and a rare choice: what misleads a test that supposes normal marks.
        skew: Floats = chance.exponential(size=(12, 1)) ** 2
        rare: Floats = (np.arange(12) < 2).astype(np.float64)[:, None]
        adjusted = dealt_round([skew, rare], all_left(shares, totals), rounds=199)
        alarms += bool((adjusted <= 0.05).any())
    # 21 or more of 200 at 5 % would be less likely than one in a thousand.
    assert alarms <= 20


def test_a_draw_that_decides_an_exercise_is_found() -> None:
    chance = np.random.default_rng(3)
    shares, _ = marks_of(chance, 24, 6)
    far = chance.permutation(np.arange(24) % 2)
    shares[:, 2] = far == 0
    variants = [chance.normal(size=(24, 1)), far[:, None].astype(float)]
    adjusted = dealt_round(variants, all_left(shares, shares.sum(axis=1)))
    assert adjusted[1, 2] <= 0.001
    assert np.delete(adjusted.ravel(), 8).min() > 0.05


def test_a_class_is_looked_through_with_the_names_of_its_lab(make_room: MakeRoom) -> None:
    room = make_room(*(f"p{n},P {n}" for n in range(16)))
    room.deal()
    numbers = {f"p{n}": room.number(f"p{n}") for n in range(16)}
    middle = sorted(numbers.values())[8]
    for trainee, number in numbers.items():
        answers = room.right(trainee)
        if number >= middle:
            # High numbers are doubled wrongly.
            answers["double"] = f"{2 * number + 1} m"
        room.hand_in(trainee, answers)
    scoring = score(room.folder)
    (table,) = mark_tables(scoring.labs, scoring.results)
    assert [variant.name for variant in variants_of(table)] == ["a"]
    effects = variant_effects(table)
    assert {(effect.parameter, effect.exercise) for effect in effects} == {
        ("a", "double"),
        ("a", ""),
    }
    first = next(effect for effect in effects if effect.exercise == "double")
    assert first.adjusted <= 0.01
    assert (first.easier, first.harder) == (
        f"{min(numbers.values()):.4g}",
        f"{max(numbers.values()):.4g}",
    )


def test_fewer_than_eight_are_told_nothing(make_room: MakeRoom) -> None:
    room = make_room()
    room.deal()
    room.hand_in("ann")
    scoring = score(room.folder)
    (table,) = mark_tables(scoring.labs, scoring.results)
    assert variant_effects(table) == ()
