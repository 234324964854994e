"""Answers of the trunk's and the power lab as people type them, and what is said of them.

Full calculation: ODVA, Planning and Installation Manual, DeviceNet Cable System, PUB00027R1.
"""

from __future__ import annotations

import math
from typing import Any

from course_draws import lab, scenarios

from labkit.doors.installed import check_for
from labkit.doors.verdict import Verdict
from labkit.lab.draw import Scenario, draw

DRAWS = 60


def judged(scenario: Scenario, name: str, answer: Any) -> Verdict:
    [exercise] = [each for each in scenario.lab.exercises if each.id == name]
    prepared = scenario.prepare(exercise)
    return check_for(exercise.kind).check(prepared.ask, prepared.key, answer)


def lost(at: list[float], amperes: list[float], contacts: tuple[int, ...]) -> list[float]:
    """Volts of each row, nearest tap first, with so many contacts counted."""
    return [
        (metres * 0.015 + taps * 0.005) * ampere
        for metres, ampere, taps in zip(at, amperes, contacts, strict=True)
    ]


def test_a_section_whose_contacts_are_counted_wrongly_is_never_right() -> None:
    for scenario in scenarios("network-power", DRAWS):
        at, amperes = scenario.names["at"][:4], scenario.names["extra"][:4]
        rows = lost(at, amperes, (1, 2, 3, 4))
        assert judged(scenario, "left-section", f"{math.fsum(rows):.3f} V").right
        assert judged(scenario, "left-section", f"{math.fsum(rows):.4f} V").right
        rounded = math.fsum(round(volts, 3) for volts in rows)
        assert judged(scenario, "left-section", f"{rounded:.3f} V").right
        for slip, contacts in (("one-contact-each", (1,) * 4), ("no-contacts", (0,) * 4)):
            volts = math.fsum(lost(at, amperes, contacts))
            verdict = judged(scenario, "left-section", f"{volts:.3f} V")
            assert verdict.slip == slip, (scenario.seed, volts, verdict)
        short = judged(scenario, "left-section", f"{math.fsum(rows):.2f} V")
        assert short.right or "give 3 decimals" in short.message, (scenario.seed, short)


def test_the_hint_on_next_years_supply_points_the_right_way() -> None:
    said = 0
    for scenario in scenarios("network-power", DRAWS):
        names = scenario.names
        [exercise] = [each for each in scenario.lab.exercises if each.id == "supply"]
        hint = exercise.hints[0].text.render(names)
        left, right = math.fsum(names["extra"][:4]), math.fsum(names["extra"][4:])
        if "nearer to the half that draws more" in hint:
            said += 1
            assert (left > right) == (names["good_at"] < names["trunk_length"] / 2), scenario.seed
    assert said > DRAWS / 2


def test_the_straight_line_is_judged_by_the_table_not_by_volts_that_nobody_can_check() -> None:
    """By the full calculation one tap at the far end may well bear the line's current."""
    for scenario in scenarios("plan-the-trunk", DRAWS):
        names = scenario.names
        verdict = judged(scenario, "look-up", f"{names['straight']:.3f} A")
        assert verdict.credit == 0
        assert "would lose" not in verdict.message


def test_the_voltage_at_the_last_tap_may_be_rounded_to_a_tenth_without_rounding_the_loss() -> None:
    drawn = [*scenarios("plan-the-trunk", DRAWS), draw(lab("plan-the-trunk"), "hand-212")]
    for scenario in drawn:
        names = scenario.names
        volts = lost(names["from_thick"][:5], names["currents"][:5], (1, 2, 3, 4, 5))
        left = 24 - 2 * math.fsum(volts)
        for typed in (math.ceil(left * 10 - 0.5), math.floor(left * 10 + 0.5)):
            assert judged(scenario, "last-voltage", f"{typed / 10:.1f} V").right, scenario.seed


def test_a_supply_is_measured_before_devices_hang_on_it() -> None:
    [exercise] = [each for each in lab("network-power").exercises if each.id == "bench-sign-off"]
    ask = scenarios("network-power", 1)[0].prepare(exercise).ask
    texts = " ".join(item["text"] for item in ask["items"])
    order = [
        texts.index(word) for word in ("unplugged", "right way round", "plug in", "last device")
    ]
    assert order == sorted(order)
