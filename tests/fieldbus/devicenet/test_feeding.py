"""The solved power circuit: Kirchhoff, Ohm, energy, diodes, and agreement with the full method."""

import math
from dataclasses import replace

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from planned_networks import networks

from labkit.fieldbus.devicenet.cable import DataSheet
from labkit.fieldbus.devicenet.feedtree import FeedTree
from labkit.fieldbus.devicenet.network import Device, Drop, Network, Segment, Supply, Tap
from labkit.fieldbus.devicenet.power import (
    Conductors,
    LoadsCannotBeFedError,
    PowerSolution,
    full_calculation,
    sections_of,
    solve_power,
)
from labkit.fieldbus.errors import PlanError

PLANNING = Conductors(basis="planning")
ANY = networks(supplies=(0, 3), power=True, breaks=True)


def solved(plan: Network, conductors: Conductors | None = None) -> PowerSolution:
    try:
        return solve_power(plan, conductors)
    except LoadsCannotBeFedError:
        assume(False)
        raise


@given(ANY)
@settings(deadline=None)
def test_current_is_neither_made_nor_lost(plan: Network) -> None:
    solution = solved(plan)
    drawn = math.fsum(node.current for node in solution.nodes)
    given_ = math.fsum(supply.current for supply in solution.supplies)
    assert given_ == pytest.approx(drawn, abs=1e-9)
    for section in sections_of(plan):
        names = {d.name for tap in section.taps for d in tap.drop.all_devices}
        inside = math.fsum(node.current for node in solution.nodes if node.device in names)
        fed = math.fsum(s.current for s in solution.supplies if s.supply in section.supplies)
        assert fed == pytest.approx(inside, abs=1e-9)


@given(ANY)
@settings(deadline=None)
def test_ohms_law_holds_along_both_conductors(plan: Network) -> None:
    """Between neighbouring points each conductor loses R I, and at most one contact a tap."""
    solution = solved(plan, PLANNING)
    pieces = {(piece.start, piece.end): piece for piece in solution.pieces}
    for here, ahead in zip(solution.points, solution.points[1:], strict=False):
        piece = pieces.get((here.position, ahead.position))
        if piece is None:
            continue
        segment = plan.segments_at((piece.start + piece.end) / 2)[0]
        bare = (piece.end - piece.start) * segment.type.planning_resistance()
        contacts = [0.005 * n for n in range(1 + bool(here.tap) + bool(ahead.tap))]
        plus, minus = here.v_plus - ahead.v_plus, ahead.v_minus - here.v_minus
        assert plus == pytest.approx(minus, abs=1e-9)
        assert any(
            plus == pytest.approx((bare + contact) * piece.current, abs=1e-9)
            for contact in contacts
        )


@given(ANY)
@settings(deadline=None)
def test_power_given_is_power_drawn_and_lost(plan: Network) -> None:
    solution = solved(plan)
    source = sum(s.supply.voltage * s.current for s in solution.supplies)
    used = sum(node.voltage * node.current for node in solution.nodes)
    inside = sum(s.supply.resistance * s.current**2 for s in solution.supplies)
    assert source - used - inside >= -1e-9
    for node in solution.nodes:
        device = next(d for d in plan.devices if d.name == node.device)
        if device.constant_power and node.current:
            assert node.voltage * node.current == pytest.approx(device.constant_power)


@given(networks(supplies=(2, 3)))
@settings(deadline=None)
def test_diodes_carry_forwards_or_block(plan: Network) -> None:
    solution = solved(plan)
    for given_ in solution.supplies:
        supply = given_.supply
        here = [p.voltage for p in solution.points if p.position == supply.position and not p.tap]
        assert given_.current >= -1e-8
        if given_.current > 1e-8:
            terminal = supply.voltage - supply.resistance * given_.current
            assert any(volts == pytest.approx(terminal, abs=1e-9) for volts in here)
        else:
            assert max(here) >= supply.voltage - 1e-7


@given(networks(supplies=(1, 1)))
@settings(deadline=None)
def test_the_circuit_is_the_full_method_when_it_takes_its_values(plan: Network) -> None:
    taps = [Tap(t.position, Drop(0, t.drop.all_devices), t.name) for t in plan.taps]
    plan = replace(plan, taps=tuple(taps))
    full = full_calculation(plan)
    solution = solved(plan, PLANNING)
    for side in full.sides:
        if side.rows:
            last = next(p for p in solution.points if p.tap == side.rows[-1].tap)
            assert (plan.supply.voltage - last.voltage) / 2 == pytest.approx(side.total, abs=1e-9)


@given(networks(power=True, cables=("thick", "thin")), st.floats(-40, 119))
@settings(deadline=None)
def test_warmer_copper_never_raises_a_voltage(plan: Network, temperature: float) -> None:
    cool = solved(plan, Conductors(temperature))
    warm = solved(plan, Conductors(temperature + 1))
    for one, other in zip(cool.nodes, warm.nodes, strict=True):
        assert other.voltage <= one.voltage + 1e-9


def one_load(load: Device, metres: float = 100, cable: str = "thick") -> Network:
    return Network(125, (Segment(cable, metres),), (Tap(metres, Drop(0, (load,))),), (Supply(0),))


def test_copper_by_hand() -> None:
    # Thick, 100 m: 0.89 ohm a conductor at 20 °C, and 0.005 ohm; 1 A.
    node = solve_power(one_load(Device("a", 1))).node("a")
    assert node.v_minus == pytest.approx(0.895)
    assert node.v_plus == pytest.approx(24 - 0.895)
    # Copper: 0.00393/K (IEC 60028); at 70 °C 19.65 % more.
    warm = solve_power(one_load(Device("a", 1)), Conductors(70)).node("a")
    assert warm.v_minus == pytest.approx(0.89 * 1.1965 + 0.005)


def test_copper_by_a_data_sheet_by_hand() -> None:
    # Thick of 1.65 mm² (15 AWG), 11.2 ohm/km: 100 m have 1.12 ohm a conductor, and 0.005 ohm; 1 A.
    plan = replace(one_load(Device("a", 1)), data_sheets=(DataSheet("thick", power=0.0112),))
    solution = solve_power(plan)
    assert solution.node("a").v_minus == pytest.approx(1.125)
    assert "thick 11.2 ohm/km by its data sheet" in solution.assumptions[0]
    warm = solve_power(plan, Conductors(70)).node("a")
    assert warm.v_minus == pytest.approx(1.12 * 1.1965 + 0.005)
    # The published methods go on with their 15 ohm/km: 1 A · (100 m · 0.015 + 0.005).
    assert full_calculation(plan).right.total == pytest.approx(1.505)
    assert solve_power(plan, PLANNING).node("a").v_minus == pytest.approx(1.505)
    with pytest.raises(PlanError, match="No published resistance of mid"):
        solve_power(one_load(Device("a", 1), cable="mid"))
    stated = replace(
        one_load(Device("a", 1), cable="mid"), data_sheets=(DataSheet("mid", power=0.0112),)
    )
    assert solve_power(stated).node("a").v_minus == pytest.approx(1.125)


@given(networks(power=True, cables=("thick", "thin")))
@settings(deadline=None)
def test_a_data_sheet_that_says_what_is_published_changes_nothing(plan: Network) -> None:
    bare = replace(plan, data_sheets=())
    same = (DataSheet("thin", 0.0574, 0.0919), DataSheet("thick", 0.0089, 0.0226))
    one, other = solved(bare), solved(replace(plan, data_sheets=same))
    assert (one.nodes, one.points, one.drops) == (other.nodes, other.points, other.drops)


def test_constant_power_by_hand() -> None:
    # u = 24 - r P / u: u = 12 + sqrt(144 - r P), r = 2 x 0.895 ohm.
    node = solve_power(one_load(Device("a", constant_power=24))).node("a")
    assert node.voltage == pytest.approx(12 + math.sqrt(144 - 1.79 * 24), abs=1e-9)
    assert node.current == pytest.approx(24 / node.voltage)


@pytest.mark.parametrize("share", [0.5, 0.9, 0.999, 0.999999])
def test_constant_power_up_to_the_edge(share: float) -> None:
    most = 144 / 1.79  # W: beyond it the square root above has no value
    node = solve_power(one_load(Device("a", constant_power=share * most))).node("a")
    assert node.voltage == pytest.approx(12 + 12 * math.sqrt(1 - share), abs=1e-6)


@pytest.mark.parametrize("share", [1.000001, 1.001, 1.5, 100])
def test_more_power_than_the_cable_brings_is_refused(share: float) -> None:
    with pytest.raises(LoadsCannotBeFedError, match="more than this cable can bring"):
        solve_power(one_load(Device("a", constant_power=share * 144 / 1.79)))


def test_more_current_than_the_cable_brings_is_refused() -> None:
    with pytest.raises(LoadsCannotBeFedError, match="fall to nothing"):
        solve_power(one_load(Device("a", 14)))


def test_two_ideal_supplies_share_by_distance() -> None:
    taps = [Tap(25, Drop(0, (Device("a", 4),)))]
    plan = Network(125, (Segment("thick", 100),), tuple(taps), (Supply(0), Supply(100)))
    solution = solve_power(plan, Conductors(contact=0))
    assert [s.current for s in solution.supplies] == pytest.approx([3, 1])
    assert [s.right for s in solution.supplies] == pytest.approx([3, 0])
    assert [s.left for s in solution.supplies] == pytest.approx([0, 1])


def test_a_weak_supply_is_shut_off_by_its_diode_or_fed_backwards() -> None:
    taps = [Tap(50, Drop(0, (Device("a", 0.1),)))]
    strong, weak = Supply(0, 24.5), Supply(100, 23)
    plan = Network(125, (Segment("thick", 100),), tuple(taps), (strong, weak))
    assert [s.current for s in solve_power(plan).supplies] == pytest.approx([0.1, 0])
    bare = replace(plan, supplies=(strong, replace(weak, diode=False)))
    solution = solve_power(bare)
    assert solution.supplies[1].current < -0.5
    assert "back-feed into a supply" in [r.rule for r in solution.results if not r.ok]


def test_sections_keep_to_themselves_and_v_minus_goes_on() -> None:
    taps = [Tap(40, Drop(0, (Device("a", 1),))), Tap(60, Drop(0, (Device("b", 2),)))]
    plan = Network(125, (Segment("thick", 100),), tuple(taps), (Supply(0), Supply(100)), (50,))
    solution = solve_power(plan, Conductors(contact=0))
    assert [s.current for s in solution.supplies] == [1, 2]
    rise_a, rise_b = 40 * 0.0089, 2 * 40 * 0.0089
    assert solution.node("a").v_minus == pytest.approx(rise_a)
    assert solution.node("b").v_minus == pytest.approx(rise_a)  # no current between 40 and 60 m
    assert solution.points[-1].v_minus == pytest.approx(rise_a - rise_b)
    assert solution.common_mode_rise == pytest.approx(rise_b)


def test_a_section_without_supply_is_dead() -> None:
    taps = [Tap(40, Drop(0, (Device("a", 1),))), Tap(60, Drop(0, (Device("b", 2),)))]
    plan = Network(125, (Segment("thick", 100),), tuple(taps), (Supply(0),), (50,))
    solution = solve_power(plan)
    assert solution.node("b").voltage == 0
    assert solution.node("b").current == 0
    assert [r.where for r in solution.results if not r.ok] == ["b (tap 2)"]


def test_swapped_polarity_feeds_nothing_and_shorts_a_right_one() -> None:
    plan = one_load(Device("a", 1))
    swapped = replace(plan, supplies=(Supply(0, reversed_polarity=True),))
    node = solve_power(swapped).node("a")
    assert (node.voltage, node.current) == (-24, 0)
    both = replace(plan, supplies=(*swapped.supplies, Supply(50)))
    with pytest.raises(PlanError, match="short circuit"):
        solve_power(both)


def test_a_fuse_taken_out_parts_the_trunk() -> None:
    taps = [Tap(20, Drop(0, (Device("a", 1),))), Tap(80, Drop(0, (Device("b", 2),)))]
    supplies = [Supply(50, fuse_left=0), Supply(0)]
    plan = Network(125, (Segment("thick", 100),), tuple(taps), tuple(supplies))
    assert [(s.start, s.end) for s in sections_of(plan)] == [(0, 50), (50, 100)]
    assert [s.current for s in solve_power(plan).supplies] == [1, 2]


def test_supplies_joined_without_resistance_are_refused() -> None:
    plan = replace(one_load(Device("a", 1)), supplies=(Supply(5), Supply(5, 24.1)))
    with pytest.raises(PlanError, match="joined without any resistance"):
        solve_power(plan)


def test_rules_name_the_place_that_binds() -> None:
    drop = Drop(4.57, (Device("pump", 1.2),))
    supply = Supply(0, rating=1, fuse_right=1.1)
    plan = Network(125, (Segment("thick", 10),), (Tap(8, drop),), (supply,))
    failing = {r.rule: r for r in solve_power(plan).results if not r.ok}
    assert set(failing) == {"drop current", "supply current", "power tap fuse"}
    assert failing["drop current"].limit == pytest.approx(1)
    assert failing["drop current"].where == "tap 1, drop of 4.57 m"


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: Conductors(math.nan), "finite"),
        (lambda: Conductors(300), "at most 120"),
        (lambda: Conductors(contact=-1), "at least 0"),
        (lambda: Conductors(basis="guess"), "basis"),  # type: ignore[arg-type]
        (lambda: FeedTree((), ()), "parent and a resistance"),
        (lambda: FeedTree((0, 1), (0, 1)), "outside 0 to 0"),
        (lambda: FeedTree((0, 0), (0, 0)), "more than 0 ohm"),
        (lambda: FeedTree((0, 0), (0, 1)).solve({}, [0, 0]), "Nothing feeds"),
    ],
)
def test_refusals(make: object, words: str) -> None:
    with pytest.raises(PlanError, match=words):
        make()  # type: ignore[operator]


def test_cable_of_unknown_resistance_is_refused_and_flat_says_what_it_took() -> None:
    with pytest.raises(PlanError, match="No published resistance of mid"):
        solve_power(one_load(Device("a", 1), cable="mid"))
    said = solve_power(one_load(Device("a", 1), cable="flat")).assumptions
    assert any("No loop data of flat cable" in sentence for sentence in said)
