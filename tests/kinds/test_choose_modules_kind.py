"""Chosen modules held against a second reckoning, which shares nothing with labkit.

SciPy's integer programs share signals out over commons and look for the fewest slots; the search of
ours must agree. Reserve rounded up line by line, no common for two supplies, currents of points and
modules: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import product
from math import ceil
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shared_out import LINES, TYPES, can_by_program

from labkit.doors.installed import check_for, page_for
from labkit.fieldbus.chassis_modules import ModuleType, SignalLine
from labkit.kinds.choose_modules.data import Answer, ChooseModulesAsk
from labkit.kinds.choose_modules.plan import with_loads
from labkit.kinds.choose_modules.spoilt import right_plan
from labkit.lab.draw import draw
from labkit.lab.reading import read_lab_text
from labkit.language.problems import DefinitionError
from labkit.proofing import proof

CHECK: Any = check_for("choose_modules")
TEXT = (Path(__file__).parents[1] / "lab" / "labs" / "modules-for-signals" / "lab.md").read_text(
    "utf-8"
)


def asked(
    types: Sequence[ModuleType], lines: Sequence[SignalLine], reserve: int, sizes: list[int]
) -> ChooseModulesAsk:
    return {
        "points": [{"id": "in", "text": "input", "mains": False}],
        "signals": [
            {
                "text": f"line {at}", "point": "in", "count": e.count,
                "fed_by": e.fed_by, "load": e.load_ma,
            }
            for at, e in enumerate(lines)
        ],
        "reserve": reserve,
        "modules": [
            {
                "id": f"m{at}", "type": f"T-{at}", "point": "in", "count": e.points,
                "commons": e.commons, "slots": e.slots, "at_5": e.at_5_ma, "at_24": e.at_24_ma,
                "each": e.point_ma, "together": e.module_ma,
            }
            for at, e in enumerate(types)
        ],
        "fixed": [{"text": "Controller", "at_5": 200, "at_24": 0}],
        "chassis": sizes,
        "supplies": [
            {"id": "small", "text": "P1", "at_5": 450, "at_24": 500},
            {"id": "large", "text": "P2", "at_5": 800, "at_24": 200},
        ],
        "apart": [],
        "loads": True,
        "smallest": True,
    }  # fmt: skip


def fewest_by_trying(ask: ChooseModulesAsk, types: Sequence[ModuleType]) -> int | None:
    """The smallest chassis for which some numbers of modules and some supply do."""
    lines = [
        SignalLine(
            "in", e["count"] + ceil(e["count"] * ask["reserve"] / 100), e["fed_by"], e["load"]
        )
        for e in ask["signals"]
    ]
    for size in ask["chassis"]:
        for counts in product(range(size), repeat=len(types)):
            modules = [
                each for each, count in zip(types, counts, strict=True) for _ in range(count)
            ]
            if sum(each.slots for each in modules) > size - 1 or not modules:
                continue
            five = 200 + sum(each.at_5_ma for each in modules)
            other = sum(each.at_24_ma for each in modules)
            fed = any(five <= e["at_5"] and other <= e["at_24"] for e in ask["supplies"])
            if fed and can_by_program(modules, lines):
                return size
    return None


@settings(max_examples=40, deadline=None)
@given(
    st.lists(TYPES, min_size=1, max_size=2),
    st.lists(LINES, min_size=1, max_size=2),
    st.sampled_from([0, 15, 20]),
)
def test_the_own_plan_is_right_and_no_larger_than_any_that_trying_finds(
    types: list[ModuleType], lines: list[SignalLine], reserve: int
) -> None:
    ask = asked(types, lines, reserve, [3, 5])
    found = right_plan(ask)
    least = fewest_by_trying(ask, types)
    assert (found and int(found["chassis"])) == least
    if found:
        assert CHECK.check(ask, {"example": found}, found).right


@settings(max_examples=60, deadline=None)
@given(
    st.lists(TYPES, min_size=1, max_size=2),
    st.lists(LINES, min_size=1, max_size=2),
    st.lists(st.integers(0, 1), min_size=1, max_size=4),
    st.sampled_from(["small", "large"]),
)
def test_a_plan_is_right_exactly_where_the_second_reckoning_says_so(
    types: list[ModuleType], lines: list[SignalLine], taken: list[int], supply: str
) -> None:
    ask = {**asked(types, lines, 20, [9]), "smallest": False}
    numbers = [number for number in taken if number < len(types)]
    slots, at = {}, 1
    for number in numbers:
        slots[str(at)] = f"m{number}"
        at += types[number].slots
    answer: Any = {"chassis": "9", "supply": supply, "slots": slots, "at_5": "", "at_24": ""}
    modules = [types[number] for number in numbers]
    five = 200 + sum(each.at_5_ma for each in modules)
    other = sum(each.at_24_ma for each in modules)
    answer |= {"at_5": str(five), "at_24": f"{other} mA"}
    with_reserve = [
        SignalLine("in", each.count + ceil(each.count * 0.2), each.fed_by, each.load_ma)
        for each in lines
    ]
    given_by = {"small": (450, 500), "large": (800, 200)}[supply]
    fits = five <= given_by[0] and other <= given_by[1] and at <= 9
    fits = fits and bool(modules) and can_by_program(modules, with_reserve)
    key: Any = {"example": answer}
    assert CHECK.check(ask, key, answer).right == fits


def module(name: str, point: str, *numbers: int | None) -> dict[str, Any]:
    names = ("count", "commons", "slots", "at_5", "at_24", "each", "together")
    return {
        "id": name,
        "type": name.upper(),
        "point": point,
        **dict(zip(names, numbers, strict=True)),
    }


TABLE: Any = {
    "points": [
        {"id": "dc", "text": "24 V input", "mains": False},
        {"id": "relay", "text": "relay output", "mains": True},
        {"id": "loop", "text": "4–20 mA input", "mains": False},
    ],
    "signals": [
        {"text": "switches", "point": "dc", "count": 9, "fed_by": "supply 1", "load": 0},
        {"text": "drive", "point": "dc", "count": 5, "fed_by": "the drive", "load": 0},
        {"text": "heaters", "point": "relay", "count": 2, "fed_by": "mains", "load": 1800},
        {"text": "lamps", "point": "relay", "count": 4, "fed_by": "mains", "load": 300},
        {"text": "levels", "point": "loop", "count": 3, "fed_by": "supply 1", "load": 0},
    ],
    "reserve": 15,
    "modules": [
        module("n16", "dc", 16, 1, 1, 100, 0, None, None),
        module("n8", "dc", 8, 2, 1, 60, 0, None, None),
        module("r8", "relay", 8, 1, 1, 40, 80, 2000, 6000),
        module("r16", "relay", 16, 1, 2, 60, 150, 1000, 8000),
        module("a4", "loop", 4, 1, 1, 30, 90, None, None),
    ],
    "fixed": [{"text": "Controller", "at_5": 400, "at_24": 0}],
    "chassis": [7, 10],
    "supplies": [
        {"id": "small", "text": "P1", "at_5": 700, "at_24": 240},
        {"id": "large", "text": "P2", "at_5": 1400, "at_24": 900},
    ],
    "apart": [("relay", "loop")],
    "loads": True,
    "smallest": True,
}  # fmt: skip
# 11 + 6 inputs of two supplies, 3 heaters and 5 lamps, 4 levels; 4 slots, and the two kept apart.
KEY: Any = {"example": {"chassis": "7"}}
SLOTS = {"1": "r8", "2": "r8", "3": "n16", "4": "n8", "5": "a4"}


def plan(slots: dict[str, str] = SLOTS, **changed: str) -> Answer:
    answer: Any = {"chassis": "7", "supply": "large", "slots": slots}
    return {**with_loads(TABLE, answer), **changed}  # type: ignore[typeddict-item]


def verdict(answer: Any, ask: Any = TABLE) -> Any:
    return CHECK.check(ask, KEY, answer)


def test_several_plans_are_right_and_what_does_not_serve_is_advice() -> None:
    assert verdict(plan()).message == "Right: all 12 rules hold."
    other = verdict(plan({"1": "a4", "3": "r8", "4": "r8", "5": "n16", "6": "n8"}))
    assert other.right
    more = plan({**SLOTS, "6": "a4"})
    assert verdict(more).right
    assert "Advice: without one of these" in verdict(more).message
    assert "slot 5, slot 6" in verdict(more).message


@pytest.mark.parametrize(
    ("answer", "slip", "told", "credit"),
    [
        (plan({"1": "r8", "2": "r8", "3": "n16", "4": "n16"}), "points-not-by-kind",
         "4–20 mA input: 0 points for 3 signals. All points together would do", 0.0),
        (plan({"1": "n8"}), "points-missing", "24 V input: 8 points for 14 signals", 0.0),
        (plan({"1": "r8", "2": "r8", "3": "n8", "4": "n8", "5": "a4"}), "reserve-rounded-down",
         "9 + 2 + 5 + 1 = 17 points are wanted, and there are 16", 0.5),
        (plan({"1": "r8", "2": "r8", "3": "n16", "4": "a4"}), "reserve-rounded-down",
         "A reserve is rounded up, line by line", 0.5),
        (plan({"1": "r8", "3": "n16", "4": "n8", "5": "a4"}, supply="small"), "module-overloaded",
         "the points carry 6900 mA in all", 0.75),
        (plan({"1": "r16", "3": "n16", "4": "n8", "5": "a4"}, supply="small"), "point-overloaded",
         "3 points are to carry 1800 mA or more, and 0 may", 0.75),
        (plan({"1": "r16", "3": "a4", "4": "n16", "5": "n8"}, supply="small"), "point-overloaded",
         "slots 1 and 3 have relay output and 4–20 mA input side by side", 0.5),
        (plan({"1": "r8", "2": "n16", "3": "n8", "4": "r8", "5": "a4"}), "side-by-side",
         "slots 4 and 5 have relay output and 4–20 mA input side by side", 0.75),
        (plan({"0": "n8", "1": "r8", "2": "r8", "3": "n16", "5": "a4"}), "slot-taken",
         "slot 0 (N8) has the Controller already", 0.75),
        (plan({"1": "r16", "2": "r8", "3": "n16", "4": "n8", "5": "a4"}), "slot-taken",
         "slot 1 (R16) covers slot 2 too, in which another module stands", 0.75),
        (plan({**SLOTS, "7": "a4"}), "beyond-the-chassis", "slots are 0 to 6", 0.75),
        (plan({**SLOTS, "6": "r16"}), "side-by-side", "slots 5 and 6 have 4–20 mA input", 0.5),
        (plan(chassis=""), "chassis-missing", "no chassis is chosen yet", 0.75),
        (plan(chassis="10"), "chassis-too-large", "fewer than 10 slots", 0.75),
        (plan(supply=""), "supply-missing", "no supply of the chassis is chosen yet", 0.5),
        (plan(supply="small"), "one-rail-checked",
         "take 250 mA of 240 mA. The other rail holds", 0.75),
        (plan(at_5="270"), "fixed-forgotten", "are your modules alone", 0.75),
        (plan(at_5="250 mA", at_24="670 mA"), "rails-exchanged", "sum of the other rail", 0.5),
        (plan(at_5="0.6 A"), "wrong-sum", "0.6 A is not what your modules", 0.75),
        (plan(at_24=""), "load-missing", "not filled in yet", 0.75),
        (plan(at_24="much"), "load-unreadable", "'much' does not start with a number", 0.75),
    ],
)  # fmt: skip
def test_what_is_wrong_is_told_with_its_figures(
    answer: Answer, slip: str, told: str, credit: float
) -> None:
    found = verdict(answer)
    assert (found.slip, found.credit) == (slip, credit)
    assert told in found.message


def test_the_reserve_of_each_line_counts() -> None:
    signals = [{**each} for each in TABLE["signals"]]
    signals[0]["count"] = signals[1]["count"] = 8
    found = verdict(
        plan({"1": "r8", "2": "r8", "3": "n8", "4": "n8", "5": "a4"}),
        {**TABLE, "signals": signals},
    )
    assert (found.slip, found.credit) == ("reserve-forgotten", 0.75)
    assert "8 + 2 + 8 + 2 = 20 points are wanted, and there are 16." in found.message


def test_one_common_for_two_supplies_is_told_with_the_commons_that_there_are() -> None:
    ask = {**TABLE, "reserve": 0}
    slots = {"1": "r8", "2": "r8", "3": "n16", "5": "a4"}
    found = verdict(plan(slots), ask)
    assert (found.slip, found.credit) == ("common-for-two-supplies", 0.75)
    assert (
        "24 V input: 9 points are fed by supply 1; 5 points are fed by the drive. Your modules "
        "have these commons: 1 of 16 points."
    ) in found.message
    assert verdict(plan({**slots, "4": "n16"}), ask).right


def test_commons_that_would_do_without_the_currents_are_told_so() -> None:
    # Four commons do for 3 + 9 points, and the currents do for one supply; not both at once.
    modules = [*TABLE["modules"], module("r8-2", "relay", 8, 2, 1, 40, 80, 2000, 5000)]
    signals = [{**each} for each in TABLE["signals"]]
    signals[2] |= {"count": 3}
    signals[3] |= {"count": 9, "fed_by": "supply 1"}
    ask: Any = {**TABLE, "modules": modules, "signals": signals, "reserve": 0}
    slots = {"1": "r8-2", "2": "r8-2", "3": "n8", "4": "n8", "5": "n8", "6": "a4"}
    answer: Any = {**plan(), "slots": slots}
    found = verdict(with_loads(ask, answer), ask)
    assert (found.slip, found.credit) == ("commons-or-currents", 0.75)
    assert "two supplies, or a point or a module carries more than it may." in found.message
    signals[2]["count"] = 2
    assert verdict(with_loads(ask, answer), ask).right


def test_a_slot_left_empty_between_two_kinds_counts_for_the_smallest_chassis() -> None:
    signals = [each for each in TABLE["signals"] if each["text"] in ("heaters", "levels")]
    ask: Any = {**TABLE, "signals": signals, "chassis": [3, 4, 6]}
    found = right_plan(ask)
    assert found
    assert found["chassis"] == "4"
    assert len(found["slots"]) == 2
    assert CHECK.check(ask, {"example": found}, found).right
    ask["chassis"] = [3]
    assert right_plan(ask) is None


def test_both_rails_too_weak_is_another_mistake() -> None:
    weak = {"id": "large", "text": "P2", "at_5": 600, "at_24": 200}
    found = verdict(plan(), {**TABLE, "supplies": [weak]})
    assert (found.slip, found.credit) == ("supply-too-small", 0.5)


def test_a_supply_larger_than_needed_is_told_where_the_smallest_is_asked() -> None:
    enough = [{**each, "at_24": 900} for each in TABLE["supplies"]]
    found = verdict(plan(), {**TABLE, "supplies": enough})
    assert (found.slip, found.credit) == ("supply-too-large", 0.75)
    assert "P1 feeds your modules as well." in found.message
    assert verdict(plan(supply="small"), {**TABLE, "supplies": enough}).right
    free = verdict(plan(chassis="10"), {**TABLE, "supplies": enough, "smallest": False})
    assert free.message == "Right: all 10 rules hold."


def test_no_sum_is_told_before_the_trainee_has_made_it() -> None:
    for five, other in (("", ""), ("270", "1")):
        for supply in ("small", "large"):
            told = verdict(plan(supply=supply, at_5=five, at_24=other)).message
            assert "670" not in told
            assert "250" not in told
    assert "already take 670 mA of 1400 mA" in verdict(plan(at_24="1")).message
    unasked = verdict(plan(supply="small", at_5="1"), {**TABLE, "loads": False})
    assert "already take 670 mA of 700 mA" in unasked.message


@pytest.mark.parametrize(
    "answer",
    [
        None, 3, "x", [], {}, {"slots": []}, {"slots": {}}, {"slots": {"1": "none"}},
        {"slots": {"11": "a4"}}, {"slots": {"x": "a4"}}, {"slots": {"1": ["a4"]}},
        {"slots": {"1": "a4"}, "chassis": 7}, {"slots": {"1": "a4"}, "chassis": "8"},
        {"slots": {"1": "a4"}, "supply": "none"}, {"slots": {"1": "a4"}, "at_5": [3]},
        {"slots": {"01": "a4"}}, {"slots": {"1": "a4"}, "supply": {}},
    ],
)  # fmt: skip
def test_any_answer_is_answered(answer: Any) -> None:
    found = verdict(answer)
    assert (found.credit, found.readable) == (0.0, False)
    assert CHECK.unreadable(TABLE, answer) == found.message
    assert CHECK.shown(TABLE, answer) == ""
    assert CHECK.asks_back(TABLE, answer) == []


JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False) | st.text(),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(), inner, max_size=3),
    max_leaves=6,
)
FIELD = JSON | st.sampled_from(["7", "large", "a4", "250 mA"])


@given(
    st.fixed_dictionaries(
        {"slots": JSON | st.dictionaries(st.sampled_from(["0", "1", "9", "x"]), FIELD)},
        optional=dict.fromkeys(("chassis", "supply", "at_5", "at_24"), FIELD),
    )
)
def test_any_json_is_answered(answer: Any) -> None:
    found = verdict(answer)
    assert 0 <= found.credit < 1
    assert found.message
    assert isinstance(CHECK.asks_back(TABLE, answer), list)
    assert isinstance(CHECK.shown(TABLE, answer), str)


def test_a_sum_that_cannot_be_read_is_asked_back() -> None:
    assert CHECK.asks_back(TABLE, plan(at_5="1.234")) == [
        "Load at 5 V: '1.234 mA' can be read in two ways: write 1.2340 or 1234."
    ]
    assert CHECK.asks_back(TABLE, plan(at_5="", at_24="0.25 A")) == []
    assert CHECK.asks_back({**TABLE, "loads": False}, plan(at_5="much")) == []


def prepared(text: str = TEXT, secret: str = "plan") -> Any:
    lab = read_lab_text(text)
    return draw(lab, secret).prepare(lab.exercises[0])


def test_every_mistake_that_can_be_made_is_the_one_that_is_told() -> None:
    met = set()
    for number in range(8):
        found = prepared(secret=f"slips {number}")
        assert CHECK.check(found.ask, found.key, found.key["example"]).right
        for slip, answer in CHECK.slip_answers(found.ask, found.key).items():
            told = CHECK.check(found.ask, found.key, answer)
            assert (told.slip, told.right) == (slip, False)
            met.add(slip)
        [guess] = CHECK.guesses(found.ask)
        assert not CHECK.check(found.ask, found.key, guess.answer).right
    assert met >= {
        "points-missing", "points-not-by-kind", "reserve-forgotten", "reserve-rounded-down",
        "common-for-two-supplies", "module-overloaded", "side-by-side", "slot-taken",
        "beyond-the-chassis", "chassis-too-large", "one-rail-checked", "fixed-forgotten",
        "rails-exchanged", "wrong-sum",
    }  # fmt: skip


def test_page_and_paper_show_caution_and_invention_and_add_nothing_up() -> None:
    found = prepared()
    view = page_for("choose_modules")(found.ask, None).view()
    sheet = CHECK.paper(found.ask)
    for shown in (view["caution"], sheet, CHECK.caution(found.ask)):
        assert "mains voltage, which kills" in shown
        assert "local codes" in shown
    assert "invented" in view["invented"]
    assert "are invented" in sheet
    assert "No module of relay output stands beside one of 4–20 mA input." in sheet
    assert found.key["example"]["at_5"] not in sheet
    assert found.key["example"]["at_5"] in CHECK.paper_right(found.ask, found.key)
    assert found.key["example"]["at_5"] in CHECK.solved(found.ask, found.key)
    slips = {each.id: each for each in CHECK.paper_slips(found.ask, found.key)}
    assert slips["load-missing"].answer == "Load at 5 V: empty"
    assert slips["load-missing"].tell == "✗ **Load at 5 V:** not filled in yet."
    dry = {**found.ask, "points": [{**each, "mains": False} for each in found.ask["points"]]}
    assert CHECK.caution(dry) == ""


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ("point: relay, count: 3", "point: realy, count: 3", "Did you mean 'relay'"),
        ("point: loop, count: 8", "point: lop, count: 8", "Did you mean 'loop'"),
        ("[[relay, loop]]", "[[relay, lop]]", "Did you mean 'loop'"),
        ("[[relay, loop]]", "[[relay, relay]]", "apart from itself"),
        ("id: a8", "id: a4", "own id"),
        ("type: OAK-8L", "type: OAK-4L", "read alike"),
        ("text: OAK-P2", "text: OAK-P1", "read alike"),
        ("count: 16, commons: 2", "count: 16, commons: 3", "16 points do not make 3 commons"),
        ("[7, 10, 13]", "[4]", "no choice of these modules serves the list"),
        ("[7, 10, 13]", "[2]", "2 is outside 3 to 17"),
        ('count: "counts[0]"', "count: 101", "101 is outside 1 to 100"),
        ("reserve: kept", "reserve: 101", "whole number from 0 to 100"),
    ],
)
def test_an_authors_mistake_is_told(old: str, new: str, told: str) -> None:
    with pytest.raises(DefinitionError, match=told):
        prepared(TEXT.replace(old, new))


def test_a_kind_without_a_module_and_too_many_lines_of_one_are_told() -> None:
    without = "\n".join(
        line for line in TEXT.split("\n") if "OAK-4L" not in line and "OAK-8L" not in line
    )
    with pytest.raises(DefinitionError, match="no module of the catalogue has points"):
        prepared(without)
    many = TEXT.replace('"counts[0]"', "100").replace('"counts[1]"', "100")
    with pytest.raises(DefinitionError, match="too many signals of 'input'"):
        prepared(many.replace("reserve: kept", "reserve: 100"))
    line = "  - {text: heaters, point: relay, count: 3, fed_by: the mains, load: 1800}\n"
    with pytest.raises(DefinitionError, match="more than 3 lines of 'relay'"):
        prepared(TEXT.replace(line, line * 3))


def test_proof_reading_finds_nothing() -> None:
    assert proof(read_lab_text(TEXT), draws=3).findings == ()
