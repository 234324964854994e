"""Address plans: every problem named, and sound plans with the fewest changes."""

from itertools import product
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from labkit.fieldbus.devicenet.addresses import check_addresses, complete_addresses
from labkit.fieldbus.errors import PlanError
from labkit.fieldbus.node_addresses import AddressChange

plans = st.lists(st.none() | st.integers(-2, 70), max_size=20).map(
    lambda addresses: [(f"d{n}", address) for n, address in enumerate(addresses)]
)


def test_every_kind_of_problem_is_named_with_its_devices() -> None:
    plan = [
        ("scanner", 0),
        ("valves", 0),
        ("drive", 5),
        ("scale", 5),
        ("gate", None),
        ("lamp", 64),
        ("printer", "7"),
        ("horn", True),
        ("new", 63),
        ("good", 12),
    ]
    problems = check_addresses(plan, reserved={0: "scanner"}, keep_free=(63,))
    assert [(p.kind, p.devices, p.address) for p in problems] == [
        ("missing", ("gate",), None),
        ("out of range", ("lamp",), 64),
        ("out of range", ("printer",), "7"),
        ("out of range", ("horn",), True),
        ("duplicate", ("scanner", "valves"), 0),
        ("reserved", ("valves",), 0),
        ("duplicate", ("drive", "scale"), 5),
        ("keep free", ("new",), 63),
    ]
    assert problems[4].sentence == "scanner and valves have the same address 0; no two nodes may."
    assert "reserved for scanner" in problems[5].sentence


def test_a_sound_plan_has_no_problem_and_is_left_alone() -> None:
    plan = [("scanner", 0), ("a", 62), ("b", 1)]
    assert check_addresses(plan, reserved={0: "scanner"}, keep_free=(63,)) == ()
    assert complete_addresses(plan, reserved={0: "scanner"}, keep_free=(63,)).changes == ()
    assert check_addresses([]) == ()


def test_reserved_without_an_owner_is_nobodys() -> None:
    assert [p.kind for p in check_addresses([("a", 0)], reserved=(0,))] == ["reserved"]
    assert complete_addresses([("a", 0)], reserved=(0,)).addresses == (("a", 1),)


def test_a_lower_limit_is_kept() -> None:
    assert [p.kind for p in check_addresses([("a", 32)], limit=31)] == ["out of range"]
    with pytest.raises(PlanError, match="No address from 0 to 1 is left for c"):
        complete_addresses([("a", 0), ("b", 1), ("c", None)], limit=1)


def test_the_first_keeps_unless_another_is_locked() -> None:
    plan = [("a", 5), ("b", 5), ("c", None)]
    assert complete_addresses(plan).changes == (
        AddressChange("b", 5, 0),
        AddressChange("c", None, 1),
    )
    assert complete_addresses(plan, locked=["b"]).addresses == (("a", 0), ("b", 5), ("c", 1))
    with pytest.raises(PlanError, match="b may not change address"):
        complete_addresses(plan, locked=["a", "b"])


def test_the_owner_gets_its_reserved_address() -> None:
    plan = [("a", None), ("scanner", None)]
    done = complete_addresses(plan, reserved={0: "scanner"})
    assert done.addresses == (("a", 1), ("scanner", 0))


@given(plans, st.sets(st.integers(0, 63), max_size=5), st.sets(st.integers(0, 63), max_size=5))
@settings(deadline=None)
def test_completed_plans_are_sound(
    plan: list[tuple[str, int | None]], reserved: set[int], free: set[int]
) -> None:
    done = complete_addresses(plan, reserved=sorted(reserved), keep_free=sorted(free))
    assert check_addresses(done.addresses, reserved=sorted(reserved), keep_free=sorted(free)) == ()
    assert [name for name, _ in done.addresses] == [name for name, _ in plan]
    changed = {change.device: change.new for change in done.changes}
    for (name, old), (_, new) in zip(plan, done.addresses, strict=True):
        assert new == changed.get(name, old)


small = st.lists(st.none() | st.integers(0, 4), max_size=4)


@given(small, st.sets(st.integers(0, 3), max_size=1), st.sets(st.integers(0, 3), max_size=1))
@settings(deadline=None)
def test_no_sound_plan_has_fewer_changes(
    old: list[int | None], reserved: set[int], free: set[int]
) -> None:
    plan = [(f"d{n}", address) for n, address in enumerate(old)]
    rules: dict[str, Any] = {"limit": 3, "reserved": sorted(reserved), "keep_free": sorted(free)}
    sound = [
        new
        for new in product(range(4), repeat=len(old))
        if not check_addresses(zip([name for name, _ in plan], new, strict=True), **rules)
    ]
    if not sound:
        with pytest.raises(PlanError):
            complete_addresses(plan, **rules)
        return
    fewest = min(sum(a != b for a, b in zip(old, new, strict=True)) for new in sound)
    assert len(complete_addresses(plan, **rules).changes) == fewest


@pytest.mark.parametrize("pairs", [["ab"], [("a",)], [(1, 2)], [None]])
def test_what_is_no_plan_is_refused(pairs: list[object]) -> None:
    with pytest.raises(PlanError, match="pairs"):
        check_addresses(pairs)  # type: ignore[arg-type]


def test_two_devices_of_one_name_cannot_be_completed() -> None:
    with pytest.raises(PlanError, match="Two devices are called 'a'"):
        complete_addresses([("a", 1), ("a", 2)])
