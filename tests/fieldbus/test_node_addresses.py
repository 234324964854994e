"""Addresses of a family that does not begin at 0: what is allowed, and what is given first."""

import pytest

from labkit.fieldbus.errors import PlanError
from labkit.fieldbus.node_addresses import check_addresses, complete_addresses


def test_both_ends_of_what_is_allowed_are_kept() -> None:
    problems = check_addresses([("a", 0), ("b", 1), ("c", 247), ("d", 248)], range(1, 248))
    assert [(problem.kind, problem.devices) for problem in problems] == [
        ("out of range", ("a",)),
        ("out of range", ("d",)),
    ]
    assert problems[0].sentence == "Address 0 of a is no whole number from 1 to 247."


def test_the_lowest_that_is_allowed_is_given_first() -> None:
    assert complete_addresses([("a", None), ("b", 0)], range(1, 248)).addresses == (
        ("a", 1),
        ("b", 2),
    )
    with pytest.raises(PlanError, match="No address from 1 to 2 is left for c"):
        complete_addresses([("a", 1), ("b", 2), ("c", 3)], range(1, 3))
