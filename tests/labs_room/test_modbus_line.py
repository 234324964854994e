"""The lab of the Modbus line, worked out once more from what a trainee reads.

Lengths, addresses, silences, CRC: MODBUS over Serial Line V1.02; numbers of registers from 1,
addresses from 0: application protocol V1.1b3.
"""

from __future__ import annotations

import re
from typing import Any

import pytest
from course_draws import of, prepared, rows_of, scenarios

from labkit.doors.installed import check_for
from labkit.lab.draw import Scenario

LAB = "modbus-line"
DRAWS = 80
ROW = tuple[list[str], list[Any]]


def numbers_in(scenario: Scenario, name: str) -> list[float]:
    text = of(scenario, name).question.render(scenario.names)
    return [float(found) for found in re.findall(r"(?<![\w.])\d+(?:\.\d+)?(?![\w])", text)]


def test_a_tap_shares_forty_metres_and_none_has_more_than_twenty() -> None:
    for scenario in scenarios(LAB, DRAWS):
        made = prepared(scenario, "derivations")
        shared = {
            device.name: min(20, 40 / len(tap.derivations))
            for tap in scenario.network.taps
            for derivation in tap.derivations
            for device in derivation.devices
        }
        long = set()
        for box in made.ask["boxes"]:
            name, metres = re.fullmatch(r"(.*): (\d+) m", box["text"]).groups()  # type: ignore[union-attr]
            if int(metres) > shared[name]:
                long.add(box["id"])
        assert set(made.key["right"]) == long
        assert 2 <= len(long) <= 4


def test_d1_goes_where_the_sheet_says_that_it_stands_higher() -> None:
    shown = set()
    for scenario in scenarios(LAB, DRAWS):
        for (_, sheet), [right] in rows_of(scenario, "terminals"):
            a = "A (+)" in sheet or "A is D1" in sheet or "above" in sheet
            b = "B (+)" in sheet or "B is D1" in sheet or "below" in sheet
            assert right == ("A" if a else "B" if b else "not told: measure")
            assert not (a and b)
            shown.add(right)
    assert shown == {"A", "B", "not told: measure"}


def test_the_idle_voltage_is_that_of_a_divider() -> None:
    below = 0
    for scenario in scenarios(LAB, DRAWS):
        ends, loads, bias, rail = numbers_in(scenario, "idle")[:4]
        side_by_side = 1 / (2 / ends + loads / 12_000)
        volts = rail * side_by_side / (side_by_side + 2 * bias)
        assert prepared(scenario, "idle").key["value"] == pytest.approx(volts, rel=1e-3)
        below += volts < 0.2
    assert 0 < below < DRAWS / 2


def test_two_readings_tell_the_five_lines_apart() -> None:
    """Ohms tell the terminators, the voltage the bias: by what the plan expects, 8 % at least."""
    told = set()
    for scenario in scenarios(LAB, DRAWS):
        ohms, volts = numbers_in(scenario, "sister-lines")[-2:]
        for (_, read_ohms, read_volts), [right] in rows_of(scenario, "sister-lines"):
            ohm, volt = float(read_ohms.split()[0]), float(read_volts.split()[0])
            if ohm > 1.08 * ohms:
                verdict = "a terminator is missing"
            elif ohm < ohms / 1.08:
                verdict = "a terminator too many"
            elif volt < 0.05:
                verdict = "no bias"
            else:
                verdict = "bias at both ends" if volt > 1.08 * volts else "as it should be"
            assert verdict == right
            told.add(right)
    assert len(told) == 5


def test_a_number_of_the_sheet_is_one_more_than_the_address_in_the_frame() -> None:
    for scenario in scenarios(LAB, DRAWS):
        rows = rows_of(scenario, "numbers")
        assert "40001" in {number for [number], _ in rows}
        for [number], [function, address] in rows:
            assert function == {"0": "01", "3": "04", "4": "03"}[number[0]]
            assert address == int(number[1:]) - 1


def crc(data: list[int]) -> list[int]:
    """By the shift register of V1.02, appendix B; low byte first."""
    register = 0xFFFF
    for byte in data:
        register ^= byte
        for _ in range(8):
            register = register >> 1 ^ (0xA001 if register & 1 else 0)
    return [register & 0xFF, register >> 8]


def test_request_and_refusal_say_what_was_asked_and_why_not() -> None:
    for scenario in scenarios(LAB, DRAWS):
        made = prepared(scenario, "asked-and-refused")
        request, refusal = ([int(byte, 16) for byte in each["data"]] for each in made.ask["frames"])
        for frame in (request, refusal):
            assert crc(frame[:-2]) == frame[-2:]
        right = {name: cell["value"] for name, cell in made.key["cells"].items()}
        assert right["1.address"] == request[0] == refusal[0]
        assert right["1.number"] == 40001 + 256 * request[2] + request[3]
        assert right["1.count"] == 256 * request[4] + request[5]
        assert right["2.function"] == 3 == refusal[1] - 0x80
        assert right["2.error"] == refusal[2]


def test_the_display_tells_the_order_of_the_bytes() -> None:
    orders = set()
    for scenario in scenarios(LAB, DRAWS):
        text = of(scenario, "counter").question.render(scenario.names)
        shown = int(re.findall(r"shows (\d+)", text)[0])
        halves = "".join(re.findall(r"16#([0-9A-F]{4})", text))
        pieces = [halves[at : at + 2] for at in range(0, 8, 2)]
        made = prepared(scenario, "counter")
        order = made.key["slips"][made.key["right"]].upper()
        by_letter = dict(zip(order, pieces, strict=True))
        assert int("".join(by_letter[letter] for letter in "ABCD"), 16) == shown
        orders.add(order)
    assert orders == {"ABCD", "CDAB", "BADC", "DCBA"}


def test_a_silent_device_costs_a_request_and_the_time_out_at_every_try() -> None:
    for scenario in scenarios(LAB, DRAWS):
        names = scenario.names
        byte_ms = 11_000 / names["speed"]
        good = (13 + 2 * names["registers"] + 2 * 3.5) * byte_ms + names["response"]
        silent = (1 + names["retries"]) * (8 * byte_ms + names["timeout"])
        key = prepared(scenario, "round").key
        assert key["value"] == pytest.approx(6 * good + silent)
        assert key["tolerance"] < 6 * 7 * byte_ms


def test_a_trap_of_every_exercise_is_told() -> None:
    told = set()
    for scenario in scenarios(LAB, 30):
        for exercise in scenario.lab.exercises:
            made = scenario.prepare(exercise)
            slips = check_for(exercise.kind).slip_answers(made.ask, made.key)
            told |= {(exercise.id, slip) for slip in slips}
    assert {
        ("terminals", "by-the-letter"),
        ("idle", "receivers-forgotten"),
        ("sister-lines", "volts-alone"),
        ("numbers", "document-number"),
        ("numbers", "whole-number"),
        ("asked-and-refused", "frame-address"),
        ("round", "silent-like-the-others"),
    } <= told
