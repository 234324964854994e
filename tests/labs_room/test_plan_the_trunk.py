"""The lab of planning a trunk against the published rules, worked out a second time.

Limits, look-up table, full calculation: ODVA, Planning and Installation Manual, DeviceNet Cable
System, PUB00027R1 (IEC 62026-3).
"""

from __future__ import annotations

import math
import re
from collections import Counter
from functools import cache
from itertools import combinations, pairwise
from typing import Any

import pytest
from course_draws import lab, scenarios

from labkit.doors.installed import check_for
from labkit.doors.verdict import Verdict
from labkit.fieldbus.devicenet.network import Network, Tap
from labkit.lab.definition import Exercise
from labkit.lab.draw import Scenario

NAME = "plan-the-trunk"
DRAWS = 150
# kbit/s: thick trunk, weight of a metre of thin cable, all drops together.
PUBLISHED = {500: (100.0, 1.0, 39.0), 250: (250.0, 2.5, 78.0), 125: (500.0, 5.0, 156.0)}
TABLE = ((25, 8.00), (50, 5.42), (100, 2.93), (150, 2.01), (200, 1.53), (250, 1.23))


@cache
def drawn() -> list[Scenario]:
    return scenarios(NAME, DRAWS)


def exercise_called(name: str) -> Exercise:
    return next(each for each in lab(NAME).exercises if each.id == name)


def judged(scenario: Scenario, name: str, answer: str) -> Verdict:
    exercise = exercise_called(name)
    prepared = scenario.prepare(exercise)
    if exercise.kind == "choice":  # its options are lettered in drawn order
        answer = next(key for key, option in prepared.key["slips"].items() if option == answer)
    return check_for(exercise.kind).check(prepared.ask, prepared.key, answer)


def working(scenario: Scenario, name: str) -> str:
    return " ".join(exercise_called(name).working.render(scenario.names).split())


def weighted(network: Network, weight: float, drop_weight: float | None = None) -> float:
    """Between every pair of ends; a drop weighs as its trunk, or as `drop_weight` says."""
    weights = {"thick": 1.0, "thin": weight}

    def place(at: float) -> float:
        return math.fsum(length * weights[piece.cable] for piece, length in network.pieces(0, at))

    def reach(tap: Tap) -> float:
        cable = network.segments_at(tap.position)[0].cable
        return tap.drop.length * (weights[cable] if drop_weight is None else drop_weight)

    ends = [(0.0, 0.0), (place(network.trunk_length), 0.0)]
    ends += [(place(tap.position), reach(tap)) for tap in network.taps]
    return max(abs(a - b) + up + down for (a, up), (b, down) in combinations(ends, 2))


def judged_rate(network: Network, rate: int, *, drops_are_thin: bool = False) -> bool:
    limit, weight, drops = PUBLISHED[rate]
    length = weighted(network, weight, weight if drops_are_thin else None)
    return length <= limit and math.fsum(tap.drop.length for tap in network.taps) <= drops


def highest(network: Network, *, drops_are_thin: bool = False) -> str:
    fit = (rate for rate in PUBLISHED if judged_rate(network, rate, drops_are_thin=drops_are_thin))
    return next((f"r{rate}" for rate in fit), "none")


def test_the_highest_rate_is_tested_at_all_three_and_none_is_right_where_it_is() -> None:
    found: Counter[str] = Counter()
    for scenario in drawn():
        network = scenario.names["network"]
        right = highest(network)
        assert judged(scenario, "highest-rate", right).credit == 1
        # The published rule does not say how an end drop weighs: nothing may hang on it.
        assert highest(network, drops_are_thin=True) == right
        found[right] += 1
        fit = {rate for rate in PUBLISHED if judged_rate(network, rate)}
        for option in {"r500", "r250", "r125", "none"} - {right}:
            verdict = judged(scenario, "highest-rate", option)
            assert verdict.credit == 0
            said = re.findall(r"(\d+) kbit/s (keeps|breaks) (?:the rules|them)", verdict.message)
            assert said
            assert all((int(rate) in fit) == (word == "keeps") for rate, word in said)
        words = re.findall(
            r": (keeps|breaks) (?:the rules|them)", working(scenario, "highest-rate")
        )
        fits = [rate for rate, word in zip(PUBLISHED, words, strict=True) if word == "keeps"]
        assert right == (f"r{fits[0]}" if fits else "none")
    assert len(found) == 4
    assert min(found.values()) >= DRAWS / 20
    assert max(found.values()) < DRAWS / 2


def test_the_weighted_length_lies_between_the_two_farthest_points() -> None:
    with_drop = 0
    for scenario in drawn():
        names = scenario.names
        length = weighted(names["network"], PUBLISHED[names["rate"]][1])
        assert judged(scenario, "weighted-length", f"{length:.2f} m").credit == 1
        if names["first_drop"] > names["thick_end"]:
            with_drop += 1
            trunk = names["thick_length"] + PUBLISHED[names["rate"]][1] * names["thin_length"]
            assert judged(scenario, "weighted-length", f"{trunk:.2f} m").slip == "trunk-only"
        limit, _, drops = PUBLISHED[names["rate"]]
        verdicts = (length <= limit, names["all_drops"] <= drops)
        right = {
            (True, True): "both-fit",
            (False, True): "trunk-too-long",
            (True, False): "drops-too-long",
            (False, False): "both-too-long",
        }[verdicts]
        assert judged(scenario, "rate-verdict", right).credit == 1
        said = working(scenario, "rate-verdict")
        assert ("the trunk keeps its limit" in said, "they keep theirs" in said) == verdicts
    assert with_drop > DRAWS / 3


def test_the_next_longer_length_counts_and_the_straight_line_is_explained() -> None:
    told: Counter[bool] = Counter()
    for scenario in drawn():
        length = scenario.names["thick_length"]
        (near, more), (far, less) = next(
            pair for pair in pairwise(TABLE) if pair[0][0] < length < pair[1][0]
        )
        assert judged(scenario, "look-up", f"{less} A").credit == 1
        line = more + (less - more) * (length - near) / (far - near)
        verdict = judged(scenario, "look-up", f"{line:.3f} A")
        assert verdict.slip == "straight-line", verdict
        # Above 50 m the line lies above the curve: the resistance grows evenly from row to row.
        told[length > 50] += 1
        said = re.search(r"has (\d\.\d{3}) A, .* only (\d\.\d{3}) A", verdict.message)
        assert bool(said) == (length > 50)
        if said:
            ohms = 4.65 / more + (4.65 / less - 4.65 / more) * (length - near) / (far - near)
            assert float(said[1]) == pytest.approx(line, abs=0.00051)
            assert float(said[2]) == pytest.approx(4.65 / ohms, abs=0.00051)
            assert float(said[2]) < float(said[1])
    assert min(told.values()) > DRAWS / 10


def taps_of_the_section(names: Any) -> list[tuple[float, float]]:
    return list(zip(names["from_thick"][:5], names["currents"][:5], strict=True))


def test_the_loss_its_verdict_and_the_voltage() -> None:
    found: Counter[str] = Counter()
    for scenario in drawn():
        names = scenario.names
        taps = taps_of_the_section(names)
        terms = [(at * 0.015 + n * 0.005) * amp for n, (at, amp) in enumerate(taps, 1)]
        loss = math.fsum(terms)
        assert judged(scenario, "section-loss", f"{loss:.2f} V").credit == 1
        by_thousandths = math.fsum(round(term, 3) for term in terms)
        assert judged(scenario, "section-loss", f"{by_thousandths:.2f} V").credit == 1
        allowed = next(amperes for row, amperes in TABLE if row >= names["thick_length"])
        by_table = math.fsum(amp for _, amp in taps) <= allowed
        right = (
            ("both-accept" if loss <= 4.65 else "full-refuses")
            if by_table
            else ("full-accepts" if loss <= 4.65 else "both-refuse")
        )
        assert judged(scenario, "section-verdict", right).credit == 1
        found[right] += 1
        said = re.findall(r": (accepted|refused)\.", working(scenario, "section-verdict"))
        assert said == ["accepted" if ok else "refused" for ok in (by_table, loss <= 4.65)]
        # The working adds up as it is printed, and both ways of rounding are right.
        printed = working(scenario, "last-voltage")
        sum_ = re.search(r"24 V − 2 · (\d\.\d\d) V = \*\*(\d\d\.\d\d) V\*\*", printed)
        assert sum_, printed
        assert 24 - 2 * float(sum_[1]) == pytest.approx(float(sum_[2]))
        assert judged(scenario, "last-voltage", f"{24 - 2 * loss:.2f} V").credit == 1
        assert 24 - 2 * loss > 11
        assert ("has lost more than" in printed) == (loss > 4.65)
    assert set(found) == {"both-accept", "full-accepts", "both-refuse"}
    assert min(found.values()) > DRAWS / 8
    assert max(found.values()) < 0.6 * DRAWS


def test_slips_tell_the_mistake_that_was_made() -> None:
    named: Counter[bool] = Counter()
    for scenario in drawn():
        names = scenario.names
        taps = taps_of_the_section(names)
        for slip, contacts in (("one-contact-each", (1,) * 5), ("no-contacts", (0,) * 5)):
            loss = math.fsum(
                (at * 0.015 + n * 0.005) * amp for n, (at, amp) in zip(contacts, taps, strict=True)
            )
            verdict = judged(scenario, "section-loss", f"{loss:.2f} V")
            assert verdict.credit == 0
            assert verdict.message.startswith("Contacts are missing in your sum. N_t counts")
            named[verdict.slip == slip] += 1
        rows = [device.drop.length for device in names["network"].taps]
        for left_out in (rows[0], rows[-1]):
            verdict = judged(scenario, "all-drops", f"{math.fsum(rows) - left_out:.2f} m")
            assert verdict.message.startswith(f"A drop of {left_out:g} m is missing")
    assert named[True] > 0.8 * named.total()


def lost(network: Network, supply: float, taps: list[Tap]) -> tuple[float, bool]:
    """Volts lost to the taps of one side, nearest first, and whether its currents are allowed."""
    ohms = {"thick": 0.015, "thin": 0.069}
    volts, allowed = 0.0, True
    for count, tap in enumerate(sorted(taps, key=lambda tap: abs(tap.position - supply)), 1):
        low, high = sorted((supply, tap.position))
        pieces = network.pieces(low, high)
        ohm = math.fsum(length * ohms[piece.cable] for piece, length in pieces)
        volts += (ohm + count * 0.005) * tap.drop.devices[0].current
    bounds = [piece.length for piece in network.segments]
    for piece, start in zip(network.segments, (0.0, bounds[0]), strict=True):
        through = [
            tap.drop.devices[0].current
            for tap in taps
            if min(supply, tap.position) < start + piece.length
            and max(supply, tap.position) > start
        ]
        allowed &= math.fsum(through) <= {"thick": 8.0, "thin": 3.0}[piece.cable]
    return volts, allowed


def test_a_tap_right_at_the_supply_counts_on_the_side_where_the_rules_hold() -> None:
    counted: Counter[str] = Counter()
    for scenario in drawn():
        network = scenario.names["network"]
        for tap in network.taps:
            here = tap.position
            outer_left = [other for other in network.taps if other.position < here]
            outer_right = [other for other in network.taps if other.position > here]
            ways = {
                "left": (lost(network, here, [*outer_left, tap]), lost(network, here, outer_right)),
                "right": (
                    lost(network, here, outer_left),
                    lost(network, here, [tap, *outer_right]),
                ),
            }
            holding = {
                side
                for side, sums in ways.items()
                if all(volts <= 4.65 and allowed for volts, allowed in sums)
            }
            verdict = judged(scenario, "supply", f"{here:.2f} m")
            assert (verdict.credit == 1) == bool(holding), (scenario.seed, here)
            if holding:
                said = re.search(
                    r"Tap \d, right at the supply, is counted to the (\w+)", verdict.message
                )
                assert said
                assert said[1] in holding
                counted[said[1]] += 1
    assert set(counted) == {"left", "right"}
