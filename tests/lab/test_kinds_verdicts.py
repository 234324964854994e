"""Exercise kinds: any answer gets a verdict; right ones are right, slips are told apart."""

import math
from collections import Counter
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from labkit.doors.installed import check_for
from labkit.doors.verdict import Verdict
from labkit.families.devicenet.supply import good_position
from labkit.fieldbus.devicenet.network import Device, Drop, Network, Segment, Tap
from labkit.lab.draw import Scenario, draw
from labkit.lab.reading import read_lab, read_lab_text

PLAN_THE_TRUNK = Path(__file__).parents[2] / "labs" / "plan-the-trunk" / "lab.md"
DRAWS = 200

LENGTH_ASK = {"unit": "m"}
LENGTH_KEY: dict[str, Any] = {
    "value": 120.0,
    "tolerance": 0.05,
    "decimals": 1,
    "slips": [
        {"id": "trunk-only", "value": 118.0, "tell": "The drop counts."},
        {"id": "same", "value": 120.0, "tell": "Nobody reads this."},
        {"id": "trunk-again", "value": 118.04, "tell": "The nearest one fits."},
    ],
}
CHOICE_ASK = {"options": [{"id": "a", "text": "125"}, {"id": "b", "text": "250"}]}
CHOICE_KEY = {
    "right": "b",
    "tell": {"a": "Look again.", "b": "Nobody reads this."},
    "slips": {"a": "slow", "b": "fast"},
}
PLAN_ASK: dict[str, Any] = {"devices": ["scale", "valve", "gate"], "limit": 63}
PLAN_KEY = {"taken": {"0": "the scanner", "7": "the panel"}, "free": [63]}
NETWORK = Network(
    125,
    (Segment("thick", 150.0), Segment("thin", 40.0)),
    tuple(
        Tap(at, Drop(1.0, (Device(f"device at {at:g}", current),)))
        for at, current in ((5.0, 0.5), (60.0, 1.0), (140.0, 0.75), (165.0, 0.4), (185.0, 0.5))
    ),
)
SUPPLY_ASK = {"network": NETWORK.to_json()}

KINDS: dict[str, tuple[dict[str, Any], dict[str, Any]]] = {
    "quantity": (LENGTH_ASK, LENGTH_KEY),
    "choice": (CHOICE_ASK, CHOICE_KEY),
    "address_plan": (PLAN_ASK, PLAN_KEY),
    "supply_position": (SUPPLY_ASK, {}),
}

texts = st.one_of(
    st.text(max_size=12),
    st.sampled_from(["120 m", "b", "5", "٣", "\ud800", "63", "85 m", "0 m", "190 m", "1e99 m"]),
    st.floats(-10, 200).map(lambda value: f"{value:.3f} m"),
)
scalars = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(),
    st.integers(10**5000, 10**5001),
    st.floats(),
    texts,
)
names = st.one_of(st.sampled_from(["scale", "valve", "gate"]), st.text(max_size=5))
json_values = st.recursive(
    scalars,
    lambda inner: st.one_of(st.lists(inner, max_size=3), st.dictionaries(names, inner, max_size=4)),
    max_leaves=8,
)


@settings(deadline=None)
@given(kind=st.sampled_from(sorted(KINDS)), answer=json_values)
def test_any_json_whatsoever_gets_a_verdict(kind: str, answer: Any) -> None:
    ask, key = KINDS[kind]
    check = check_for(kind)
    verdict = check.check(ask, key, answer)
    assert isinstance(verdict, Verdict)
    assert 0 <= verdict.credit <= 1
    assert verdict.message
    assert verdict.right == (verdict.credit == 1)
    assert verdict.readable == (check.unreadable(ask, answer) == "")
    assert verdict.readable or (verdict.credit == 0 and not verdict.slip)
    assert isinstance(check.shown(ask, answer), str)


@pytest.mark.parametrize("kind", sorted(KINDS))
def test_the_right_answer_is_right_and_each_slip_is_recognised(kind: str) -> None:
    ask, key = KINDS[kind]
    check = check_for(kind)
    assert check.check(ask, key, check.right_answer(ask, key)).right
    slips = check.slip_answers(ask, key)
    assert slips
    for slip, answer in slips.items():
        verdict = check.check(ask, key, answer)
        assert (verdict.slip, verdict.right) == (slip, False)
        assert check.shown(ask, answer)


@pytest.mark.parametrize(
    ("answer", "credit", "slip", "words"),
    [
        ("120 m", 1, "", "Right: 120.0 m."),
        ("120,05 m", 1, "", "Right"),
        ("119.95 m", 1, "", "Right"),
        ("12000 cm", 1, "", "Right"),
        ("120.06 m", 0, "", "too large"),
        ("118 m", 0, "trunk-only", "The drop counts."),
        ("118.02 m", 0, "trunk-only", "The drop counts."),
        ("118.04 m", 0, "trunk-again", "The nearest one fits."),
        ("118.08 m", 0, "trunk-again", "The nearest one fits."),
        ("1200 m", 0, "decimal-point", "decimal point"),
        ("0.12 m", 0, "decimal-point", "decimal point"),
        ("393.7 m", 0, "feet-and-metres", "feet and metres"),
        ("36.58 m", 0, "feet-and-metres", "feet and metres"),
        ("-50 m", 0, "sign", "sign"),
        ("50 m", 0, "", "too small"),
    ],
)
def test_a_number_is_judged_and_explained(
    answer: str, credit: float, slip: str, words: str
) -> None:
    verdict = check_for("quantity").check(LENGTH_ASK, LENGTH_KEY, answer)
    assert (verdict.credit, verdict.slip, verdict.readable) == (credit, slip, True)
    assert words in verdict.message


@pytest.mark.parametrize("answer", ["", "120", "120 V", "x", None, 120, ["120 m"], {"a": 1}, True])
def test_what_is_no_length_is_unreadable_and_tells_nothing_of_its_worth(answer: Any) -> None:
    verdict = check_for("quantity").check(LENGTH_ASK, LENGTH_KEY, answer)
    assert not verdict.readable
    assert "120.0" not in verdict.message


@pytest.mark.parametrize("value", [0.25, 0.2549, 1 / 3, 0.004, 123.456, 0.0, -0.1, 1e-7, 1e9 / 7])
@pytest.mark.parametrize("tolerance", ["1 %", "0", "0.0001", "0.5 %"])
def test_a_right_answer_is_right_however_it_must_be_rounded(value: float, tolerance: str) -> None:
    exercise = f"kind: quantity\ntitle: T\nquestion: Q\nanswer: '{value!r}'\nunit: V\nmarks: 1\n"
    exercise += f"tolerance: {tolerance}\nworking: W\n"
    header = "---\nid: a\nversion: 1\ntitle: A\n---\n"
    lab = read_lab_text(f"{header}\n```exercise x\n{exercise}```\n")
    prepared = draw(lab, "seed").prepare(lab.exercises[0])
    check = check_for("quantity")
    answer = check.right_answer(prepared.ask, prepared.key)
    assert check.check(prepared.ask, prepared.key, answer).right, answer
    if "%" in tolerance:
        shown = f"{value:.2f} V"
        assert check.check(prepared.ask, prepared.key, shown).right


def test_a_right_answer_has_the_decimals_asked_for_and_more_only_where_needed() -> None:
    check = check_for("quantity")
    for tolerance, shown in ((0.005, "0.25 V"), (0.001, "0.255 V"), (0.0, "0.2549 V")):
        key = {"value": 0.2549, "tolerance": tolerance, "decimals": 2, "slips": []}
        assert check.right_answer({"unit": "V"}, key) == shown


def test_a_choice_is_right_or_tells_what_it_overlooks() -> None:
    check = check_for("choice")
    assert check.check(CHOICE_ASK, CHOICE_KEY, "b") == Verdict(1.0, "Right.")
    assert check.check(CHOICE_ASK, CHOICE_KEY, "a") == Verdict(0.0, "Look again.", "slow")
    assert [check.shown(CHOICE_ASK, answer) for answer in ("a", "z", None)] == ["125", "", ""]
    for answer in ("", "c", "A", None, ["b"], {"b": 1}, 1):
        assert not check.check(CHOICE_ASK, CHOICE_KEY, answer).readable


def by_the_rules(plan: dict[str, Any]) -> float:
    """The share of devices with a right address, worked out by plain comparison."""
    good = 0
    for device in PLAN_ASK["devices"]:
        typed = plan.get(device, "")
        address = int(typed) if isinstance(typed, str) and typed.strip().isdecimal() else -1
        same = [other for other in PLAN_ASK["devices"] if str(plan.get(other)).strip().isdecimal()]
        twice = sum(int(plan[other]) == address for other in same) > 1
        good += 0 <= address <= 63 and address not in (0, 7, 63) and not twice
    return good / len(PLAN_ASK["devices"])


addresses = st.one_of(
    st.integers(0, 9).map(str),
    st.sampled_from(
        ["", "0", "7", "63", "64", "007", " 5 ", "-1", "5.0", "x", "62", "99999999999"]
    ),
)


@given(st.dictionaries(st.sampled_from(["scale", "valve", "gate", "other"]), addresses))
def test_an_address_plan_is_judged_as_the_rules_say(plan: dict[str, str]) -> None:
    verdict = check_for("address_plan").check(PLAN_ASK, PLAN_KEY, plan)
    assert verdict.credit == pytest.approx(by_the_rules(plan))
    assert verdict.right == (by_the_rules(plan) == 1)


def test_an_address_plan_tells_whose_address_it_is() -> None:
    plan = {"scale": "7", "valve": "63", "gate": "64"}
    verdict = check_for("address_plan").check(PLAN_ASK, PLAN_KEY, plan)
    assert verdict.credit == 0
    assert "Address 7 of scale is reserved" in verdict.message
    assert "It belongs to the panel." in verdict.message
    assert "Address 63 of valve is to be kept free" in verdict.message
    assert "Address 64 of gate" in verdict.message


def test_a_single_device_has_no_slip_that_an_empty_page_would_be() -> None:
    ask = {"devices": ["scale"], "limit": 63}
    check = check_for("address_plan")
    for slip, answer in check.slip_answers(ask, PLAN_KEY).items():
        assert check.check(ask, PLAN_KEY, answer).slip == slip


# The full calculation method written again from its published formula (ODVA PUB00027R1): on each
# side of the supply the sum over the taps of (L_n R_c + N_t 0.005) I_n, at most 4.65 V, with R_c
# 0.015 ohm/m thick and 0.069 ohm/m thin; at most 8 A in thick and 3 A in thin cable.
OHM_PER_METRE = {"thick": 0.015, "thin": 0.069}
MOST_AMPERES = {"thick": 8.0, "thin": 3.0}


def resistance(network: Network, start: float, end: float) -> float:
    low, high, ohms, at = min(start, end), max(start, end), 0.0, 0.0
    for segment in network.segments:
        overlap = min(high, at + segment.length) - max(low, at)
        ohms += OHM_PER_METRE[segment.cable] * max(overlap, 0.0)
        at += segment.length
    return ohms


def volts_lost(network: Network, supply: float, taps: list[tuple[float, float]]) -> float:
    outwards = sorted(taps, key=lambda tap: abs(tap[0] - supply))
    return math.fsum(
        (resistance(network, supply, at) + number * 0.005) * current
        for number, (at, current) in enumerate(outwards, 1)
    )


def side_holds(
    network: Network, supply: float, end: float, taps: list[tuple[float, float]]
) -> bool:
    if volts_lost(network, supply, taps) > 4.65:
        return False
    for cable, begins in cables_outwards(network, supply, end):
        # Where the supply stands, a tap at that very place counts too: the side's whole current.
        behind = sum(i for at, i in taps if begins == 0 or abs(at - supply) > begins)
        if behind > MOST_AMPERES[cable]:
            return False
    return True


def cables_outwards(network: Network, supply: float, end: float) -> list[tuple[str, float]]:
    """Each stretch of cable from the supply to an end of the trunk, and how far off it begins."""
    found, start = [], 0.0
    for segment in network.segments:
        low = max(start, min(supply, end))
        high = min(start + segment.length, max(supply, end))
        if low < high or supply == end:
            found.append((segment.cable, min(abs(low - supply), abs(high - supply))))
        start += segment.length
    if supply == end:
        return [(found[0 if end == 0 else -1][0], 0.0)]
    return found


def holds(network: Network, supply: float) -> bool:
    taps = [(tap.position, tap.drop.devices[0].current) for tap in network.taps]
    left = [tap for tap in taps if tap[0] < supply]
    right = [tap for tap in taps if tap[0] > supply]
    here = [tap for tap in taps if tap[0] == supply]
    # A tap at the supply itself may hang on either side.
    return any(
        side_holds(network, supply, 0.0, left + here * to_left)
        and side_holds(network, supply, network.trunk_length, right + here * (not to_left))
        for to_left in (True, False)
    )


@st.composite
def networks(draw_from: st.DrawFn) -> Network:
    thick = draw_from(st.integers(20, 300))
    thin = draw_from(st.integers(5, 90))
    places = draw_from(
        st.lists(st.integers(1, thick + thin - 1), min_size=1, max_size=8, unique=True)
    )
    currents = st.sampled_from([0.1, 0.25, 0.5, 1.0, 1.5, 2.5])
    taps = [Tap(float(at), Drop(1.0, (Device(f"at {at}", draw_from(currents)),))) for at in places]
    return Network(125, (Segment("thick", float(thick)), Segment("thin", float(thin))), tuple(taps))


@settings(deadline=None, max_examples=150)
@given(network=networks(), share=st.floats(0, 1), on_a_tap=st.booleans())
def test_a_supply_position_is_judged_as_the_published_sum_says(
    network: Network, share: float, on_a_tap: bool
) -> None:
    position = round(share * network.trunk_length, 1)
    if on_a_tap:
        position = network.taps[int(share * (len(network.taps) - 1))].position
    verdict = check_for("supply_position").check(
        {"network": network.to_json()}, {}, f"{position:.1f} m"
    )
    assert verdict.readable
    assert verdict.right == holds(network, position)
    assert verdict.right or verdict.slip in (
        "left-overloaded",
        "right-overloaded",
        "left-overloaded-and-right-overloaded",
    )


@settings(deadline=None)
@given(network=networks(), share=st.floats(0, 1))
def test_a_thousandth_over_the_limit_is_too_much_and_under_it_is_not(
    network: Network, share: float
) -> None:
    position = int(share * (network.trunk_length - 1)) + 0.5
    taps = [(tap.position, tap.drop.devices[0].current) for tap in network.taps]
    sides = [[tap for tap in taps if (tap[0] < position) == left] for left in (True, False)]
    worst = max(volts_lost(network, position, side) for side in sides)
    for factor in (0.999, 1.001):
        scaled = Network(
            125,
            network.segments,
            tuple(
                Tap(at, Drop(1.0, (Device(f"at {at}", current * factor * 4.65 / worst),)))
                for at, current in taps
            ),
        )
        verdict = check_for("supply_position").check(
            {"network": scaled.to_json()}, {}, f"{position} m"
        )
        assert verdict.right == holds(scaled, position)
        assert verdict.right or factor > 1 or "trunk current" in verdict.message
        assert not verdict.right or factor < 1


@pytest.mark.parametrize("answer", ["-1 m", "190.1 m", "1e99 m"])
def test_a_position_off_the_trunk_is_told_so(answer: str) -> None:
    verdict = check_for("supply_position").check(SUPPLY_ASK, {}, answer)
    assert (verdict.slip, verdict.credit) == ("off-the-trunk", 0)
    assert "runs from 0 to 190 m" in verdict.message


@pytest.mark.parametrize("answer", ["", "85", "85 V", None, 85, ["85 m"]])
def test_what_is_no_position_is_unreadable(answer: Any) -> None:
    assert not check_for("supply_position").check(SUPPLY_ASK, {}, answer).readable


@settings(deadline=None, max_examples=60)
@given(networks())
def test_a_good_position_holds_wherever_one_exists(network: Network) -> None:
    tenths = [n / 10 for n in range(int(network.trunk_length * 10) + 1)]
    if not any(holds(network, tenth) for tenth in tenths[::25]):
        return
    assert holds(network, good_position(network))
    check = check_for("supply_position")
    ask = {"network": network.to_json()}
    assert check.check(ask, {}, check.right_answer(ask, {})).right


def test_a_good_position_stays_inside_a_stretch_shorter_than_a_tenth() -> None:
    # 0.31 V/m of the two sides together: the stretch that keeps 4.65 V is 6 cm long.
    def network(current: float) -> Network:
        taps = [Tap(at, Drop(1.0, (Device(f"{at}", current),))) for at in (0.04, 200.04)]
        return Network(125, (Segment("thick", 200.1),), tuple(taps))

    low, high = 1.0, 8.0
    for _ in range(60):
        middle = (low + high) / 2
        low, high = (middle, high) if holds(network(middle), 100.04) else (low, middle)
    tight = network(low * 0.9998)
    assert holds(tight, good_position(tight))
    assert not holds(tight, round(good_position(tight), 1))


@cache
def scenarios() -> tuple[Scenario, ...]:
    lab = read_lab(PLAN_THE_TRUNK)
    return tuple(draw(lab, f"kinds {number}") for number in range(DRAWS))


EXERCISES = [exercise.id for exercise in read_lab(PLAN_THE_TRUNK).exercises]


@pytest.mark.parametrize("index", range(len(EXERCISES)), ids=EXERCISES)
def test_the_shipped_lab_is_right_where_it_says_right_and_its_slips_fit(index: int) -> None:
    seen: Counter[str] = Counter()
    for scenario in scenarios():
        exercise = scenario.lab.exercises[index]
        prepared = scenario.prepare(exercise)
        check = check_for(exercise.kind)
        right = check.right_answer(prepared.ask, prepared.key)
        assert check.check(prepared.ask, prepared.key, right).right, right
        for slip, answer in check.slip_answers(prepared.ask, prepared.key).items():
            verdict = check.check(prepared.ask, prepared.key, answer)
            assert (verdict.slip, verdict.credit < 1) == (slip, True)
            assert answer != right
            seen[slip] += 1
        for slip in prepared.key.get("slips", []) if exercise.kind == "quantity" else []:
            seen[slip["id"]] += 0
            assert math.isfinite(slip["value"])
    # No slip is dead: each is another answer than the right one in some of the scenarios.
    assert [slip for slip, count in seen.items() if count < DRAWS // 20] == []


def test_nothing_of_the_key_is_in_what_the_trainee_gets() -> None:
    for scenario in scenarios()[:20]:
        for exercise in scenario.lab.exercises:
            ask = scenario.prepare(exercise).ask
            names = {"quantity": {"unit"}, "choice": {"options"}, "supply_position": {"network"}}
            assert set(ask) == names.get(exercise.kind, {"devices", "limit"})
            if exercise.kind == "choice":
                assert all(set(option) == {"id", "text"} for option in ask["options"])
                assert [option["id"] for option in ask["options"]] == list("abcd")[
                    : len(ask["options"])
                ]


def test_the_right_option_stands_anywhere() -> None:
    places: Counter[str] = Counter()
    for scenario in scenarios():
        exercise = next(one for one in scenario.lab.exercises if one.id == "rate-verdict")
        places[scenario.prepare(exercise).key["right"]] += 1
    assert sorted(places) == list("abcd")
    assert max(places.values()) < 2 * min(places.values())
