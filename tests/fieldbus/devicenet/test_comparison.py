"""Three methods side by side, and the rules of terminators, supplies and drop currents."""

import math
from dataclasses import replace

import pytest
from hypothesis import given, settings
from planned_networks import networks

from labkit.fieldbus.devicenet.network import (
    Device,
    Drop,
    Network,
    Segment,
    Supply,
    Tap,
    Terminator,
)
from labkit.fieldbus.devicenet.power import (
    check_drop_currents,
    check_node_count,
    check_supplies,
    check_terminators,
    compare_methods,
    full_calculation,
    look_up_current,
)


def plan(loads: dict[float, Device], length: float, cable: str = "thick") -> Network:
    taps = [Tap(place, Drop(0, (device,))) for place, device in loads.items()]
    return Network(125, (Segment(cable, length),), tuple(taps), (Supply(0),))


def test_look_up_fails_where_the_loads_stand_near() -> None:
    near = plan({10: Device("a", 2.5), 20: Device("b", 0.5)}, 200)
    [compared] = compare_methods(near)
    look_up, full, circuit = compared.outcomes
    assert (look_up.ok, full.ok, circuit.ok) == (False, True, True)
    assert look_up.binding is not None
    assert look_up.binding.limit == look_up_current("thick", 200) == 1.53
    assert not compared.agree
    assert compared.stricter == "look-up"
    assert compared.sentence == (
        "In the section from 0 to 200 m the methods disagree: look-up fails at 196 %, "
        "full calculation holds at 38 % and circuit holds at 38 %; look-up is the stricter."
    )


def thin_with_power(watts: float) -> Network:
    drop = Drop(6, (Device("a", constant_power=watts),))
    return Network(125, (Segment("thin", 60),), (Tap(60, drop),), (Supply(0),))


def test_constant_power_makes_the_circuit_the_stricter() -> None:
    # The published methods take 18.9 W as 0.79 A at 24 V; at the lower voltage it is much more.
    far = thin_with_power(18.9)
    [compared] = compare_methods(far)
    look_up, full, circuit = compared.outcomes
    assert look_up.load == pytest.approx(18.9 / 24 / 1.06)
    assert full.load == pytest.approx(18.9 / 24 * (60 * 0.069 + 0.005) / 4.65)
    ohms = 2 * (66 * 0.0574 + 0.005)
    volts = 12 + math.sqrt(144 - ohms * 18.9)
    assert circuit.load == pytest.approx((24 - volts) / 2 / 5.0)
    assert (look_up.ok, full.ok, circuit.ok) == (True, True, False)
    assert compared.stricter == "circuit"


def test_loads_that_cannot_be_fed_are_the_hardest_verdict() -> None:
    [compared] = compare_methods(thin_with_power(20))  # most: 144 / 7.586 = 18.98 W
    circuit = compared.outcomes[2]
    assert "want 20 W" in circuit.reason
    assert compared.outcomes[1].ok
    assert not circuit.ok
    assert not compared.agree
    assert compared.stricter == "circuit"
    assert "circuit finds that the loads cannot be fed" in compared.sentence


def test_a_method_that_fails_is_stricter_than_one_that_holds_at_a_higher_load() -> None:
    weak = replace(plan({60: Device("a", 1)}, 60), supplies=(Supply(0, voltage=11.5),))
    [compared] = compare_methods(weak)
    look_up, full, circuit = compared.outcomes
    assert full.ok
    assert not circuit.ok  # 11.5 V less 2 x 0.54 V is below the 11 V a node needs
    assert circuit.load < full.load < look_up.load
    assert compared.stricter == "circuit"


def test_what_a_method_cannot_judge_it_leaves_with_a_reason() -> None:
    mixed = Network(
        125,
        (Segment("thick", 50), Segment("thin", 20)),
        (Tap(60, Drop(0, (Device("a", 0.5),))),),
        (Supply(0),),
    )
    look_up, full, circuit = compare_methods(mixed)[0].outcomes
    assert "one cable a section" in look_up.reason
    assert not look_up.applies
    assert full.applies
    assert circuit.applies
    double = replace(mixed, supplies=(Supply(0), Supply(70)))
    look_up, full, circuit = compare_methods(double)[0].outcomes
    assert "2 supplies" in full.reason
    assert circuit.ok
    dead = replace(mixed, supplies=())
    assert compare_methods(dead)[0].stricter is None
    assert "no method gives a verdict" in compare_methods(dead)[0].sentence


@given(networks(supplies=(0, 3), power=True, breaks=True))
@settings(deadline=None)
def test_every_section_is_compared_and_read_out(network: Network) -> None:
    for compared in compare_methods(network):
        assert compared.sentence.endswith((".", "supply."))
        assert [outcome.method for outcome in compared.outcomes] == [
            "look-up",
            "full calculation",
            "circuit",
        ]
        for outcome in compared.applying:
            assert outcome.load <= 1 + 1e-9 or not outcome.ok


@given(networks(cables=("thick",)))
@settings(deadline=None)
def test_look_up_is_never_milder_than_the_full_calculation(network: Network) -> None:
    """It takes all the current to the far end: beyond 25 m it cannot let pass more.

    The table holds its own rounding, so 3 % are granted; the 0.005 ohm of many taps is left out.
    """
    full = full_calculation(network)
    for side in full.sides:
        if side.length < 25 or not side.rows:
            continue
        contacts = sum(0.005 * row.taps * row.current for row in side.rows)
        by_table = side.trunk_current / look_up_current("thick", side.length)
        assert (side.total - contacts) / 4.65 <= by_table * 1.03 + 1e-9


def failing(results: object) -> list[tuple[str, str]]:
    return [(r.rule, r.where) for r in results if not r.ok]  # type: ignore[attr-defined]


def test_terminators() -> None:
    sound = plan({5: Device("a", 0.1)}, 20)
    assert failing(check_terminators(sound)) == []
    right_end, left_end = "right end of the trunk, 20 m", "left end of the trunk, 0 m"
    one = replace(sound, terminators=(Terminator(0),))
    assert failing(check_terminators(one)) == [("terminator missing at the end", right_end)]
    three = replace(sound, terminators=(Terminator(0), Terminator(0), Terminator(20)))
    assert failing(check_terminators(three)) == [("terminators doubled at the end", left_end)]
    astray = replace(sound, terminators=(Terminator(0), Terminator(12), Terminator(20)))
    assert failing(check_terminators(astray)) == [("terminators elsewhere", "12 m")]
    wrong = replace(sound, terminators=(Terminator(0, 119.7), Terminator(20, 119.8)))
    assert failing(check_terminators(wrong)) == [
        ("terminator's resistance off 121 Ω", "terminator at 0 m")
    ]


def test_supplies() -> None:
    sound = plan({5: Device("a", 0.1), 15: Device("b", 0.1)}, 20)
    assert failing(check_supplies(sound)) == []
    cut = replace(sound, section_breaks=(10,))
    assert failing(check_supplies(cut)) == [("supply of the section", "section from 10 to 20 m")]
    swapped = replace(sound, supplies=(Supply(0, name="main", reversed_polarity=True),))
    assert failing(check_supplies(swapped)) == [("V+ and V− swapped", "supply main at 0 m")]
    bare = replace(sound, supplies=(Supply(0), Supply(20, diode=False)))
    assert failing(check_supplies(bare)) == [
        ("supplies in parallel without a diode", "supply at 20 m")
    ]
    fused = replace(
        sound, segments=(Segment("thin", 20),), supplies=(Supply(10, fuse_left=3, fuse_right=4),)
    )
    assert failing(check_supplies(fused)) == [
        ("fuse for the cable behind it", "right fuse of supply at 10 m, thin cable")
    ]


def test_drop_currents_and_node_count() -> None:
    ports = Drop(0, (), (Drop(5, (Device("a", 1),)), Drop(1, (Device("b", 3),))))
    network = Network(125, (Segment("thick", 20),), (Tap(5, ports),))
    first, second = check_drop_currents(network)
    assert first.limit == pytest.approx(0.914)
    assert (first.value, first.ok) == (1, False)
    assert (second.value, second.limit, second.ok) == (3, 3, True)
    many = Drop(0, tuple(Device(f"n{n}") for n in range(65)))
    crowded = check_node_count(Network(125, (Segment("thick", 20),), (Tap(5, many),)))
    assert (crowded.value, crowded.limit, crowded.ok) == (65, 64, False)


def test_a_section_of_no_length_is_compared_too() -> None:
    """A tap at the trunk's end on a power tap whose fuse towards the trunk is out."""
    tap = Tap(0.0, Drop(1.0, (Device("a", 0.1),)))
    plan = Network(125, (Segment("thick", 10.0),), (tap,), (Supply(0.0, fuse_right=0),))
    first, _ = compare_methods(plan)
    assert first.section.length == 0
    assert all(outcome.ok for outcome in first.outcomes)
