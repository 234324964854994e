"""The labs of the course that play at the bench: every fault shows."""

from typing import Any

import pytest
from course_draws import lab, scenario

from labkit.bench.bench import Bench
from labkit.bench.codec import to_json
from labkit.bench.debrief import usual_measurements
from labkit.bench.faults import Fault, Loose
from labkit.bench.measurements import Look, Measurement, SupplyCurrent
from labkit.bench.situation import Situation
from labkit.families.devicenet.bench.catalogue import fault_from_json
from labkit.families.devicenet.bench.measurements import Indicators, ScannerReport
from labkit.families.devicenet.bench.setup import Setup
from labkit.families.devicenet.bench.trace import Trace

NAMES = ("wiring-and-terminators", "bring-up", "troubleshooting", "acceptance")
BENCHES = 20
TRACES = 3


def _cases(name: str, number: int) -> list[tuple[str, Setup, tuple[Fault, ...]]]:
    found = []
    for exercise in lab(name).exercises:
        if exercise.kind == "diagnosis":
            prepared = scenario(name, number).prepare(exercise)
            faults = tuple(fault_from_json(fault) for fault in prepared.key["faults"])
            found.append((exercise.id, Setup.from_json(prepared.ask["setup"]), faults))
    return found


@pytest.mark.parametrize("name", NAMES)
def test_every_fault_shows_in_some_usual_measurement(name: str) -> None:
    traced = 0
    for number in range(BENCHES):
        for exercise, setup, faults in _cases(name, number):
            if _meter_tells(setup, faults):
                continue
            traced += 1
            if traced <= 3 * TRACES:
                told = (Indicators(), ScannerReport())
                assert _differs(setup, faults, told, power=True), f"{exercise}, draw {number}"


def _meter_tells(setup: Setup, faults: tuple[Fault, ...]) -> bool:
    meter = [m for m in usual_measurements(setup) if not isinstance(m, Indicators)]
    meter += [SupplyCurrent(supply) for supply in setup.layout.supplies]
    looks = [Look(connector) for connector in setup.layout.connectors]
    at_rest = _differs(setup, faults, (*meter, *looks), power=False)
    return bool(at_rest or _differs(setup, faults, meter, power=True))


def _differs(
    setup: Setup, faults: tuple[Fault, ...], told: Any, *, power: bool
) -> list[Measurement]:
    # A loose contact is looked at in the middle of a time in which it is open.
    open_at = [f.open_at_s for f in faults if isinstance(f, Loose)]
    situation = Situation(power=power, clock_s=open_at[0] if open_at else 0.0)
    ill, well = (Bench(setup, frozenset(has), situation) for has in (faults, ()))
    return [m for m in told if not m.take(ill).agrees(m.take(well))]


def _exchanges(trace: Trace, address: int | None) -> bool:
    return address is not None and address in trace.entries and trace.report(address).text == "OK"


def _silent(setup: Setup, faults: tuple[Fault, ...]) -> set[str]:
    bench = Bench(setup, frozenset(faults), Situation(power=True))
    trace = bench.trace
    return {
        name
        for name, device in setup.layout.devices.items()
        if name != setup.scanner and not _exchanges(trace, device.address)
    }


def test_the_operators_words_fit_what_the_scanner_says() -> None:
    for number in range(TRACES):
        names = scenario("troubleshooting", number).names
        cases = {case: (setup, faults) for case, setup, faults in _cases("troubleshooting", number)}
        for case, lost in (("case-open", "lost_2"), ("case-loose", "lost_6")):
            assert _silent(*cases[case]) == set(names["everyone"][names[lost] :])
        device = {names["device_5"]}
        silent = _silent(*cases["case-settings"])
        if names["case_5"] == 2:
            assert silent == set(names["names"])
        else:
            assert device <= silent <= device | {names["names"][names["twin_5"]]}
        assert not _silent(*cases["case-terminator"])


def test_a_supply_at_its_limit_has_a_reading_whatever_the_limit() -> None:
    setup = _cases("troubleshooting", 0)[0][1]
    for percent in range(5, 100, 5):
        ampere = scenario("troubleshooting", 0).names["all_current"] * percent / 100
        weak = fault_from_json({"kind": "supply weak", "supply": "supply", "ampere": ampere})
        bench = Bench(setup, frozenset({weak}), Situation(power=True))
        assert bench.supply_current("supply").value == pytest.approx(ampere, abs=0.001)
        assert to_json(weak)["ampere"] == ampere
