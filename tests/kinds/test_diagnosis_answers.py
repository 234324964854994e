"""The kind `diagnosis`: its own right answer earns all, its slips are told apart; twins count."""

from collections.abc import Sequence
from typing import Any

import pytest

from labkit.bench.codec import to_json
from labkit.bench.conductors import Wire
from labkit.bench.faults import Broken, Corroded, Loose, SupplyWeak, TooLong
from labkit.bench.faults.base import Fault
from labkit.bench.possible import possible_faults
from labkit.doors.installed import check_for
from labkit.families.devicenet.bench.conductors import CAN_H, CAN_L, V_PLUS
from labkit.families.devicenet.bench.faults import IoSizes
from labkit.families.devicenet.bench.setup import Setup
from labkit.fieldbus.devicenet.network import Device, Drop, Network, Segment, Supply, Tap
from labkit.kinds.diagnosis.check import places
from labkit.kinds.diagnosis.naming import accepted_places

PLAN = Network(
    125,
    (Segment("thick", 30.0),),
    (
        Tap(5.0, Drop(1.0, (Device("panel", 0.2, 0),))),
        Tap(25.0, Drop(2.0, (Device("valves", 0.4, 5),))),
    ),
    (Supply(12.0),),
)
SETUP = Setup(PLAN, "panel")
FREE = (
    Loose("valves", CAN_H),
    Corroded("valves", V_PLUS, 3.0),
    SupplyWeak("supply", 0.2),
    TooLong("tap 2, drop – valves", 60.0),
    IoSizes("valves", 4, 0),
)
FAULTS = (*possible_faults(SETUP), *FREE)
CHECK: Any = check_for("diagnosis")


def exercise(faults: Sequence[Fault], *, repair: bool) -> tuple[dict[str, Any], dict[str, Any]]:
    shares = {"fault": 0.4, "place": 0.4, "repair": 0.2}
    if not repair:
        shares = {"fault": 0.5, "place": 0.5, "repair": 0}
    ask = {"setup": SETUP.to_json(), "power": True, "budget": 60, "costs": {}, "repairs": repair}
    return ask, {"faults": [to_json(fault) for fault in faults], "shares": shares}


@pytest.mark.parametrize("repair", [True, False])
@pytest.mark.parametrize("fault", FAULTS, ids=lambda fault: fault.words_on(SETUP.layout))
def test_the_right_answer_earns_all_and_every_slip_is_told(fault: Fault, repair: bool) -> None:
    ask, key = exercise([fault], repair=repair)
    right = CHECK.right_answer(ask, key)
    assert CHECK.unreadable(ask, right) == ""
    assert CHECK.check(ask, key, right).credit == pytest.approx(1)
    slips = CHECK.slip_answers(ask, key)
    assert set(slips) == {"wrong-place", "wrong-fault"} | ({"not-repaired"} if repair else set())
    for slip, answer in slips.items():
        verdict = CHECK.check(ask, key, answer)
        assert verdict.slip == slip
        assert verdict.credit < 1


def test_the_first_of_two_faults_is_enough_to_name_but_not_to_repair() -> None:
    ask, key = exercise(FAULTS[3:5], repair=True)
    right = CHECK.right_answer(ask, key)
    assert CHECK.check(ask, key, right).credit == pytest.approx(1)
    half = {**right, "steps": right["steps"][: len(right["steps"]) // 2]}
    assert CHECK.check(ask, key, half).slip == "not-repaired"


@pytest.mark.parametrize("wire", [CAN_H, V_PLUS])
def test_both_ends_of_a_cable_count_for_an_open_conductor(wire: Wire) -> None:
    for piece in SETUP.layout.pieces.values():
        one, other = Broken(piece.a, wire), Broken(piece.b, wire)
        ends = accepted_places(SETUP.layout, one)
        assert ends == accepted_places(SETUP.layout, other) >= {piece.a, piece.b}
        assert ends <= set(places(SETUP)) | {piece.id}


def moved(answer: dict[str, Any], place: str) -> dict[str, Any]:
    repairs = [{**step, "connector": place} for step in answer["steps"] if "connector" in step]
    said = {**answer["verdict"], "place": place}
    return {"steps": [], "repairs": repairs, "verdict": said}


@pytest.mark.parametrize("kind", [Broken, Loose])
def test_a_planned_repair_counts_at_a_twin_and_nowhere_else(kind: type[Broken | Loose]) -> None:
    piece = SETUP.layout.piece("tap 2, drop – valves")
    ask, key = exercise([kind(piece.a, CAN_L)], repair=True)
    right = CHECK.right_answer(ask, key)
    for place, credit in ((piece.a, 1.0), (piece.b, 1.0), ("tap 2, left", 0.4)):
        verdict = CHECK.check(ask, key, moved(right, place))
        assert verdict.credit == pytest.approx(credit), place
    assert "no measurement could tell" in CHECK.check(ask, key, moved(right, piece.b)).message


def test_on_the_bench_itself_a_repair_at_a_twin_is_none() -> None:
    piece = SETUP.layout.piece("tap 2, drop – valves")
    ask, key = exercise([Broken(piece.a, CAN_L)], repair=True)
    there = moved(CHECK.right_answer(ask, key), piece.b)
    done = {"steps": [{"kind": "power off"}, *there["repairs"]], "verdict": there["verdict"]}
    verdict = CHECK.check(ask, key, done)
    assert verdict.credit == pytest.approx(0.8)
    assert verdict.slip == "not-repaired"


def test_a_planned_repair_of_one_of_two_faults_is_not_enough() -> None:
    piece = SETUP.layout.piece("tap 2, drop – valves")
    ask, key = exercise([Broken(piece.a, CAN_L), FAULTS[0]], repair=True)
    answer = moved(CHECK.right_answer(ask, key), piece.b)
    assert CHECK.check(ask, key, answer).slip == "not-repaired"
    whole = {**answer, "repairs": [*answer["repairs"], *CHECK.right_answer(ask, key)["steps"][-1:]]}
    assert CHECK.check(ask, key, whole).credit == pytest.approx(1)


def test_ask_says_nothing_of_the_fault() -> None:
    asks = [exercise([fault], repair=True)[0] for fault in FAULTS]
    assert all(ask == asks[0] for ask in asks)


# Several faults may be named.

TWO = (FAULTS[3], FAULTS[-1])


def several(faults: Sequence[Fault], names: int) -> tuple[dict[str, Any], dict[str, Any]]:
    ask, key = exercise(faults, repair=True)
    return {**ask, "names": names}, key


def test_each_fault_named_and_each_mended_earns_its_part() -> None:
    ask, key = several(TWO, 3)
    right = CHECK.right_answer(ask, key)
    first, second = right["verdict"], right["more"][0]
    steps, one_mended = right["steps"], CHECK.slip_answers(ask, key)["one-left"]["steps"]
    nothing = {"fault": "supply dead", "place": "tap 2, left", "wires": []}
    for answer, credit, slip in (
        ({"verdict": second, "more": [first], "steps": steps}, 1.0, ""),
        ({"verdict": first, "steps": steps}, 0.6, "one-left"),
        ({"verdict": second, "steps": one_mended}, 0.5, "one-left"),
        ({"verdict": nothing, "more": [second], "steps": []}, 0.4, "one-left"),
        ({"verdict": first, "more": [nothing, second], "steps": steps}, 0.6, "one-too-many"),
        ({"verdict": nothing, "more": [nothing] * 2, "steps": []}, 0.0, "not-found"),
        ({"verdict": first, "more": [second], "steps": one_mended}, 0.9, "not-repaired"),
    ):
        verdict = CHECK.check(ask, key, answer)
        assert verdict.credit == pytest.approx(credit), answer
        assert verdict.slip == slip, answer
    told = CHECK.check(ask, key, {"verdict": first, "steps": one_mended}).message
    assert "One fault more is to be named." in told
    assert told.count("After each repair the whole network is tested again.") == 2


def test_one_fault_said_twice_counts_once() -> None:
    ask, key = several(TWO, 3)
    right = CHECK.right_answer(ask, key)
    twice = {**right, "more": [right["verdict"]]}
    assert CHECK.check(ask, key, twice).credit == pytest.approx(0.6)


@pytest.mark.parametrize("names", [2, 3])
def test_every_slip_of_two_faults_is_told(names: int) -> None:
    ask, key = several(TWO, names)
    assert CHECK.check(ask, key, CHECK.right_answer(ask, key)).right
    slips = CHECK.slip_answers(ask, key)
    too_many = {"one-too-many"} if names == 3 else set()
    assert set(slips) == {"one-left", "wrong-place", "wrong-fault", "not-repaired", *too_many}
    for slip, answer in slips.items():
        assert CHECK.unreadable(ask, answer) == ""
        assert CHECK.check(ask, key, answer).slip == slip


def test_a_planned_repair_of_one_of_two_named_earns_half_of_it_at_a_twin_too() -> None:
    piece = SETUP.layout.piece("tap 2, drop – valves")
    ask, key = several([Broken(piece.a, CAN_L), FAULTS[0]], 2)
    right = CHECK.right_answer(ask, key)
    answer = {**moved(right, piece.b), "more": right["more"]}
    assert CHECK.check(ask, key, answer).credit == pytest.approx(0.9)


@pytest.mark.parametrize(
    ("more", "told"),
    [
        ([{}], "Fault 2: Choose what kind"),
        ([None], "Fault 2: Choose what kind"),
        ([{"fault": "supply dead", "place": "the moon"}], "Fault 2: Choose the place"),
        ([{}, {}], "More faults are named"),
        ("two", "More faults are named"),
    ],
)
def test_a_second_fault_must_be_said_in_full(more: Any, told: str) -> None:
    ask, key = several(TWO, 2)
    answer = {**CHECK.right_answer(ask, key), "more": more}
    assert CHECK.unreadable(ask, answer).startswith(told)
    assert CHECK.shown(ask, answer)


def test_both_faults_are_shown() -> None:
    ask, key = several(TWO, 2)
    right = CHECK.right_answer(ask, key)
    shown = CHECK.shown(ask, right)
    assert right["verdict"]["place"] in shown
    assert right["more"][0]["place"] in shown


def test_on_paper_each_fault_has_a_line_and_its_part() -> None:
    ask, key = several(TWO, 3)
    sheet = CHECK.paper(ask)
    assert [sheet.count(f"Fault {n}:") for n in (1, 2, 3, 4)] == [1, 1, 1, 0]
    assert "The fault:" not in sheet
    assert sheet.count("The repair:") == 1
    told = "Each fault in the bench earns an equal part"
    assert told in CHECK.paper_for_marking(ask, key, 6)
    alone, its_key = exercise(TWO[:1], repair=True)
    assert CHECK.paper(alone).count("The fault:") == 1
    assert told not in CHECK.paper_for_marking(alone, its_key, 6)
