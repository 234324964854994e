"""The lab of the CANopen line, worked out once more from what a trainee reads.

Lengths: CiA, "CANopen lower layers". Reach: application note AN96116. Timing: note of CiA DS 102
and a device manual's own formula. Pins: CiA 303-1. Levels and range: ISO 11898-2, from memory.
"""

from __future__ import annotations

import re
from typing import Any

import pytest
from course_draws import of, prepared, rows_of, scenarios

from labkit.doors.installed import check_for
from labkit.lab.draw import Scenario

LAB = "canopen-line"
DRAWS = 80
LIMITS = {
    1000: (25, 1.5, 7.5),
    800: (50, 2.5, 12.5),
    500: (100, 5.5, 27.5),
    250: (250, 11, 55),
    125: (500, 22, 110),
    50: (1000, 55, 275),
    20: (2500, 137.5, 687.5),
}
"""m by kbit/s: bus, longest stub, all stubs (CiA, CANopen lower layers)."""


def numbers_in(scenario: Scenario, name: str) -> list[float]:
    text = of(scenario, name).question.render(scenario.names)
    return [float(found) for found in re.findall(r"(?<![\w.-])\d+(?:\.\d+)?(?![\w])", text)]


def metres(text: str) -> float:
    return float(re.findall(r"([\d.]+) m$", text)[0])


def test_the_plan_breaks_what_the_table_forbids() -> None:
    for scenario in scenarios(LAB, DRAWS):
        made, drawn = prepared(scenario, "too-long"), scenario.network
        bus, stub, together = LIMITS[drawn.bit_rate_kbps]
        too_much = set()
        for box in made.ask["boxes"]:
            if box["text"].startswith("all stubs"):
                long = sum(node.stub for node in drawn.nodes) > together
            elif box["text"].startswith("the bus"):
                long = metres(box["text"]) > bus
            else:
                long = metres(box["text"]) > stub
            too_much |= {box["id"]} if long else set()
        assert set(made.key["right"]) == too_much
        assert 0 < len(too_much) < len(made.ask["boxes"])


def test_the_rate_is_the_lowest_that_any_rule_allows() -> None:
    decided = set()
    for scenario in scenarios(LAB, DRAWS):
        drawn = scenario.network
        stubs = [node.stub for node in drawn.nodes]
        lengths = drawn.length, max(stubs), sum(stubs)
        allowed = [
            max(rate for rate, row in LIMITS.items() if length <= row[at])
            for at, length in enumerate(lengths)
        ]
        right = [int(value) for _, [value] in rows_of(scenario, "fastest")]
        assert right == [*allowed, min(allowed)]
        decided |= {at for at, rate in enumerate(allowed) if rate == min(allowed)}
    assert decided == {0, 1, 2}


RESISTANCE = {0.25: 90, 0.5: 50, 0.8: 33, 1.3: 20}
"""mΩ/m of a conductor by mm² (a public CAN interface manual)."""


def carries(milliohms: float, nodes: int) -> float:
    """AN96116, equations 11 and 16; 1.1 V is 1.0 V and 20 % of 0.5 V."""
    load = 1 / (1 / 118 + (nodes - 1) / 20_000)
    return load / (2 * milliohms / 1000) * (1.5 / 1.1 - 1)


def test_a_cable_carries_as_far_as_the_application_note_says() -> None:
    for scenario in scenarios(LAB, DRAWS):
        section, nodes = numbers_in(scenario, "reach")
        value = prepared(scenario, "reach").key["value"]
        assert value == pytest.approx(carries(RESISTANCE[section], int(nodes)))


def test_the_model_is_that_of_the_printed_table() -> None:
    """A published table of 16 values; the model lies within 2.2 % of it."""
    for milliohms, nodes, printed in ((90, 16, 220), (50, 64, 310), (33, 32, 550), (20, 100, 670)):
        assert carries(milliohms, nodes) == pytest.approx(printed, rel=0.022)


def test_no_thinner_cable_carries_the_line() -> None:
    taken = set()
    for scenario in scenarios(LAB, DRAWS):
        nodes, length = numbers_in(scenario, "thinnest")
        made = prepared(scenario, "thinnest")
        texts = {option["id"]: option["text"] for option in made.ask["options"]}
        enough = [mm for mm, ohm in RESISTANCE.items() if carries(ohm, int(nodes)) >= length]
        assert texts[made.key["right"]] == f"{min(enough)} mm²"
        taken.add(min(enough))
    assert taken == {*RESISTANCE}


NOTE = {1000: (210, 750), 800: (210, 1000), 500: (300, 1750)}
"""ns by kbit/s: delay of a node, time to the sample point (note of CiA DS 102)."""


def test_the_two_timing_rules_agree_where_they_do_and_disagree_where_they_do() -> None:
    seen = set()
    for scenario in scenarios(LAB, DRAWS):
        length, rate = numbers_in(scenario, "timing")[:2]
        delay, to_sample = NOTE[int(rate)]
        [note, by_manual] = [right for _, right in rows_of(scenario, "timing")]
        there_and_back = 2 * (5 * length + delay)
        longest = (0.85e6 / (2 * rate) - (26 + 80 + 150 + 2 * 40)) / 5
        holds = [there_and_back <= to_sample, length <= longest]
        assert note[0] == pytest.approx(there_and_back)
        assert by_manual[0] == pytest.approx(longest)
        assert [note[1] == "yes", by_manual[1] == "yes"] == holds
        seen.add(tuple(holds))
    assert seen == {(True, True), (True, False), (False, False)}


def test_the_ohmmeter_sees_the_far_end_through_both_conductors() -> None:
    for scenario in scenarios(LAB, DRAWS):
        length, milliohms, ends = numbers_in(scenario, "ohmmeter")
        far = ends + 2 * milliohms * length / 1000
        assert prepared(scenario, "ohmmeter").key["value"] == pytest.approx(
            1 / (1 / ends + 1 / far)
        )


def test_two_readings_tell_the_five_lines_apart() -> None:
    """By a nodal calculation's findings: by 120 Ω, by half of it, by a third, and by the loop."""
    told = set()
    for scenario in scenarios(LAB, DRAWS):
        _, ohm, loop = numbers_in(scenario, "sister-lines")[:3]
        for given, [right] in rows_of(scenario, "sister-lines"):
            left, other = (float(text.split()[0]) for text in given[1:])
            low, high = min(left, other), max(left, other)
            if low > 0.99 * ohm:
                missing = high > ohm + 0.9 * loop
                verdict = "a terminator is missing" if missing else "a conductor is broken"
            elif low > ohm / 2:
                verdict = "as it should be"
            elif low > ohm / 3:
                verdict = "a terminator too many"
            else:
                verdict = "CAN_H and CAN_L touch"
            assert verdict == right
            told.add(right)
    assert len(told) == 5


def test_an_end_is_right_with_the_cables_impedance_at_both_ends_and_none_between() -> None:
    for scenario in scenarios(LAB, DRAWS):
        made = prepared(scenario, "endings")
        right = {
            box["id"]
            for box in made.ask["boxes"]
            if not re.match(r"one at each end of the bus|one inside the controller", box["text"])
        }
        assert set(made.key["right"]) == right


def test_pins_are_those_of_the_nine_pin_plug_seen_from_either_side() -> None:
    """CAN_H 7, CAN_L 2, CAN_GND 3, shield 5; in a mirror 6 - n for five, 15 - n for four."""
    pins = ["7", "2", "3", "5"]
    mirrored = [str((15 if int(pin) > 5 else 6) - int(pin)) for pin in pins]
    verdicts = {
        tuple(pins): "as it should be",
        ("2", "7", "3", "5"): "2 and 7 crossed",
        tuple(mirrored): "counted from the wrong side",
        ("7", "2", "none", "5"): "CAN_GND left out",
        ("7", "2", "3", "none"): "shield left out",
    }
    told = set()
    for scenario in scenarios(LAB, DRAWS):
        for [_, given], [right] in rows_of(scenario, "plugs"):
            assert right == verdicts[tuple(given.split(", "))]
            told.add(right)
    assert len(told) == 5


def test_a_ground_may_stand_so_far_away_that_both_conductors_stay_in_the_range() -> None:
    for scenario in scenarios(LAB, DRAWS):
        rows = rows_of(scenario, "grounds")
        for [_, ground], [right] in rows:
            volts = float(ground.split()[0]) * (1 if "above" in ground else -1)
            seen = [level - volts for level in (3.5, 1.5)]
            assert right == ("yes" if all(-2 <= level <= 7 for level in seen) else "no")
        assert {right for _, [right] in rows} == {"yes", "no"}


def test_what_is_set_anew_has_no_node_id_of_its_own_or_another_rate() -> None:
    for scenario in scenarios(LAB, DRAWS):
        rate, *taken = numbers_in(scenario, "new-nodes")
        made = prepared(scenario, "new-nodes")
        wrong = set()
        for box in made.ask["boxes"]:
            node, speed = map(int, re.findall(r"\d+", box["text"]))
            if not 1 <= node <= 127 or node in taken or speed != rate:
                wrong.add(box["id"])
        assert set(made.key["right"]) == wrong
        assert wrong


def test_a_node_id_is_from_1_to_127_free_and_ones_own() -> None:
    scenario = scenarios(LAB, 1)[0]
    made, check = prepared(scenario, "plan-ids"), check_for("address_plan")
    right: dict[str, Any] = check.right_answer(made.ask, made.key)
    assert check.check(made.ask, made.key, right).right
    first = next(iter(right))
    for wrong in ("0", "128", "127", str(scenario.names["in_use"][0])):
        assert not check.check(made.ask, made.key, {**right, first: wrong}).right


def test_a_trap_of_every_exercise_is_told() -> None:
    told = set()
    for scenario in scenarios(LAB, DRAWS):
        for exercise in scenario.lab.exercises:
            made = scenario.prepare(exercise)
            slips = check_for(exercise.kind).slip_answers(made.ask, made.key)
            told |= {(exercise.id, slip) for slip in slips}
    assert {
        ("fastest", "row-too-fast"),
        ("fastest", "stubs-not-added"),
        ("reach", "no-margin"),
        ("timing", "node-once"),
        ("ohmmeter", "one-conductor"),
        ("sister-lines", "broken-for-missing"),
        ("plugs", "crossed-for-mirrored"),
        ("grounds", "range-for-shift"),
        ("before-power", "not-proved"),
    } <= told
