"""The lab of the first power-up: it tells what the bench does, in an order that harms nobody.

11 to 25 V at a node and the resistance of thick cable (8.9 ohm/km for each power conductor): ODVA
PUB00027R1. The power conductors of thin drops, 57.4 ohm/km: the same. Switch positions: common
practice, no source. Message numbers of the identifiers: IEC 62026-3.
"""

from __future__ import annotations

import re

import pytest
from course_draws import scenarios

from labkit.bench.bench import Bench
from labkit.bench.can.frame_log import heard
from labkit.bench.situation import Situation
from labkit.doors.installed import check_for
from labkit.families.devicenet.bench.setup import Setup
from labkit.families.devicenet.bench_functions import meter_volts
from labkit.families.devicenet.bench_reading import fault_of
from labkit.fieldbus.devicenet.indicators import Indicator
from labkit.lab.draw import Scenario
from labkit.language.expression import Prose

DRAWS = 30
THICK, THIN = 0.0089, 0.0574
"""Ohm a metre of one power conductor."""


def page(scenario: Scenario) -> str:
    """All prose between the exercises."""
    return "\n".join(
        part.render(scenario.names) for part in scenario.lab.body if isinstance(part, Prose)
    )


def bench(scenario: Scenario, faults: list[dict[str, object]]) -> Bench:
    exercise = next(each for each in scenario.lab.exercises if each.kind == "diagnosis")
    setup = Setup.from_json(scenario.prepare(exercise).ask["setup"])
    found = frozenset(fault_of(each, setup) for each in faults)
    return Bench(setup, found, Situation(power=True))


def test_the_supply_is_proved_alone_before_the_line_gets_power() -> None:
    for scenario in scenarios("bring-up", DRAWS):
        asked = next(each for each in scenario.lab.exercises if each.id == "order")
        prepared = scenario.prepare(asked)
        text = {step["id"]: step["text"] for step in prepared.ask["steps"]}
        steps = [text[each] for each in prepared.key["order"]]
        alone = next(n for n, text in enumerate(steps) if "supply on alone" in text)
        line = next(n for n, text in enumerate(steps) if "24 V on" in text)
        dead = next(n for n, text in enumerate(steps) if "CAN_H to CAN_L" in text)
        volts = next(n for n, text in enumerate(steps) if "both ends" in text)
        assert dead < alone < line < volts


def test_a_node_is_waited_for_just_until_its_check_is_over() -> None:
    # IEC 62026-3 (from memory): two checks one second apart, and one second more for an answer.
    cases = set()
    for scenario in scenarios("bring-up", DRAWS):
        asked = next(each for each in scenario.lab.exercises if each.id == "check-times")
        said = " ".join(asked.question.render(scenario.names).split())
        [power] = re.findall(r"24 V at ([\d.]+) s", said)
        [now] = re.findall(r"It is ([\d.]+) s now", said)
        checks = [float(at) for at in re.findall(r"frames? at ([\d.]+) s", said)]
        if not checks:
            assert float(now) > float(power) + 2
            right = "power"
        elif "an answer to it" in said:
            right = "has its address"
        else:
            right = "Wait" if float(now) < checks[0] + 2 else "on line"
            assert checks[0] <= float(power) + 2
        cases.add(right)
        prepared, check = scenario.prepare(asked), check_for("choice")
        for option in prepared.ask["options"]:
            verdict = check.check(prepared.ask, prepared.key, option["id"])
            assert verdict.right == (right in option["text"]), (scenario.seed, option)
    assert len(cases) == 4


def test_what_the_plan_expects_is_the_cables_loss() -> None:
    for scenario in scenarios("bring-up", DRAWS):
        names = scenario.names
        supply_at, places, amperes = names["supply_at"], names["positions"], names["currents"]
        for name, at, ampere, drop in zip(
            names["everyone"], places, amperes, names["drops"], strict=True
        ):
            lost = ampere * drop * THIN
            for other, current in zip(places, amperes, strict=True):
                if (other - supply_at) * (at - supply_at) > 0:
                    shared = min(abs(at - supply_at), abs(other - supply_at))
                    lost += current * shared * THICK
            shown = meter_volts(names["network"], [], f"{name}/5", f"{name}/1")
            assert float(shown.split()[0]) == pytest.approx(24 - 2 * lost, abs=0.15)
            assert re.search(rf"^\| {name} \|.*\| {shown} \|$", page(scenario), re.MULTILINE)


def test_one_device_stays_red_and_the_missing_address_is_its_own() -> None:
    for scenario in scenarios("bring-up", 12):
        names = scenario.names
        wrong = names["bench_device"]
        standing = bench(scenario, names["bench_faults"])
        looks = {name: standing.trace.network_status(name) for name in standing.layout.devices}
        red = [name for name, look in looks.items() if look is Indicator.RED]
        assert len(red) == 1
        twin = names["names"][names["bench_twin"]]
        assert red[0] in ((wrong, twin) if names["bench_case"] == 0 else (wrong,))
        assert all(look is Indicator.GREEN for name, look in looks.items() if name != red[0])
        silent = [a for a in standing.trace.entries if standing.trace.report(a).text != "OK"]
        assert silent == [names["nodes"][names["bench_place"]]]


def test_the_four_frames_come_in_this_order_and_others_lie_between() -> None:
    scenario = scenarios("bring-up", 1)[0]
    node = scenario.names["node"]
    standing = bench(scenario, [])
    log = [each.frame.identifier for each in heard(standing.trace, "scanner") if each.frame]
    asks, answers, polls = (0x400 + 8 * node + message for message in (6, 3, 5))
    first = [log.index(asks)]
    for identifier in (answers, polls, 15 << 6 | node):
        first.append(log.index(identifier, first[-1]))
    assert first[-1] - first[0] > 3
    question = next(each for each in scenario.lab.exercises if each.id == "conversation").question
    assert "lie between" in " ".join(question.render(scenario.names).split())


def test_the_text_says_what_each_switch_position_is_for() -> None:
    text = " ".join(page(scenarios("bring-up", 1)[0]).split())
    assert "positions 1 to 6 give the address, worth 32, 16, 8, 4, 2 and 1" in text
    assert "positions 7 and 8 the rate: 00 is 125, 01 is 250, 10 is 500 kbit/s" in text


def test_the_identifier_of_the_newcomers_check_is_right_in_hexadecimal() -> None:
    for scenario in scenarios("bring-up", DRAWS):
        asked = next(each for each in scenario.lab.exercises if each.id == "write-check")
        working = asked.working.render(scenario.names)
        decimal, text = re.findall(r"= (\d+), in hexadecimal \*\*(\w+)\*\*", working)[0]
        assert int(text, 16) == int(decimal) == 0x407 + 8 * scenario.names["spare_node"]
