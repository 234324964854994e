"""Length rules against a search over every pair of ends, and their edges."""

from itertools import combinations

import pytest
from hypothesis import given, settings
from planned_networks import networks

from labkit.fieldbus.devicenet.lengths import (
    check_lengths,
    cumulative_drop_length,
    farthest_points,
    longest_path,
    longest_path_length,
    mixed_trunk,
    single_drop,
    single_drops,
)
from labkit.fieldbus.devicenet.network import Device, Drop, Network, Segment, Tap


def ends_of(plan: Network) -> list[tuple[float, list[tuple[int, float]]]]:
    """Each end of the cable: its place on the trunk, and its way there as (part id, metres)."""
    ends: list[tuple[float, list[tuple[int, float]]]] = [(0.0, []), (plan.trunk_length, [])]

    def walk(drop: Drop, place: float, way: list[tuple[int, float]]) -> None:
        here = [*way, (id(drop), drop.length)]
        ends.append((place, here))
        for branch in drop.branches:
            walk(branch, place, here)

    for tap in plan.taps:
        walk(tap.drop, tap.position, [])
    return ends


def apart(
    a: tuple[float, list[tuple[int, float]]], b: tuple[float, list[tuple[int, float]]]
) -> float:
    """Metres between two ends: what their ways do not share, and the trunk between."""
    if a[0] != b[0]:
        return abs(a[0] - b[0]) + sum(m for _, m in a[1]) + sum(m for _, m in b[1])
    shared = 0
    for one, other in zip(a[1], b[1], strict=False):
        if one[0] != other[0]:
            break
        shared += 1
    return sum(m for _, m in a[1][shared:]) + sum(m for _, m in b[1][shared:])


@given(networks(max_taps=5))
@settings(deadline=None)
def test_longest_path_is_the_longest_of_all_pairs(plan: Network) -> None:
    longest = max(apart(a, b) for a, b in combinations(ends_of(plan), 2))
    assert longest_path_length(plan) == pytest.approx(longest)


@given(networks(cables=("thick", "thin", "mid", "flat")))
@settings(deadline=None)
def test_a_trunk_of_one_cable_is_judged_alike_by_both_trunk_rules(plan: Network) -> None:
    same = Network(
        plan.data_rate,
        tuple(Segment(plan.segments[0].cable, s.length) for s in plan.segments),
        plan.taps,
    )
    plain, weighted = longest_path(same), mixed_trunk(same)
    assert plain.value / plain.limit == pytest.approx(weighted.value / weighted.limit)
    assert plain.ok == weighted.ok
    assert len(check_lengths(same)) == 3


def node(name: str) -> tuple[Device, ...]:
    return (Device(name),)


def test_the_drop_counts_instead_of_a_shorter_trunk_end() -> None:
    taps = [Tap(2, Drop(5, node("first"))), Tap(97, Drop(3, node("last")))]
    plan = Network(500, (Segment("thick", 100),), tuple(taps))
    path = farthest_points(plan)
    assert path.length == 5 + 95 + 3  # both drops against 2 m and 3 m of trunk end
    assert path.start == "first (tap 1)"
    result = longest_path(plan)
    assert not result.ok
    assert result.margin == pytest.approx(-3)


def test_a_short_end_drop_does_not_count() -> None:
    plan = Network(500, (Segment("thick", 100),), (Tap(10, Drop(6, node("first"))),))
    assert longest_path_length(plan) == 100
    assert farthest_points(plan).where == (
        "from the left end of the trunk to the right end of the trunk"
    )


def test_one_drop_is_never_both_ends() -> None:
    plan = Network(500, (Segment("thick", 2),), (Tap(1, Drop(6, node("only"))),))
    assert longest_path_length(plan) == 7
    fork = Drop(1, (), (Drop(4, node("a")), Drop(5, node("b"))))
    plan = Network(500, (Segment("thick", 2),), (Tap(1, fork),))
    assert longest_path_length(plan) == 9
    assert farthest_points(plan).where == "from b to a (tap 1)"


def test_single_drop_runs_to_its_furthest_node_and_ports_are_drops() -> None:
    chain = Drop(4, node("near"), (Drop(2.5, node("far")),))
    ports = Drop(0, (), (Drop(5, node("a")), Drop(3, node("b"))))
    plan = Network(125, (Segment("thick", 100),), (Tap(10, chain), Tap(20, ports)))
    assert single_drop(plan).value == 6.5
    assert single_drop(plan).where == "tap 1, to far"
    assert [result.value for result in single_drops(plan)] == [6.5, 5, 3]
    assert cumulative_drop_length(plan) == 14.5


def test_a_network_without_drops_keeps_the_drop_rules() -> None:
    plan = Network(125, (Segment("thick", 100),))
    assert [result.value for result in check_lengths(plan)] == [100, 0, 0]


def test_mixed_rule_weighs_the_overhang_by_its_own_trunk() -> None:
    trunk = [Segment("thick", 100), Segment("thin", 20)]
    plan = Network(125, tuple(trunk), (Tap(118, Drop(5, node("end"))),))
    # 100 + 5 x 18 up to the tap, and 5 m of drop on thin trunk: 5 x 5.
    assert mixed_trunk(plan).value == pytest.approx(100 + 90 + 25)
    assert mixed_trunk(plan).where.endswith("through thick and thin cable")
    assert len(check_lengths(plan)) == 4


def test_a_drop_at_a_joint_weighs_as_the_stricter_cable() -> None:
    trunk = [Segment("thick", 100), Segment("thin", 1)]
    plan = Network(125, tuple(trunk), (Tap(100, Drop(6, node("end"))),))
    assert mixed_trunk(plan).value == pytest.approx(100 + 5 * 6)
