"""The faults of the Modbus line: what the text says of them is what the bench shows."""

from __future__ import annotations

import re
from typing import Any

import pytest
from course_draws import scenarios

from labkit.bench.bench import Bench
from labkit.bench.conductors import Wire
from labkit.bench.situation import Situation, Terminal
from labkit.families.modbus.bench.catalogue import CATALOGUE
from labkit.families.modbus.bench.conductors import COMMON, D0, D1
from labkit.families.modbus.bench.measurements import FrameLog, Indicators, MasterReport
from labkit.families.modbus.bench.setup import Setup
from labkit.lab.draw import Scenario

LAB = "modbus-faults"
DRAWS = 24
DEAD, LIVE = Situation(), Situation(power=True)
METER = 0.05
"""What contacts of the bench, which the formulas leave out, may change in volts or ohms: 5 %."""


def case(scenario: Scenario, name: str) -> tuple[Bench, Bench, str]:
    """The bench, the same without a fault, and the working."""
    exercise: Any = next(each for each in scenario.lab.exercises if each.id == name)
    made = scenario.prepare(exercise)
    setup = Setup.from_json(made.ask["setup"])
    faults = frozenset(map(CATALOGUE.fault_from_json, made.key["faults"]))
    return Bench(setup, faults, DEAD), Bench(setup), exercise.working.render(scenario.names)


def ohms(bench: Bench, a: Wire, b: Wire, *unplugged: str) -> float:
    there = bench.standing(Situation(unplugged=frozenset(unplugged)))
    value = there.ohms(Terminal.of("controller", a), Terminal.of("controller", b)).value
    assert value is not None
    return value


def volts(bench: Bench, at: str = "controller") -> float:
    value = bench.standing(LIVE).volts(Terminal.of(at, D1), Terminal.of(at, D0)).value
    assert value is not None
    return value


def figures(text: str, unit: str) -> list[float]:
    return [float(found) for found in re.findall(rf"([\d.]+) {unit}\b", text)]


def test_the_method_tells_what_a_sound_line_shows() -> None:
    for scenario in scenarios(LAB, DRAWS):
        _, sound, _ = case(scenario, "case-bias")
        names: Any = scenario.names
        assert ohms(sound, D1, D0) == pytest.approx(names["good_ohms"], rel=METER)
        assert volts(sound) == pytest.approx(names["good_volts"], rel=METER)
        assert ohms(sound, D0, COMMON) == pytest.approx(560, rel=METER)
        report = MasterReport().take(sound.standing(LIVE)).text
        settings = f"time-out {names['wait']} ms, {names['tries']} tries, longest round "
        assert report.startswith(settings)
        assert float(report.removeprefix(settings).split(" s; ")[0]) == pytest.approx(
            names["round_all"] / 1000, abs=0.006
        )
        assert all(failed not in report for failed in ("time-outs", "without", "bad", "refused"))
        assert set(sound.setup.to_json()["registers"].values()) == {4}


def test_the_exchanged_device_looks_as_the_working_says() -> None:
    seen = set()
    for scenario in scenarios(LAB, DRAWS):
        bench, _, working = case(scenario, "case-device")
        names: Any = scenario.names
        device, live = names["device_1"], bench.standing(LIVE)
        line, send = Indicators().take(live).detail[device]["whole"]
        log = " ".join(row[2] for row in FrameLog(device).take(live).detail["words"])
        report = MasterReport().take(live).text
        number = names["case_1"]
        seen.add(number)
        assert len(re.findall("time-outs", report)) == (number != 4)
        if number == 4:
            assert report.count("refused with exception 02") == 1
            assert (line, send) == ("flashing green", "flashing green")
            assert "from address 1 (40002) on" in log
        elif number == 0:
            assert (line, send) == ("red", "off")
            assert volts(bench, device) < -0.2
        elif number == 1:
            assert report.count("bad CRC") == 1
            assert send == "flashing green"
        else:
            assert (line, send) == ("flashing red", "off")
            assert ("framing error" in log) == (number == 3)
            assert ("parity error" in log) or number == 3
        assert device in working
    assert seen == {0, 1, 2, 3, 4}


def test_the_check_sheet_and_the_pair_at_rest_read_as_the_workings_say() -> None:
    seen = set()
    for scenario in scenarios(LAB, DRAWS):
        names: Any = scenario.names
        bench, sound, working = case(scenario, "case-terminator")
        shown, good = figures(working, "Ω")[:2]
        assert ohms(bench, D1, D0) == pytest.approx(shown, rel=METER)
        assert ohms(sound, D1, D0) == pytest.approx(good, rel=METER)
        place = names["end_2"] if names["missing_2"] else names["device_2"]
        unplugged = ohms(bench, D1, D0, place)
        assert unplugged == pytest.approx(shown if names["missing_2"] else good, rel=METER)
        errors = "time-out" in MasterReport().take(bench.standing(LIVE)).text.split("; ", 1)[1]
        assert errors == (not names["missing_2"])
        bench, sound, working = case(scenario, "case-bias")
        if names["missing_3"]:
            assert volts(bench) == 0
            assert ohms(bench, D0, COMMON) == float("inf")
        else:
            assert volts(bench) == pytest.approx(figures(working, "V")[0], rel=METER)
            assert ohms(bench, D0, COMMON) == pytest.approx(280, rel=2 * METER)
            assert ohms(bench, D0, COMMON, names["device_3"]) == pytest.approx(560, rel=METER)
        seen |= {("missing", names["missing_2"]), ("bias", names["missing_3"])}
    assert len(seen) == 4


def test_what_a_dead_device_costs_is_worked_out_again() -> None:
    """Tries times request and time-out: V1.02, 2.4.1; characters of 11 bits: 2.5.1."""
    seen = set()
    for scenario in scenarios(LAB, DRAWS):
        names: Any = scenario.names
        byte_ms = 11 / 19_200 * 1000
        poll_ms = [
            (8 + 5 + 2 * 4) * byte_ms + 2 * 3.5 * byte_ms + response
            for response in names["responses"]
        ]
        others = sum(poll_ms) - poll_ms[names["dead_place"]]
        for (timeout, tries, cost), verdict in zip(names["offers"], names["verdicts"], strict=True):
            assert cost == pytest.approx(tries * (8 * byte_ms + timeout))
            late = timeout < names["slow"] + (5 + 2 * 4 + 3.5) * byte_ms
            fits = others + cost <= names["limit"]
            assert verdict == ("too short" if late else "fits" if fits else "costs too much")
            # No verdict hangs on the requests or the silences.
            assert abs(others + cost - names["limit"]) > 100
            seen.add((timeout, verdict))
    assert {verdict for _, verdict in seen} == {"fits", "costs too much", "too short"}
    assert {verdict for timeout, verdict in seen if timeout == 600} == {"fits", "costs too much"}


def test_the_late_line_looks_as_the_working_says() -> None:
    seen = set()
    for scenario in scenarios(LAB, DRAWS):
        bench, _, working = case(scenario, "case-late")
        names: Any = scenario.names
        live = bench.standing(LIVE)
        first, *clauses = MasterReport().take(live).text.split("; ")
        by_address = dict(clause.split(": ", 1) for clause in clauses)
        failing = [address for address, words in by_address.items() if "time-out" in words]
        if names["late_4"]:
            assert first.startswith(f"time-out {names['short']} ms, {names['tries']} tries")
            assert failing == [f"address {names['nodes'][names['slow_place']]}"]
            assert "of them not at the first try" in by_address[failing[0]]
            assert not any("without" in words for words in by_address.values())
        else:
            assert failing == [f"address {names['nodes'][names['dead_place']]}"]
            assert Indicators().take(live).detail[names["dead"]]["whole"] == ["off", "off"]
            longest, good = figures(working, "s")[:2]
            assert float(first.split("longest round ")[1].removesuffix(" s")) == pytest.approx(
                longest, abs=0.016
            )
            assert longest > 2 * good
        seen.add(names["case_4"])
    assert seen == {0, 1}
