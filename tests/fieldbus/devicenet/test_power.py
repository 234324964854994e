"""Full calculation method and supply placement: their own laws, on any plan."""

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from planned_networks import networks

from labkit.fieldbus.devicenet.network import Device, Drop, Network, Segment, Supply, Tap
from labkit.fieldbus.devicenet.power import (
    TRUNK_DROP_LIMIT,
    acceptable_supply_positions,
    best_supply_position,
    full_calculation,
    look_up_current,
    look_up_next,
    look_up_row,
    node_voltages,
    section_drop,
    voltage_profile,
)
from labkit.fieldbus.errors import PlanError


def load(name: str, amperes: float) -> Drop:
    return Drop(0, (Device(name, amperes),))


@given(networks())
@settings(deadline=None)
def test_profile_ends_where_the_full_calculation_does(plan: Network) -> None:
    full = full_calculation(plan)
    points = voltage_profile(plan)
    assert points[0].position == 0
    assert points[-1].position == pytest.approx(plan.trunk_length)
    supply = next(p for p in points if p.position == full.supply_position and not p.tap)
    assert supply.conductor_drop == 0
    for side, end in ((full.left, points[0]), (full.right, points[-1])):
        if side.length:
            assert end.conductor_drop == pytest.approx(side.total, abs=1e-9)
    volts = plan.supply.voltage
    assert all(p.voltage == pytest.approx(volts - 2 * p.conductor_drop) for p in points)


@given(networks())
@settings(deadline=None)
def test_rows_count_taps_outwards_and_add_up(plan: Network) -> None:
    full = full_calculation(plan)
    for side in full.sides:
        assert [row.taps for row in side.rows] == list(range(1, len(side.rows) + 1))
        distances = [row.distance for row in side.rows]
        assert distances == sorted(distances)
        assert all(0 <= distance <= side.length + 1e-9 for distance in distances)
    together = full.left.trunk_current + full.right.trunk_current
    assert together == pytest.approx(sum(d.nominal_current for d in plan.devices))


@given(networks(cables=("thick",)))
@settings(deadline=None)
def test_one_cable_is_the_published_sum(plan: Network) -> None:
    full = full_calculation(plan)
    for side in full.sides:
        loads = [(row.distance, row.current) for row in side.rows]
        assert section_drop(loads, 0.015) == pytest.approx(side.total)


@given(networks(), st.integers(0, 1000))
@settings(deadline=None)
def test_no_position_beats_the_best(plan: Network, thousandth: int) -> None:
    best = best_supply_position(plan)
    other = full_calculation(plan, plan.trunk_length * thousandth / 1000)
    assert best.worst_drop >= best.lowest_possible - 1e-9
    if best.position not in plan.tap_positions:  # there it may keep a current limit instead
        assert best.worst_drop == pytest.approx(best.lowest_possible, abs=1e-9)
    assert other.worst.total >= best.lowest_possible - 1e-9


@given(networks(), st.sampled_from([0.5, 1, 2.5, 5, 1000]))
@settings(deadline=None)
def test_best_on_a_grid_is_the_best_of_all_its_positions(plan: Network, step: float) -> None:
    best = best_supply_position(plan, step=step)
    positions = [step * n for n in range(int(plan.trunk_length / step + 1e-9) + 1)]
    assert best.position in positions
    lowest = min(full_calculation(plan, position).worst.total for position in positions)
    assert best.worst_drop == pytest.approx(lowest, abs=1e-9)


@given(networks(), st.integers(0, 1000))
@settings(deadline=None)
def test_acceptable_positions_are_those_that_hold(plan: Network, thousandth: int) -> None:
    position = plan.trunk_length * thousandth / 1000
    found = acceptable_supply_positions(plan)
    assume(all(abs(position - edge) > 1e-6 for stretch in found for edge in stretch))
    inside = any(low < position < high for low, high in found)
    assert full_calculation(plan, position).ok == inside
    assert all(full_calculation(plan, edge).ok for stretch in found for edge in stretch)


def test_best_position_by_hand() -> None:
    # 1 A at 0 m and 1 A at 100 m of thick: half way, 50 x 0.015 + 0.005 = 0.755 V each side.
    plan = Network(125, (Segment("thick", 100),), (Tap(0, load("a", 1)), Tap(100, load("b", 1))))
    best = best_supply_position(plan)
    assert best.position == pytest.approx(50)
    assert best.worst_drop == pytest.approx(0.755)
    # 3 A against 1 A: 3 (0.015 x + 0.005) = 0.015 (100 - x) + 0.005 at x = 24.83 m.
    plan = Network(125, (Segment("thick", 100),), (Tap(0, load("a", 3)), Tap(100, load("b", 1))))
    assert best_supply_position(plan).position == pytest.approx((1.505 - 0.015) / 0.06)
    assert best_supply_position(plan, step=5).position == 25


def test_acceptable_positions_by_hand() -> None:
    # 2 A at either end of 200 m: 2 (0.015 d + 0.005) <= 4.65 gives d <= 154.667 m.
    plan = Network(125, (Segment("thick", 200),), (Tap(0, load("a", 2)), Tap(200, load("b", 2))))
    [(low, high)] = acceptable_supply_positions(plan)
    assert (low, high) == pytest.approx((200 - 464 / 3, 464 / 3))
    heavy = Network(125, (Segment("thick", 500),), (Tap(0, load("a", 4)), Tap(500, load("b", 4))))
    assert acceptable_supply_positions(heavy) == ()


def test_current_limit_binds_before_the_drop() -> None:
    # 2 A and 2 A on 8 m of thin: one side alone would carry 4 A, thin carries 3 A.
    taps = [Tap(3, load("a", 2)), Tap(5, load("b", 2))]
    plan = Network(500, (Segment("thin", 8),), tuple(taps))
    [(low, high)] = acceptable_supply_positions(plan)
    assert (low, high) == (3, 5)
    assert not full_calculation(plan, 2.9).ok
    failing = [result for result in full_calculation(plan, 2.9).results if not result.ok]
    assert [(r.rule, r.value, r.limit) for r in failing] == [("trunk current", 4, 3)]


def test_current_of_everybody_cable_is_taken_at_its_near_end() -> None:
    trunk = [Segment("thick", 10), Segment("thin", 10)]
    taps = [Tap(5, load("a", 4)), Tap(15, load("b", 2))]
    full = full_calculation(Network(125, tuple(trunk), tuple(taps)), 0)
    found = {r.where: (r.value, r.limit) for r in full.results if r.rule == "trunk current"}
    assert found == {
        "right of the supply, thick cable from 0 m off": (6, 8),
        "right of the supply, thin cable from 10 m off": (2, 3),
    }


def test_a_tap_at_the_supply_goes_to_the_better_side() -> None:
    taps = [Tap(0, load("a", 2)), Tap(50, load("b", 3)), Tap(100, load("c", 0.5))]
    full = full_calculation(Network(125, (Segment("thick", 100),), tuple(taps)), 50)
    assert [row.tap for row in full.left.rows] == ["tap 1"]
    assert [row.tap for row in full.right.rows] == ["tap 2", "tap 3"]
    assert full.right.rows[0].drop == pytest.approx(0.015)


def test_drop_cable_lowers_the_node_voltage() -> None:
    drop = Drop(5, (Device("a", 0.5),), (Drop(1, (Device("b", 0.5),)),))
    plan = Network(125, (Segment("thick", 100),), (Tap(100, drop),), (Supply(0),))
    volts = node_voltages(plan)
    trunk = 24 - 2 * (1.5 + 0.005)
    assert volts["a"] == pytest.approx(trunk - 2 * 5 * 0.069)
    assert volts["b"] == pytest.approx(trunk - 2 * 5 * 0.069 - 2 * 0.5 * 0.069)


def test_refusals_are_sentences() -> None:
    trunk = [Segment("thick", 100)]
    with pytest.raises(PlanError, match="no supply"):
        full_calculation(Network(125, tuple(trunk)))
    with pytest.raises(PlanError, match="2 supplies"):
        full_calculation(Network(125, tuple(trunk), (), (Supply(0), Supply(9))))
    with pytest.raises(PlanError, match="beyond the trunk"):
        full_calculation(Network(125, tuple(trunk)), 101)
    with pytest.raises(PlanError, match="No published resistance of mid"):
        full_calculation(Network(125, (Segment("mid", 9),), (Tap(5, load("a", 1)),)), 0)
    cut = Network(125, tuple(trunk), (Tap(90, load("a", 1)),), (Supply(10),), (50,))
    with pytest.raises(PlanError, match="does not feed tap 1"):
        full_calculation(cut)
    assert full_calculation(cut, 10).right.trunk_current == 1  # one supply for the whole trunk
    for look_up in (look_up_current, look_up_next, look_up_row):
        with pytest.raises(PlanError, match="table of thick cable ends at 500 m"):
            look_up("thick", 500.1)
        with pytest.raises(PlanError, match="no look-up table for flat"):
            look_up("flat", 50)
    with pytest.raises(PlanError, match="more than 0 m"):
        best_supply_position(cut, step=0)


def test_nothing_to_feed_holds_everywhere() -> None:
    plan = Network(125, (Segment("thick", 100),))
    assert best_supply_position(plan).worst_drop == 0
    assert acceptable_supply_positions(plan) == ((0, 100),)
    assert full_calculation(plan, 30).ok
    assert TRUNK_DROP_LIMIT == full_calculation(plan, 30).limit == 4.65
