"""Modules for signals, held against integer programs and against trying every order there is."""

from __future__ import annotations

from itertools import combinations, pairwise, permutations, product
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shared_out import LINES, TYPES, can_by_program

from labkit.fieldbus.chassis_modules import (
    ModuleType,
    Rails,
    SignalLine,
    can_serve,
    drawn_by,
    in_reserve,
    most_taken,
)
from labkit.fieldbus.chassis_search import best_choices, stood
from labkit.fieldbus.errors import PlanError


@settings(max_examples=150, deadline=None)
@given(st.lists(TYPES, min_size=1, max_size=4), st.lists(LINES, min_size=1, max_size=3))
def test_signals_can_be_shared_out_exactly_where_an_integer_program_can(
    modules: list[ModuleType], lines: list[SignalLine]
) -> None:
    assert can_serve(modules, lines) == can_by_program(modules, lines)


def test_a_reserve_is_rounded_up_to_whole_points() -> None:
    assert [in_reserve(count, 15) for count in (1, 6, 7, 20, 21)] == [1, 1, 2, 3, 4]
    assert in_reserve(9, 0) == 0


def test_what_one_module_takes_cannot_be_added_to() -> None:
    module = ModuleType("out", 8, 2, 1, 0, 0, point_ma=2000, module_ma=4500)
    heavy, light = SignalLine("out", 3, "mains", 1800), SignalLine("out", 9, "field", 300)
    assert set(most_taken(module, (heavy, light))) == {(2, 3), (1, 4), (0, 8)}


KINDS = ("in", "out", "loop")


@given(
    st.lists(st.tuples(st.sampled_from(KINDS), st.integers(1, 2)), min_size=1, max_size=4),
    st.sets(st.sampled_from([frozenset(pair) for pair in combinations(KINDS, 2)])),
)
def test_modules_stand_apart_in_no_more_slots_than_any_order_needs(
    chosen: list[tuple[str, int]], apart: set[frozenset[str]]
) -> None:
    types = [ModuleType(kind, 8, 1, slots, 0, 0) for kind, slots in chosen]
    found = stood(types, range(len(types)), 2, apart)
    ends = [slot + types[number].slots for slot, number in found.items()]
    assert sorted(found.values()) == [*range(len(types))]
    for (slot, one), (later, other) in pairwise(found.items()):
        gap = later - slot - types[one].slots
        assert gap >= (frozenset((types[one].kind, types[other].kind)) in apart)
    fewest = min(
        sum(frozenset((a.kind, b.kind)) in apart for a, b in pairwise(order))
        for order in permutations(types)
    )
    assert max(ends) == 2 + sum(each.slots for each in types) + fewest


@settings(max_examples=40)
@given(
    st.lists(TYPES, min_size=1, max_size=3, unique=True),
    st.lists(LINES, min_size=1, max_size=2),
)
def test_nothing_that_serves_takes_less_of_everything_than_a_best_choice(
    types: list[ModuleType], lines: list[SignalLine]
) -> None:
    best = best_choices(types, lines, 4)
    for choice in best:
        modules = [types[number] for number in choice.modules]
        assert choice.rails == drawn_by(modules)
        assert choice.slots == sum(each.slots for each in modules)
        assert can_by_program(modules, lines)
    for counts in product(range(5), repeat=len(types)):
        modules = [each for each, count in zip(types, counts, strict=True) for _ in range(count)]
        slots, rails = sum(each.slots for each in modules), drawn_by(modules)
        if modules and slots <= 4 and can_by_program(modules, lines):
            assert any(each.slots <= slots and each.rails.within(rails) for each in best)


def test_rails_are_added_up_and_compared_each() -> None:
    assert Rails(1, 2) + Rails(3, 4) == Rails(4, 6)
    assert Rails(4, 6).within(Rails(4, 6))
    assert not Rails(5, 6).within(Rails(4, 9))
    assert not Rails(4, 6).within(Rails(9, 5))


@pytest.mark.parametrize(
    "make",
    [
        lambda: SignalLine("", 1, "one"),
        lambda: SignalLine("in", 0, "one"),
        lambda: ModuleType("in", 8, 3, 1, 0, 0),
        lambda: ModuleType("in", 8, 1, 3, 0, 0),
        lambda: ModuleType("in", 8, 1, 1, 0, 0, point_ma=0),
    ],
)
def test_what_cannot_be_is_refused(make: Any) -> None:
    with pytest.raises(PlanError):
        make()
