"""The kinds' checks: by calculation, for any JSON at all, with every slip explained."""

import math
from pathlib import Path
from types import MethodType
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from labkit.doors import installed
from labkit.doors.installed import check_for
from labkit.doors.verdict import Verdict
from labkit.lab.draw import Scenario, draw
from labkit.lab.reading import read_lab

LAB = read_lab(Path(__file__).parents[2] / "labs" / "plan-the-trunk" / "lab.md")
SCENARIOS = [draw(LAB, f"kinds {number}") for number in range(60)]
JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=20),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=8), inner),
    max_leaves=6,
)
# The full calculation method, worked here a second time: ohm per m and A a cable may carry
# (ODVA, Planning and Installation Manual, PUB00027R1), 0.005 ohm a tap, 4.65 V.
OHM = {"thick": 0.015, "thin": 0.069}
AMPERE = {"thick": 8.0, "thin": 3.0}


def _prepared(scenario: Scenario, name: str) -> tuple[Any, Any, Any]:
    exercise = next(item for item in LAB.exercises if item.id == name)
    prepared = scenario.prepare(exercise)
    return check_for(exercise.kind), prepared.ask, prepared.key


def test_every_kind_has_a_reader_a_check_and_a_page() -> None:
    for kind in installed.kinds():
        assert installed.reader_for(kind).fields
        assert isinstance(installed.check_for(kind).slip_answers, MethodType)
        assert installed.page_for(kind).script


@pytest.mark.parametrize("exercise", [item.id for item in LAB.exercises])
def test_the_right_answer_is_right_and_every_slip_is_told(exercise: str) -> None:
    told: set[str] = set()
    for scenario in SCENARIOS:
        check, ask, key = _prepared(scenario, exercise)
        right = check.check(ask, key, check.right_answer(ask, key))
        assert right.right, (scenario.seed, right)
        for slip, answer in check.slip_answers(ask, key).items():
            verdict = check.check(ask, key, answer)
            assert not verdict.right
            assert verdict.slip == slip
            assert len(verdict.message) > 20
            told.add(slip)
    declared = {slip["id"] for slip in key.get("slips", []) if isinstance(slip, dict)}
    assert declared <= told, "a slip that never fits in sixty scenarios is no use"


@pytest.mark.parametrize("kind", sorted({item.kind for item in LAB.exercises}))
@settings(deadline=None, suppress_health_check=[HealthCheck.too_slow], max_examples=150)
@given(answer=JSON)
def test_any_json_gets_a_verdict(kind: str, answer: Any) -> None:
    exercise = next(item for item in LAB.exercises if item.kind == kind)
    prepared = SCENARIOS[0].prepare(exercise)
    check = check_for(kind)
    verdict = check.check(prepared.ask, prepared.key, answer)
    assert isinstance(verdict, Verdict)
    assert isinstance(check.shown(prepared.ask, answer), str)
    sentence = check.unreadable(prepared.ask, answer)
    assert verdict.readable == (sentence == "")
    assert not (sentence and verdict.credit)


def test_a_quantity_is_right_within_its_tolerance_and_its_rounding() -> None:
    check = check_for("quantity")
    key = {"value": 2.0, "tolerance": 0.02, "decimals": 2, "slips": []}
    for text, right in [("2 V", 1), ("2,02 V", 1), ("1980 mV", 1), ("2.03 V", 0), ("-2 V", 0)]:
        assert check.check({"unit": "V"}, key, text).right == bool(right), text
    assert check.check({"unit": "V"}, key, "20 V").slip == "decimal-point"
    assert check.check({"unit": "V"}, key, "2 mV").slip == "decimal-point"
    assert check.check({"unit": "V"}, key, "-2 V").slip == "sign"
    metres = {"value": 100.0, "tolerance": 0.5, "decimals": 1, "slips": []}
    assert check.check({"unit": "m"}, metres, "328.08 m").slip == "feet-and-metres"


def test_a_choice_tells_nothing_by_its_letters() -> None:
    # The right option's letter is even over many scenarios of an exercise with one usual answer.
    letters = [_prepared(scenario, "highest-rate")[2]["right"] for scenario in SCENARIOS]
    assert set(letters) == {"a", "b", "c", "d"}
    assert max(letters.count(letter) for letter in "abcd") <= 30


@settings(deadline=None, max_examples=80)
@given(st.lists(st.integers(-2, 70) | st.sampled_from(["", "x", "1.5"]), min_size=9, max_size=9))
def test_an_address_plan_is_judged_as_a_second_reading_of_the_rules_judges_it(
    numbers: list[Any],
) -> None:
    check, ask, key = _prepared(SCENARIOS[1], "addresses")
    answer = dict(zip(ask["devices"], map(str, numbers), strict=True))
    barred = {0, 63, *(int(address) for address in key["taken"])}
    sound = [
        str(n).isdigit()
        and 0 <= int(n) <= 63
        and int(n) not in barred
        and [str(m) for m in numbers].count(str(n)) == 1
        for n in numbers
    ]
    verdict = check.check(ask, key, answer)
    if not any(str(n) for n in numbers):
        assert not verdict.readable
        return
    assert verdict.right == all(sound)
    assert verdict.credit == pytest.approx(sum(sound) / 9)


def _fits(network: dict[str, Any], position: float) -> bool:
    """Both sides of a supply by the published sum, written apart from the library."""
    bounds, start = [], 0.0
    for piece in network["segments"]:
        bounds.append((start, start + piece["length"], piece["cable"]))
        start += piece["length"]

    def ohms(a: float, b: float) -> float:
        low, high = min(a, b), max(a, b)
        return math.fsum(
            max(0.0, min(high, end) - max(low, begin)) * OHM[cable] for begin, end, cable in bounds
        )

    for left in (True, False):
        taps = [t for t in network["taps"] if (t["position"] < position) == left]
        taps.sort(key=lambda t: abs(t["position"] - position))
        amps = [t["drop"]["devices"][0]["current"] for t in taps]
        volts = math.fsum(
            (ohms(position, tap["position"]) + 0.005 * count) * current
            for count, (tap, current) in enumerate(zip(taps, amps, strict=True), 1)
        )
        if volts > 4.65 + 1e-9:
            return False
        for begin, end, cable in bounds:
            # The current into a piece where it begins, seen from the supply.
            near = min(end, position) if left else max(begin, position)
            inside = begin < position if left else end > position
            beyond = [
                current
                for tap, current in zip(taps, amps, strict=True)
                if (tap["position"] < near) == left or tap["position"] == near
            ]
            if inside and math.fsum(beyond) > AMPERE[cable] + 1e-9:
                return False
    return True


def test_a_supply_position_is_judged_as_a_second_calculation_judges_it() -> None:
    check = check_for("supply_position")
    verdicts = []
    for scenario in SCENARIOS[:25]:
        _, ask, key = _prepared(scenario, "supply")
        length = sum(piece["length"] for piece in ask["network"]["segments"])
        for step in range(41):
            # A little off the grid, so that no supply stands exactly at a tap or joint.
            position = round(0.137 + step * (length - 0.3) / 40, 3)
            verdict = check.check(ask, key, f"{position} m")
            assert verdict.right == _fits(ask["network"], position), (scenario.seed, position)
            verdicts.append(verdict)
    assert 50 < sum(verdict.right for verdict in verdicts) < 700
    wrong = next(verdict for verdict in verdicts if not verdict.right)
    assert "over the limit" in wrong.message
