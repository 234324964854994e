"""What was worked out at a bench holds as its clock goes on, but not where a contact is loose."""

import pytest

from labkit.bench.actions import PowerOff, PowerOn
from labkit.bench.bench import Bench
from labkit.bench.faults import Broken, Loose
from labkit.bench.faults.base import Fault
from labkit.bench.measurements import BusyVolts, Measurement, Ohms, Volts
from labkit.bench.session import Session
from labkit.bench.situation import Situation, Terminal
from labkit.families.devicenet.bench.conductors import CAN_H
from labkit.families.devicenet.bench.measurements import Indicators
from labkit.families.devicenet.bench.setup import Setup
from labkit.fieldbus.devicenet.network import Device, Drop, Network, Segment, Supply, Tap

PLAN = Network(
    125,
    (Segment("thick", 40.0),),
    (
        Tap(5.0, Drop(1.0, (Device("panel", 0.2, 0),))),
        Tap(30.0, Drop(2.0, (Device("valves", 0.4, 5),))),
    ),
    (Supply(20.0),),
)
SETUP = Setup(PLAN, "panel")
# Open from 58 s to 60 s of every minute.
LOOSE = Loose("valves", CAN_H, 60.0, 2.0)
PAIR = Terminal("valves", 4), Terminal("panel", 4)
MEASURED = (Volts(*PAIR), BusyVolts(*PAIR), Indicators())


@pytest.mark.parametrize("fault", [Broken("tap 2, drop", CAN_H), LOOSE])
@pytest.mark.parametrize("power", [True, False])
@pytest.mark.parametrize("seconds", [0.0, 59.0, 90.0])
def test_a_later_bench_shows_what_a_bench_made_for_that_time_shows(
    fault: Fault, power: bool, seconds: float
) -> None:
    now = Bench(SETUP, frozenset({fault}), Situation(power=power))
    measured: tuple[Measurement, ...] = MEASURED if power else (Ohms(*PAIR),)
    for measurement in measured:
        measurement.take(now)
    later = now.after(seconds)
    fresh = Bench(SETUP, frozenset({fault}), Situation(power=power, clock_s=seconds))
    assert later == fresh
    for measurement in measured:
        assert measurement.take(later) == measurement.take(fresh)


def test_a_loose_contact_is_looked_at_anew_and_no_other_bench_is_solved_twice() -> None:
    for fault, kept in ((Broken("tap 2, drop", CAN_H), True), (LOOSE, False)):
        first = Bench(SETUP, frozenset({fault}), Situation(power=True))
        live = first.live
        assert (first.after(120.0).live is live) == kept
        session = Session.at(first).take(Volts(*PAIR))
        assert (session.bench.live is live) == kept
    ohms = Ohms(*PAIR)
    shut, apart = (Bench(SETUP, frozenset({LOOSE})).after(at) for at in (0.0, 59.0))
    assert ohms.take(shut) != ohms.take(apart)


@pytest.mark.parametrize("fault", [Broken("tap 2, drop", CAN_H), LOOSE])
def test_a_bench_on_the_way_holds_nothing_and_still_shows_the_same(fault: Fault) -> None:
    session = Session.at(Bench(SETUP, frozenset({fault}), Situation(power=True)))
    for did in (Indicators(), *MEASURED, PowerOff(), Ohms(*PAIR), PowerOn(), Indicators()):
        session = session.take(did)
    assert "trace" not in vars(session.start)
    for step in session.steps:
        assert not {"live", "trace", "wiring"} & vars(step.before).keys()
    for step in session.steps:
        if isinstance(step.did, Measurement):
            assert step.did.take(step.before) == step.reading


def test_what_is_known_is_not_measured_again(monkeypatch: pytest.MonkeyPatch) -> None:
    start = Session.at(Bench(SETUP, frozenset({LOOSE}), Situation(power=True)))
    measured = start
    for did in (Indicators(), BusyVolts(*PAIR), PowerOff(), Ohms(*PAIR)):
        measured = measured.take(did)
    readings = [step.reading for step in measured.steps]
    for kind in (Indicators, BusyVolts, Ohms):
        monkeypatch.setattr(kind, "take", lambda *_: pytest.fail("measured"))
    known = start
    for step, reading in zip(measured.steps, readings, strict=True):
        known = known.take(step.did, reading)
    assert known == measured
