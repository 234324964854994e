"""What actions do, and that none of them tells of a hidden fault by being refused."""

from collections.abc import Iterator
from dataclasses import replace
from itertools import product

import pytest

from labkit.bench.actions import (
    Action,
    FitEarth,
    FitTerminator,
    Land,
    LiftEarth,
    MoveSupply,
    PartFromEarth,
    Plug,
    PowerOn,
    RemoveTerminator,
    ReplaceCable,
    ReplaceSupply,
    TurnSupply,
    Unplug,
)
from labkit.bench.bench import Bench
from labkit.bench.faults import (
    Broken,
    Corroded,
    Earthed,
    Fault,
    Landed,
    SupplyReversed,
    SupplyWeak,
    TerminatorExtra,
    TerminatorMissing,
    TerminatorValue,
    TooLong,
    WrongCable,
)
from labkit.bench.possible import possible_faults
from labkit.bench.situation import Situation
from labkit.families.devicenet.bench.actions import Download, ReplaceDevice, SetSwitches
from labkit.families.devicenet.bench.conductors import CAN_H, CONDUCTORS, DRAIN, V_PLUS, WIRES
from labkit.families.devicenet.bench.setup import Setup
from labkit.fieldbus.devicenet.cable import DataSheet
from labkit.fieldbus.devicenet.network import Device, Drop, Network, Segment, Supply, Tap
from labkit.fieldbus.errors import PlanError

TAPS = (
    Tap(5.0, Drop(1.0, (Device("panel", 0.2, 0),))),
    Tap(40.0, Drop(2.0, (Device("valves", 0.4, 5),))),
)
SETUP = Setup(Network(125, (Segment("thick", 50.0),), TAPS, (Supply(20.0),)), "panel")
LAYOUT = SETUP.layout
IN_ORDER = CONDUCTORS.in_order
CABLES = [piece.id for piece in LAYOUT.pieces.values() if piece.runs]
FAULTS: tuple[Fault, ...] = (
    *possible_faults(SETUP),
    *(WrongCable(piece, "thin") for piece in CABLES),
    *(TooLong(piece, 77.0) for piece in CABLES),
    *(Earthed(c, wire) for c, wire in product(LAYOUT.connectors, WIRES)),
    TerminatorValue("left end", 60.0),
    Corroded("valves", V_PLUS, 3.0),
    SupplyWeak("supply", 0.5),
)


def everything() -> Iterator[Action]:
    yield from (PowerOn(), LiftEarth(), FitEarth(), Download(), Download(()))
    for connector in LAYOUT.connectors:
        yield from (Unplug(connector), Plug(connector), Land(connector, IN_ORDER))
        yield Land(connector, (5, 2, 3, 4, 1))
        yield from (PartFromEarth(connector, wire) for wire in WIRES)
        yield from (FitTerminator(connector), RemoveTerminator(connector))
    for device in LAYOUT.devices:
        yield from (SetSwitches(device, 7, 500), SetSwitches(device, 99, 125))
        yield from (SetSwitches(device, 7, 100), ReplaceDevice(device))
    yield from (ReplaceSupply("supply"), TurnSupply("supply"))
    yield from (MoveSupply(at) for at in (0.0, 5.0, 20.0, 30.0, 45.0, 50.0, 51.0, -1.0))
    yield from (ReplaceCable(piece) for piece in (*LAYOUT.pieces, "nowhere"))


ACTIONS = tuple(everything())


def refusal(action: Action, bench: Bench) -> str | None:
    try:
        action.do(bench)
    except PlanError as refused:
        return str(refused)
    return None


@pytest.mark.parametrize("power", [False, True])
def test_a_refusal_says_the_same_whatever_is_hidden(power: bool) -> None:
    whole = Bench(SETUP, situation=Situation(power=power))
    expected = {action: refusal(action, whole) for action in ACTIONS}
    assert any(expected.values())
    for fault in FAULTS:
        bench = whole.with_faults([fault])
        told = {action: refusal(action, bench) for action in ACTIONS}
        assert told == expected, fault.words_on(LAYOUT)


def test_a_moved_supply_takes_new_trunk_cable_and_leaves_the_rest() -> None:
    near = WrongCable("tap 1, right – power tap of supply, left", "thin")
    far = WrongCable("tap 2, right – right end", "thin")
    conductor = Broken("tap 1, right", CAN_H)
    bench = MoveSupply(42.0).do(Bench(SETUP, frozenset({near, far, conductor})))
    assert bench.faults == {conductor}
    assert bench.setup.plan.supplies[0].position == 42.0
    bench = MoveSupply(30.0).do(Bench(SETUP, frozenset({near, far, conductor})))
    assert bench.faults == {far, conductor}
    bench = MoveSupply(20.0).do(Bench(SETUP, frozenset({near, far, conductor})))
    assert bench.faults == {near, far, conductor}


def test_one_of_two_supplies_is_not_moved() -> None:
    plan = Network(125, (Segment("thick", 50.0),), TAPS, (Supply(20.0), Supply(30.0)))
    with pytest.raises(PlanError, match="one supply"):
        MoveSupply(10.0).do(Bench(Setup(plan, "panel")))


def test_a_terminator_fitted_at_an_end_takes_the_place_of_what_is_there() -> None:
    wrong = Bench(SETUP, frozenset({TerminatorValue("left end", 60.0)}))
    assert FitTerminator("left end").do(wrong) == Bench(SETUP)
    assert FitTerminator("left end").do(Bench(SETUP)) == Bench(SETUP)
    gone = RemoveTerminator("left end").do(wrong)
    assert gone.faults == {TerminatorMissing("left end")}
    assert RemoveTerminator("left end").do(gone) == gone
    extra = FitTerminator("valves").do(Bench(SETUP))
    assert extra.faults == {TerminatorExtra("valves")}
    assert RemoveTerminator("valves").do(extra) == Bench(SETUP)


def test_a_wrong_repair_makes_a_fault_and_a_right_one_takes_away_its_own_alone() -> None:
    hurt = Bench(SETUP, frozenset({Earthed("valves", DRAIN), Broken("valves", CAN_H)}))
    assert PartFromEarth("panel", DRAIN).do(hurt) == hurt
    assert PartFromEarth("valves", DRAIN).do(hurt).faults == {Broken("valves", CAN_H)}
    assert Land("valves", IN_ORDER).do(hurt).faults == {Earthed("valves", DRAIN)}
    crossed = Land("valves", (1, 4, 3, 2, 5)).do(Bench(SETUP))
    assert crossed.faults == {Landed("valves", (1, 4, 3, 2, 5))}
    turned = TurnSupply("supply").do(Bench(SETUP))
    assert turned.faults == {SupplyReversed("supply")}
    assert TurnSupply("supply").do(turned) == Bench(SETUP)


def test_a_cable_that_no_meter_could_read_is_no_fault_for_the_bench() -> None:
    fault = frozenset({WrongCable(CABLES[0], "mid")})
    with pytest.raises(PlanError, match="mid cable"):
        Bench(SETUP, fault)
    power_alone = replace(SETUP.plan, data_sheets=(DataSheet("mid", power=0.0112),))
    with pytest.raises(PlanError, match="mid cable"):
        Bench(replace(SETUP, plan=power_alone), fault)
    both = replace(SETUP.plan, data_sheets=(DataSheet("mid", 0.0112, 0.0236),))
    assert Bench(replace(SETUP, plan=both), fault)
