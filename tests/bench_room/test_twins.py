"""Which faults no instrument tells apart: worked out from every display, held against the rules."""

import pytest

from labkit.bench.bench import Bench
from labkit.bench.faults import (
    Broken,
    Corroded,
    Earthed,
    Fault,
    Loose,
    SupplyDead,
    TerminatorExtra,
    TerminatorMissing,
    Touching,
    swapped,
)
from labkit.bench.layout import Layout
from labkit.bench.possible import possible_faults
from labkit.bench.scope import look
from labkit.bench.situation import Situation
from labkit.bench.twins import alike, groups_alike, twins_of, unseen
from labkit.families.devicenet.bench.conductors import (
    CAN_H,
    CAN_L,
    CONDUCTORS,
    DRAIN,
    V_MINUS,
    V_PLUS,
)
from labkit.families.devicenet.bench.faults import RateSet
from labkit.families.devicenet.bench.setup import Setup
from labkit.fieldbus.devicenet.network import Device, Drop, Network, Segment, Supply, Tap

H, LOW, MINUS, PLUS = CAN_H, CAN_L, V_MINUS, V_PLUS

SMALL = Setup(
    Network(
        125,
        (Segment("thick", 20.0),),
        (
            Tap(
                20.0, Drop(1.0, (Device("panel", 0.2, 0),), (Drop(2.0, (Device("lamp", 0.1, 4),)),))
            ),
        ),
        (Supply(12.0),),
    ),
    "panel",
)
"""A drop that branches, cable of no length (a stub, the supply's lead), a tap at the very end."""

MIDDLING = Setup(
    Network(
        250,
        (Segment("thick", 60.0), Segment("thin", 20.0)),
        tuple(
            Tap(at, Drop(metres, (Device(f"node {k}", 0.1 * k, k),)))
            for k, (at, metres) in enumerate([(5.0, 2.0), (40.0, 4.0), (75.0, 0.0)], 1)
        ),
        (Supply(10.0, name="first"), Supply(66.0, name="second")),
        (50.0,),
    ),
    "node 1",
)
"""Two sections, each with its supply."""


def everywhere(layout: Layout) -> list[Fault]:
    """Faults of a connector at every connector."""
    found: list[Fault] = []
    for at in layout.connectors:
        found += [Broken(at, H), Corroded(at, LOW, 4.0), Loose(at, MINUS)]
        found += [Touching(at, H, LOW), Earthed(at, DRAIN), TerminatorExtra(at)]
        found.append(swapped(at, H, LOW, CONDUCTORS))
    return found


def words(groups: list[set[Fault]], layout: Layout) -> set[frozenset[str]]:
    return {frozenset(fault.words_on(layout) for fault in group) for group in groups}


def found_groups(setup: Setup, faults: list[Fault]) -> list[set[Fault]]:
    benches = [Bench(setup, frozenset({fault})) for fault in faults]
    return [{faults[n] for n in group} for group in groups_alike(benches)]


def ruled_groups(setup: Setup, faults: list[Fault]) -> list[set[Fault]]:
    groups: list[set[Fault]] = []
    for fault in faults:
        group = {fault, *twins_of(setup.layout, fault)} & set(faults)
        if group not in groups:
            groups.append(group)
    return groups


def test_what_shows_alike_is_what_the_rules_say_and_nothing_else() -> None:
    faults = everywhere(SMALL.layout)
    rest = [fault for fault in possible_faults(SMALL) if fault not in faults]
    all_of_them = [*faults, *rest]
    found, ruled = found_groups(SMALL, all_of_them), ruled_groups(SMALL, all_of_them)
    assert words(found, SMALL.layout) == words(ruled, SMALL.layout)


@pytest.mark.parametrize("setup", [SMALL, MIDDLING])
def test_no_two_of_the_possible_faults_are_twins_and_each_shows(setup: Setup) -> None:
    faults = possible_faults(setup)
    benches = [Bench(setup), *(Bench(setup, frozenset({fault})) for fault in faults)]
    groups = groups_alike(benches)
    twins = [[benches[n].faults for n in group] for group in groups if len(group) > 1]
    assert twins == []


def test_a_loose_contact_is_told_from_a_sound_one_only_where_it_is_measured_while_open() -> None:
    loose = Bench(SMALL, frozenset({Loose("left end", MINUS)}))
    assert not alike(loose, Bench(SMALL))
    assert alike(loose, Bench(SMALL), recorded=True)
    assert unseen(loose, recorded=True) == tuple(loose.faults)


def test_a_fault_behind_another_is_unseen_until_that_one_is_mended() -> None:
    dead, rate = SupplyDead("supply"), RateSet("lamp", 500)
    assert unseen(Bench(SMALL, frozenset({dead, rate}))) == (rate,)
    seen = [TerminatorMissing("left end"), rate]
    assert unseen(Bench(SMALL, frozenset(seen))) == ()


def test_no_v_plus_can_be_open_where_none_is_laid() -> None:
    cut = next(piece for piece in MIDDLING.layout.pieces.values() if not piece.plus)
    assert Broken(cut.a, PLUS) not in possible_faults(MIDDLING)
    assert Broken(cut.a, H) in possible_faults(MIDDLING)
    assert unseen(Bench(MIDDLING, frozenset({Broken(cut.a, PLUS)})))


def test_of_the_two_ends_of_a_cable_the_scope_shows_other_edges_only() -> None:
    """No recording holds a scope. The echo of a 26 m stub comes sooner or later; the bits read
    alike at every sample point, 0.875 of the bit time."""
    piece = MIDDLING.layout.piece("tap 2, right – power tap of second, left")
    one, other = (
        Bench(MIDDLING, frozenset({Broken(at, H)}), Situation(power=True))
        for at in (piece.a, piece.b)
    )
    bit_s = 1 / 250_000
    for device, talker in (("node 1", "node 1"), ("node 2", "node 1"), ("node 3", "node 3")):
        a, b = look(one, device, talker), look(other, device, talker)
        pairs = zip(a.times_s, a.difference, b.difference, strict=True)
        late = [(x, y) for at, x, y in pairs if 0.86 < at / bit_s % 1 < 0.89]
        assert len(late) >= 10
        for x, y in late:
            assert abs(x - y) < 0.2, (device, talker)
            assert (x > 0.9, x < 0.5) == (y > 0.9, y < 0.5), (device, talker)
