"""What may be put into a real rig by hand: nothing that could hurt somebody or something."""

from __future__ import annotations

import pytest
from rigs_by_chance import devicenet_rig, devicenet_text, modbus_rig

from labkit.bench.bench import Bench
from labkit.bench.faults import (
    BiasExtra,
    BiasMissing,
    Broken,
    Fault,
    Landed,
    TerminatorExtra,
    TerminatorMissing,
    Touching,
)
from labkit.bench.rig.by_hand import HandWork, hand_work, reachable, usual_places
from labkit.bench.situation import Situation
from labkit.bench.twins import twins_of
from labkit.lab.reading.rig_file import rig_of
from labkit.lab.rig import Rig

RIGS = {
    **{f"DeviceNet {seed}": (devicenet_rig, seed) for seed in range(6)},
    **{f"Modbus {seed}": (modbus_rig, seed) for seed in range(6)},
}


@pytest.fixture(scope="module", params=RIGS)
def rig(request: pytest.FixtureRequest) -> Rig:
    make, seed = RIGS[request.param]
    return make(seed)


def everything(rig: Rig) -> list[Fault]:
    """All that may ever be put in: every place, every kind."""
    places = reachable(rig.setup.layout)
    return [work.fault for work in hand_work(rig.setup, places, rig.own.work)]


def test_nothing_else_is_ever_put_in(rig: Rig) -> None:
    conductors = rig.setup.layout.conductors
    pair, power = {*conductors.pair}, conductors.power or ()
    for fault in everything(rig):
        match fault:
            case Touching(_, a, b):
                assert {a, b} == pair
            case Landed(_, terminals):
                astray = [w for w in conductors.wires if terminals[w.terminal - 1] != w.terminal]
                assert {*astray} == pair
                assert {*terminals} == {*conductors.in_order}
            case Broken(_, wire):
                assert wire in conductors.working
                assert wire not in power[1:]
            case TerminatorExtra() | TerminatorMissing() | BiasMissing() | BiasExtra():
                pass
            case _:
                assert not fault.wired, fault


def test_nothing_is_put_in_at_a_supply_or_its_tap(rig: Rig) -> None:
    layout = rig.setup.layout
    feeding = {*layout.supplies, *(f"power tap of {name}" for name in layout.supplies)}
    for fault in everything(rig):
        connector = layout.connectors.get(fault.place)
        assert fault.place not in feeding
        assert connector is None or connector.socket not in feeding
        assert "earth" not in fault.place


def test_no_device_gets_a_wrong_voltage_and_no_supply_more_current(rig: Rig) -> None:
    layout = rig.setup.layout
    if layout.conductors.power is None:
        return
    plus, minus = (wire.terminal for wire in layout.conductors.power)
    sound = Bench(rig.setup, situation=Situation(power=True))
    assert sound.live is not None
    for fault in everything(rig):
        live = sound.with_faults([fault]).live
        assert live is not None
        for name in layout.devices:
            volt = live.idle.between(f"{name}#{plus}", f"{name}#{minus}")
            assert -1.0 < volt < 25, (fault, name, volt)
        for name, ampere in live.supply_currents.items():
            # A few milliamperes more flow where a pair is shorted at another level.
            assert ampere < sound.live.supply_currents[name] + 0.01, fault


def test_each_fault_stands_there_once_and_without_its_twin_at_the_other_end(rig: Rig) -> None:
    faults = everything(rig)
    assert len(faults) == len({*faults})
    for fault in faults:
        assert not {*twins_of(rig.setup.layout, fault)} & {*faults}


def test_usual_places_are_devices_and_ends(rig: Rig) -> None:
    kinds = {rig.setup.layout.connectors[name].kind for name in usual_places(rig.setup.layout)}
    assert kinds == {"device", "terminator"}


def test_a_hand_is_told_what_to_do_and_how_to_undo_it(rig: Rig) -> None:
    for work in rig.works:
        for sentence in (work.put_in, work.put_back):
            assert sentence.startswith("At ")
            assert sentence.endswith(".")
            assert "{" not in sentence
    opened = next(work for work in rig.works if work.kind == "conductor open")
    assert "Insulate" in opened.put_in
    assert opened.fault.place in opened.put_in


def test_families_settings_leave_the_wiring_alone(rig: Rig) -> None:
    own = [work for work in rig.works if work.kind in rig.own.kinds]
    assert {work.kind for work in own} == {*rig.own.kinds}
    assert not any(work.fault.wired for work in own)
    assert not any(work.fault.place == rig.setup.scanner for work in own)


def of_kind(rig: Rig, kind: str, at: str) -> HandWork:
    [work] = [each for each in rig.works if (each.kind, each.fault.place) == (kind, at)]
    return work


@pytest.mark.parametrize(
    ("kind", "put_in", "put_back"),
    [
        (
            "pair exchanged",
            "At the connector of drive, exchange the conductor CAN_H (white) and the conductor "
            "CAN_L (blue): CAN_H goes on terminal 2, CAN_L on terminal 4.",
            "At the connector of drive, put CAN_H back on terminal 4 and CAN_L on terminal 2. "
            "Tighten both and pull gently.",
        ),
        (
            "pair shorted",
            "At the connector of drive, join terminals 2 (CAN_L) and 4 (CAN_H) with a short bridge "
            "of insulated wire. Nothing else may touch it.",
            "At the connector of drive, take the bridge between terminals 2 and 4 out.",
        ),
        (
            "terminator extra",
            "At the connector of drive, fit a third terminating resistor (121 Ω) between terminals "
            "2 (CAN_L) and 4 (CAN_H).",
            "At the connector of drive, take the third terminating resistor out.",
        ),
    ],
)
def test_a_hand_is_told_the_right_terminals(kind: str, put_in: str, put_back: str) -> None:
    work = of_kind(devicenet_rig(1), kind, "drive")
    assert (work.put_in, work.put_back) == (put_in, put_back)


def test_every_conductor_is_opened_at_its_own_terminal_by_its_own_colour() -> None:
    rig = devicenet_rig(1)
    opened = [
        work for work in rig.works if isinstance(work.fault, Broken) and work.fault.place == "drive"
    ]
    assert [work.put_in for work in opened] == [
        f"At the connector of drive, take the conductor {told} out of terminal {terminal}. "
        "Insulate its bare end, so that it touches nothing."
        for told, terminal in (("V+ (red)", 5), ("CAN_H (white)", 4), ("CAN_L (blue)", 2))
    ]
    assert [work.put_back for work in opened] == [
        f"At the connector of drive, put {wire} back on terminal {terminal}. Tighten it and pull "
        "gently."
        for wire, terminal in (("V+", 5), ("CAN_H", 4), ("CAN_L", 2))
    ]


def test_at_both_ends_the_terminator_may_be_taken_out() -> None:
    for make in (devicenet_rig, modbus_rig):
        rig = make(1)
        for end in ("left end", "right end"):
            work = of_kind(rig, "terminator missing", end)
            assert work.put_in.startswith(f"At the {end} of the trunk, take the terminating")
            assert work.put_back == f"At the {end} of the trunk, put the terminating resistor back."


def test_the_bias_is_switched_off_where_it_is_and_on_where_it_is_not() -> None:
    rig = modbus_rig(1)
    assert "switch the bias off, or take both" in of_kind(rig, "bias missing", "boss").put_in
    assert "switch a second bias on" in of_kind(rig, "bias extra", "d0").put_in
    assert not [work for work in rig.works if work.kind == "bias extra" and "boss" in work.put_in]


def test_no_plus_is_opened_where_the_plan_lays_none() -> None:
    """Two supplies, the plus between their sections cut: who opened it there would do nothing."""
    text = devicenet_text(1).replace(
        "  supply: {at: 0.5, rating: 4}\n", "  supplies: {at: '[0.5, 16.5]'}\n  breaks: '[12]'\n"
    )
    rig = rig_of(text, "rig.md")
    layout = rig.setup.layout
    [cut] = [piece for piece in layout.pieces.values() if not piece.plus]
    opened = {
        (fault.connector, fault.wire.label)
        for fault in everything(rig)
        if isinstance(fault, Broken)
    }
    for at in (cut.a, cut.b):
        assert (at, "V+") not in opened
    assert (cut.a, "CAN_H") in opened
    assert ("tap 2, drop", "V+") in opened
