"""A draw that is turned down for its difficulty is not worked out, and the same ones are dealt."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from itertools import pairwise

import pytest
from fair_class import FAIR_LAB
from hypothesis import given, settings
from hypothesis import strategies as st

from labkit.classroom.dealing import fairness, picking
from labkit.classroom.dealing.fairness import PAIRS, bounds_of, difficulty_of
from labkit.classroom.dealing.picking import Picker
from labkit.classroom.dealt import Bounds, Dealt
from labkit.classroom.roster import Trainee
from labkit.lab.definition import Lab
from labkit.lab.draw import Scenario, draw, find
from labkit.lab.library import lab_library
from labkit.lab.reading import read_lab, read_lab_text
from labkit.language.problems import DefinitionError

PEOPLE = [Trainee(f"t{number}", f"Trainee {number}") for number in range(4)]
# Two thirds of what is drawn break the rule; nothing but a text needs the late name.
TEXT = (
    FAIR_LAB.replace("LAST", "30")
    .replace(
        "difficulty:",
        "let:\n  late: 100 / (b + 1)\nvalid:\n  - {rule: a % 3 == 0, because: so}\ndifficulty:",
    )
    .replace("Your numbers are {{ a }}", "Your numbers are {{ a }}, {{ late }}")
)
LAB = read_lab_text(TEXT)
BOUNDS = bounds_of(LAB)

Find = Callable[[Lab, str], Scenario]


@contextmanager
def found_by(way: Find) -> Iterator[None]:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(picking, "find", way)
        patch.setattr(fairness, "find", way)
        yield


def dealt(lab: Lab, bounds: Bounds, secret: str, people: list[Trainee] = PEOPLE) -> list[Dealt]:
    """What each of a row of people is dealt, but for when."""
    beside = {one.id: (other.id,) for one, other in pairwise(people)}
    picker = Picker(secret, "c", {lab.id: lab}, {lab.id: bounds}, beside, [], strict=False)
    picked = [picker.pick(person, lab, attempt) for person in people for attempt in (1, 2)]
    for item, scenario in picked:
        assert picker.again(item).drawn == scenario.drawn
    return [replace(item, dealt_at="") for item, _ in picked]


@settings(max_examples=25, deadline=None)
@given(secret=st.text(min_size=1, max_size=8), low=st.integers(0, 30), width=st.integers(5, 10))
def test_the_draws_that_are_dealt_are_those_of_a_search_that_works_all_out(
    secret: str, low: int, width: int
) -> None:
    bounds = replace(BOUNDS, low=low, high=low + width)
    now = dealt(LAB, bounds, secret)
    with found_by(draw):
        assert dealt(LAB, bounds, secret) == now
    assert any(item.variant for item in now)  # some were turned down


@pytest.mark.parametrize("name", ["controller-and-chassis", "plan-the-trunk", "timing"])
def test_shipped_labs_have_the_same_bounds_and_the_same_draws(name: str) -> None:
    lab = read_lab(lab_library() / name / "lab.md")
    bounds = bounds_of(lab)
    now = dealt(lab, bounds, "a secret", PEOPLE[:2])
    with found_by(draw):
        assert bounds_of(lab) == bounds
        assert dealt(lab, bounds, "a secret", PEOPLE[:2]) == now


def watched(found: list[Scenario]) -> Find:
    def way(lab: Lab, seed: str) -> Scenario:
        found.append(find(lab, seed))
        return found[-1]

    return way


def test_only_what_may_be_dealt_is_worked_out() -> None:
    found: list[Scenario] = []
    with found_by(watched(found)):
        dealt(LAB, BOUNDS, "a secret")
    inside = [BOUNDS.takes(difficulty_of(scenario)) for scenario in found]
    assert ["late" in scenario.names for scenario in found] == inside
    assert True in inside
    assert False in inside


def test_of_most_sample_draws_only_the_difficulty_is_worked_out() -> None:
    found: list[Scenario] = []
    with found_by(watched(found)):
        assert bounds_of(LAB) == BOUNDS
    assert len(found) == fairness.SAMPLE
    whole = ["late" in scenario.names for scenario in found]
    assert whole == [number <= PAIRS for number in range(fairness.SAMPLE)]
    assert all("hard" in scenario.names for scenario in found)


# 'late' has no value where the difficulty is 12 to 13.
NO_VALUE = TEXT.replace("100 / (b + 1)", "1 / (hard // 10 - 12)")


def test_a_draw_without_a_value_stops_the_deal_only_where_it_may_be_dealt() -> None:
    lab, inside = read_lab_text(NO_VALUE), replace(BOUNDS, low=12, high=12.9)
    with pytest.raises(DefinitionError, match="divides by zero"):
        dealt(lab, inside, "a secret")
    found: list[Scenario] = []
    with found_by(watched(found)):
        assert dealt(lab, replace(inside, low=14, high=19.9), "a secret")
    assert any(scenario.names["hard"] // 10 == 12 for scenario in found)


def test_sample_draws_whose_difficulty_has_no_value_are_left_out() -> None:
    # Here it hangs on a name that has none where it is 13 to 14.
    felt = "  felt: hard / 10 + 0 / (hard // 10 - 13)\nvalid:"
    text = NO_VALUE.replace("valid:", felt).replace("formula: hard / 10", "formula: felt")
    sample = fairness._sample(read_lab_text(text), fairness.SAMPLE)
    assert len(sample) == fairness.SAMPLE
    parts = [scenario.names["hard"] // 10 for scenario in sample]
    assert 13 not in parts
    assert 12 not in parts[: PAIRS + 1]
    assert 12 in parts[PAIRS + 1 :]  # a text without a value is no matter there
