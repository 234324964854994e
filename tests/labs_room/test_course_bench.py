"""The labs of the course that play at the bench: every draw can be answered, every fault shows."""

import json
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from labkit.bench.bench import Bench
from labkit.bench.codec import fault_from_json, to_json
from labkit.bench.debrief import usual_measurements
from labkit.bench.faults import Fault, Loose
from labkit.bench.measurements import (
    Indicators,
    Look,
    Measurement,
    ScannerReport,
    SupplyCurrent,
)
from labkit.bench.setup import Setup
from labkit.bench.situation import Situation
from labkit.lab.definition import Exercise, Lab, Prose
from labkit.lab.draw import Scenario, draw
from labkit.lab.kinds import check_for
from labkit.lab.reading import read_lab

LABS = Path(__file__).parents[2] / "labs"
NAMES = ("wiring-and-terminators", "bring-up", "troubleshooting", "acceptance")
DRAWS = 100
BENCHES = 20
TRACES = 3


@cache
def lab(name: str) -> Lab:
    return read_lab(LABS / name / "lab.md")


@cache
def scenario(name: str, number: int) -> Scenario:
    return draw(lab(name), f"course {number}")


def _cases(name: str, number: int) -> list[tuple[str, Setup, tuple[Fault, ...]]]:
    found = []
    for exercise in lab(name).exercises:
        if exercise.kind == "diagnosis":
            prepared = scenario(name, number).prepare(exercise)
            faults = tuple(fault_from_json(fault) for fault in prepared.key["faults"])
            found.append((exercise.id, Setup.from_json(prepared.ask["setup"]), faults))
    return found


@pytest.mark.parametrize("name", NAMES)
def test_every_sentence_of_every_draw_can_be_written(name: str) -> None:
    for number in range(DRAWS):
        drawn = scenario(name, number)
        for part in lab(name).body:
            if isinstance(part, Prose):
                part.render(drawn.names)
            if isinstance(part, Exercise):
                texts = [part.title, part.question, part.working, *(h.text for h in part.hints)]
                for text in texts:
                    words = text.render(drawn.names)
                    assert words
                    assert "{{" not in words
                    assert " None" not in words


@pytest.mark.parametrize("name", NAMES)
def test_right_answers_are_right_and_every_slip_is_told_by_its_id(name: str) -> None:
    for number in range(DRAWS):
        for exercise in lab(name).exercises:
            prepared, check = scenario(name, number).prepare(exercise), check_for(exercise.kind)
            ask, key = prepared.ask, prepared.key
            where = f"{exercise.id}, draw {number}"
            verdict = check.check(ask, key, check.right_answer(ask, key))
            assert verdict.right or verdict.awaits, f"{where}: {verdict.message}"
            for slip, answer in check.slip_answers(ask, key).items():
                told = check.check(ask, key, answer)
                assert told.slip == slip, f"{where}, {slip}: {told}"
                assert told.credit < 1, f"{where}, {slip}"


@pytest.mark.parametrize("name", NAMES)
def test_what_the_trainee_is_given_holds_nothing_of_the_key(name: str) -> None:
    for number in range(BENCHES):
        for exercise in lab(name).exercises:
            prepared = scenario(name, number).prepare(exercise)
            assert not {*_names(prepared.ask)} & {"key", "faults", "slips", "rubric", "tolerance"}
            given = json.dumps(prepared.ask)
            for fault in prepared.key.get("faults", []):
                assert json.dumps(fault) not in given


def _names(data: Any) -> list[str]:
    if isinstance(data, dict):
        return [*data, *(name for value in data.values() for name in _names(value))]
    return [name for value in data for name in _names(value)] if isinstance(data, list) else []


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
    return _differs(setup, faults, (*meter, *looks), power=False) or _differs(
        setup, faults, meter, power=True
    )


def _differs(
    setup: Setup, faults: tuple[Fault, ...], told: Any, *, power: bool
) -> list[Measurement]:
    # A loose contact is looked at in the middle of a time in which it is open.
    open_at = [f.every_s - f.open_s / 2 for f in faults if isinstance(f, Loose)]
    situation = Situation(power=power, clock_s=open_at[0] if open_at else 0.0)
    ill, well = (Bench(setup, frozenset(has), situation) for has in (faults, ()))
    return [m for m in told if not m.take(ill).agrees(m.take(well))]


def _silent(setup: Setup, faults: tuple[Fault, ...]) -> set[str]:
    bench = Bench(setup, frozenset(faults), Situation(power=True))
    trace = bench.trace
    return {
        name
        for name, device in setup.layout.devices.items()
        if name != setup.scanner
        and (device.address not in trace.entries or trace.report(device.address).text != "OK")
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
