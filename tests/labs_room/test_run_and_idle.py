"""The lab of outputs that do not follow: what it says is what the bench does.

A lost connection is noticed after four times the expected packet rate, off unless set to hold, no
output data from an idle scanner: public manuals, on the reference page.
"""

from __future__ import annotations

import re
from typing import Any

import pytest
from course_draws import prepared, rows_of, scenarios

from labkit.bench.bench import Bench
from labkit.bench.front import BenchFront
from labkit.bench.mending import mend
from labkit.bench.situation import Situation
from labkit.doors.installed import check_for
from labkit.families.devicenet.bench.measurements import (
    CommandOutputs,
    GoIdle,
    Indicators,
    ScannerReport,
)
from labkit.families.devicenet.bench.setup import Setup
from labkit.families.devicenet.bench_reading import fault_of
from labkit.lab.draw import Scenario

LAB = "run-and-idle"
DRAWS = 40
LIVE = Situation(power=True)


def setup_and_faults(scenario: Scenario) -> tuple[Setup, list[Any]]:
    setup = Setup.from_json(prepared(scenario, "nothing-moves").ask["setup"])
    return setup, [fault_of(each, setup) for each in scenario.names["bench_faults"]]


def moved(bench: Bench, name: str) -> list[str]:
    found: list[str] = CommandOutputs(name).take(bench).detail["on"]
    return found


def test_hold_keeps_what_was_there_and_off_is_off() -> None:
    for scenario in scenarios(LAB, DRAWS):
        for (_, was, idle, fault), right in rows_of(scenario, "idle-and-fault"):
            ends = [
                "on" if (was, setting) == ("on", "hold") else "off" for setting in (idle, fault)
            ]
            assert right == ends


def test_the_packet_rate_is_the_slowest_whose_four_packets_keep_the_belts_way() -> None:
    chosen = set()
    for scenario in scenarios(LAB, DRAWS):
        asked = next(each for each in scenario.lab.exercises if each.id == "time-out")
        said = " ".join(asked.question.render(scenario.names).split())
        [speed] = re.findall(r"belt at ([\d.]+) m/s", said)
        [way] = re.findall(r"at most (\d+) mm", said)
        prepared, check = scenario.prepare(asked), check_for("choice")
        rates = {each["id"]: int(each["text"].split()[0]) for each in prepared.ask["options"]}
        keep = [ms for ms in rates.values() if float(speed) * 4 * ms <= int(way)]
        chosen.add(max(keep))
        for option, ms in rates.items():
            verdict = check.check(prepared.ask, prepared.key, option)
            assert verdict.right == (ms == max(keep)), (scenario.seed, ms)
    assert len(chosen) == 4


def test_two_are_crossed_one_does_not_follow_and_two_are_right() -> None:
    for scenario in scenarios(LAB, DRAWS):
        table = rows_of(scenario, "test-plan")
        told = {commanded: moves for (commanded, moves), _ in table}
        for (commanded, moves), [said] in table:
            if moves == "nothing":
                assert said == "does not follow"
            elif moves == commanded:
                assert said == "is right"
            else:
                assert told[moves] == commanded
                assert said == "is crossed with another"
        said = sorted(right[0] for _, right in table)
        assert said == ["does not follow", *["is crossed with another"] * 2, *["is right"] * 2]


def test_only_one_of_the_four_harms_by_what_the_question_asks_for() -> None:
    for scenario in scenarios(LAB, DRAWS):
        key = prepared(scenario, "hold-or-off").key
        stops = {option: "harm by stopping" in tell for option, tell in key["tell"].items()}
        may_hold = scenario.names["hold_case"] in ("fan", "light")
        assert [option for option, harms in stops.items() if harms == may_hold] == [key["right"]]


def test_the_bench_shows_what_the_operator_says() -> None:
    for scenario in scenarios(LAB, 12):
        names = scenario.names
        setup, faults = setup_and_faults(scenario)
        bench, case = Bench(setup, frozenset(faults), LIVE), names["bench_case"]
        one, other = names["bench_device"], names["bench_twin"]
        lights = Indicators().take(bench).text
        if case == 2:
            assert f"flashing green: {one}" in lights
            assert moved(bench, one) == []
            assert moved(bench, other) == [other]
            continue
        assert lights == Indicators().take(Bench(setup, situation=LIVE)).text
        assert lights.startswith("network status: green: scanner, ")
        if case == 0:
            assert [moved(bench, name) for name in names["names"]] == [[]] * 5
            assert ScannerReport().take(bench).text.count("idle") == 5
        elif case == 3:
            everybody = names["names"]
            assert [moved(bench, name) for name in everybody] == [[name] for name in everybody]
            told = GoIdle().take(bench)
            assert told.detail == {"run": everybody, "on": [one]}
            assert told.text.endswith(lights)
        else:
            assert (moved(bench, one), moved(bench, other)) == ([other], [one])


def test_set_right_every_output_follows() -> None:
    for scenario in scenarios(LAB, 6):
        setup, faults = setup_and_faults(scenario)
        front = BenchFront(setup, faults=faults, start=LIVE)
        for fault in faults:
            for step in mend(setup, fault):
                assert not front.take(step)["refused"]
        session = front.session
        assert session is not None
        for name in scenario.names["names"]:
            assert moved(session.bench, name) == [name]


def test_of_a_crossed_pair_each_wrong_address_earns_its_half() -> None:
    check: Any = check_for("diagnosis")
    seen = 0
    for scenario in scenarios(LAB, 24):
        made = prepared(scenario, "nothing-moves")
        _, faults = setup_and_faults(scenario)
        assert len(faults) == (2 if scenario.names["bench_case"] == 1 else 1)
        assert made.ask["names"] == 2
        right = check.right_answer(made.ask, made.key)
        assert check.check(made.ask, made.key, right).credit == pytest.approx(1)
        if len(faults) == 2:
            seen += 1
            half = {**right, "more": []}
            verdict = check.check(made.ask, made.key, half)
            named = made.key["shares"]["fault"] + made.key["shares"]["place"]
            assert verdict.credit == pytest.approx(1 - named / 2)
            assert verdict.slip == "one-left"
    assert seen > 2
