"""The lab of the second fault: what its stories say is what the bench does, before and after."""

from __future__ import annotations

from typing import Any

import pytest
from course_draws import prepared, scenarios

from labkit.bench.bench import Bench
from labkit.bench.front import BenchFront
from labkit.bench.mending import mend
from labkit.bench.situation import Situation
from labkit.bench.twins import unseen
from labkit.doors.installed import check_for
from labkit.families.devicenet.bench.measurements import Indicators, ScannerReport
from labkit.families.devicenet.bench.setup import Setup
from labkit.families.devicenet.bench_reading import fault_of
from labkit.lab.draw import Scenario

LAB = "second-fault"
LIVE = Situation(power=True)
CASES = ("case-two", "case-colleague")
GOOD, ONE_END = (50.0, 70.0), (110.0, 125.0)


def setup_and_faults(scenario: Scenario, case: str) -> tuple[Setup, list[Any]]:
    made = prepared(scenario, case)
    setup = Setup.from_json(made.ask["setup"])
    return setup, [fault_of(each, setup) for each in made.key["faults"]]


def ohms(bench: Bench) -> float:
    """CAN_H to CAN_L at the scanner, power off."""
    front = BenchFront(bench.setup, faults=bench.faults, start=Situation())
    text: str = front.take({"kind": "ohms", "a": "scanner/4", "b": "scanner/2"})["text"]
    return float(text.removesuffix(" Ω"))


def unwell(bench: Bench) -> set[str]:
    """The devices whose network indicator is not green, or whose entry the scanner misses."""
    lights, report = Indicators().take(bench).text, ScannerReport().take(bench).text
    sound = lights.partition("network status: green: ")[2].partition(";")[0].split(", ")
    addresses = {device.name: device.address for device in bench.setup.plan.devices}
    silent = {
        name
        for name in bench.layout.devices
        if name != "scanner" and f"node {addresses[name]} OK" not in report
    }
    return (set(bench.layout.devices) - set(sound)) | silent


@pytest.mark.parametrize("case", CASES)
def test_each_fault_is_seen_beside_the_other_and_alone(case: str) -> None:
    for scenario in scenarios(LAB, 8):
        setup, faults = setup_and_faults(scenario, case)
        assert len(faults) == 2
        assert unseen(Bench(setup, frozenset(faults), LIVE)) == ()
        for fault in faults:
            assert unseen(Bench(setup, frozenset({fault}), LIVE)) == ()


def test_case_1_shows_what_the_shift_leader_says() -> None:
    seen = set()
    for scenario in scenarios(LAB, 12):
        names = scenario.names
        setup, faults = setup_and_faults(scenario, "case-two")
        bench, case = Bench(setup, frozenset(faults), LIVE), names["case_1"]
        seen.add(case)
        dead = {names["device_1"]} | ({names["second_1"]} if case == 1 else set())
        assert unwell(bench) == dead
        low, high = GOOD
        assert (low <= ohms(bench) <= high) == (case == 1)
    assert seen == {0, 1, 2}


def test_case_2_shows_what_the_operator_says() -> None:
    seen = set()
    for scenario in scenarios(LAB, 12):
        names = scenario.names
        setup, faults = setup_and_faults(scenario, "case-colleague")
        bench, case = Bench(setup, frozenset(faults), LIVE), names["case_2"]
        seen.add(case)
        dead = {names["device_2"]}
        if case == 1:
            dead |= {names["lost_2"]}
            assert names["red_2"] in (names["device_2"], names["twin_2"])
            assert f"red: {names['red_2']}" in Indicators().take(bench).text
            assert dead <= unwell(bench) <= dead | {names["twin_2"]}
        else:
            assert unwell(bench) == dead
        low, high = ONE_END
        assert (low <= ohms(bench) <= high) == (case == 2)
    assert seen == {0, 1, 2}


@pytest.mark.parametrize("case", CASES)
def test_after_the_first_repair_the_other_fault_is_left_and_earns_the_rest(case: str) -> None:
    check = check_for("diagnosis")
    for scenario in scenarios(LAB, 6):
        made = prepared(scenario, case)
        setup, faults = setup_and_faults(scenario, case)
        for fault, other in (faults, faults[::-1]):
            front = BenchFront(setup, faults=faults, start=LIVE)
            for step in [{"kind": "power off"}, *mend(setup, fault), {"kind": "power on"}]:
                assert not front.take(step)["refused"]
            assert front.session is not None
            assert front.session.bench.faults == {other}
            right = check.right_answer(made.ask, made.key)
            half = {"verdict": right["verdict"], "steps": list(front.steps)}
            verdict = check.check(made.ask, made.key, half)
            assert verdict.credit == pytest.approx(0.5)
            assert "tested again" in verdict.message


def test_what_the_meter_shows_after_the_repair_is_what_it_is_said_to_mean() -> None:
    spans = {"good": GOOD, "one": ONE_END, "three": (36.0, 44.0), "short": (0.0, 10.0)}
    met = set()
    for scenario in scenarios(LAB, 20):
        reading = scenario.names["reading"]
        faults = scenario.names["readings"]
        setup, _ = setup_and_faults(scenario, "case-two")
        low, high = spans[reading]
        shown = ohms(Bench(setup, frozenset(fault_of(each, setup) for each in faults)))
        assert low <= shown <= high
        met.add(reading)
    assert met == set(spans)


def test_the_model_report_has_the_benchs_own_figures() -> None:
    for scenario in scenarios(LAB, 8):
        setup, faults = setup_and_faults(scenario, "case-colleague")
        model = prepared(scenario, "handover").key["model"]
        before, after = (ohms(Bench(setup, frozenset(each))) for each in (faults, []))
        assert f"{before} Ω before, {after} Ω after" in model
