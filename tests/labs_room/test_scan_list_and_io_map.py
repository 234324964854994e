"""The lab of the scan list: its keys against what is asked, and its stories against themselves."""

from __future__ import annotations

from typing import Any

from course_draws import lab, scenarios

from labkit.doors.installed import check_for
from labkit.doors.verdict import Verdict
from labkit.lab.draw import Scenario

LAB = "scan-list-and-io-map"
DRAWS = 100


def exercise(name: str) -> Any:
    return next(each for each in lab(LAB).exercises if each.id == name)


def verdict(scenario: Scenario, name: str, answer: Any) -> Verdict:
    prepared = scenario.prepare(exercise(name))
    return check_for(exercise(name).kind).check(prepared.ask, prepared.key_as_needed, answer)


def told(scenario: Scenario, name: str, cell: str, value: int) -> str:
    """What somebody reads who has this number in a cell and all others right."""
    prepared = scenario.prepare(exercise(name))
    right = check_for("table").right_answer(prepared.ask, prepared.key)
    return verdict(scenario, name, {**right, cell: str(value)}).message


def test_the_setting_is_the_smallest_that_leaves_a_fifth_of_each_area_free() -> None:
    chosen = set()
    for scenario in scenarios(LAB, DRAWS):
        prepared = scenario.prepare(exercise("sizes"))
        cells = check_for("table").right_answer(prepared.ask, prepared.key)
        # The fifth device of the list produces 1 byte, by the text, and consumes nothing.
        read = 1 + sum(int(text) for name, text in cells.items() if name.endswith(".3"))
        written = sum(int(text) for name, text in cells.items() if name.endswith(".4"))
        into = next(size for size in (16, 24) if 5 * (size - read) >= size)
        out_of = next(size for size in (8, 12) if 5 * (size - written) >= size)
        chosen.add((into, out_of))
        for option in scenario.prepare(exercise("setting")).ask["options"]:
            right = option["text"] == f"{into} bytes in, {out_of} bytes out"
            assert verdict(scenario, "setting", option["id"]).right == right, scenario.seed
    assert len(chosen) == 4


def test_no_mistake_is_told_as_another_one() -> None:
    for scenario in scenarios(LAB, DRAWS):
        names = scenario.names
        # The status byte left out and the last bits left out give one number here: both are told.
        for cell, bits in (("1.3", names["in_points"]), ("4.3", names["valves"])):
            message = told(scenario, "sizes", cell, bits // 8 + 1)
            assert "status byte" in message, scenario.seed
            assert "ound up" in message, scenario.seed


def test_an_address_lies_in_the_area_that_it_is_asked_in() -> None:
    for scenario in scenarios(LAB, DRAWS):
        sizes = {"input": 32, "output": 24}
        for name in ("bit", "word"):
            ask = scenario.prepare(exercise(name)).ask
            assert ask["bytes"] == sizes[ask["area"]], scenario.seed


def test_a_mismatch_is_worked_out_to_its_end() -> None:
    for scenario in scenarios(LAB, DRAWS):
        names = scenario.names
        words = exercise("mismatch").working.render(names)
        same_node = names["listed_node"] == names["device_node"]
        same_size = names["list_size"] == names["real_size"]
        found = {
            (True, True): "exchanges data",
            (True, False): "wrong size",
            (False, True): "finds no device",
        }[same_node, same_size]
        assert found in words


def test_a_byte_in_decimal_is_told_as_such() -> None:
    for scenario in scenarios(LAB, 20):
        names = scenario.names
        for cell, byte in (("2.2", names["set_low"]), ("3.2", names["set_high"])):
            assert "decimal" in told(scenario, "byte-order", cell, byte), scenario.seed


def own_plan(scenario: Scenario) -> dict[str, Any]:
    """The whole plan as the lab's text has it made, from the numbers that are told."""
    names = scenario.names
    near, far = names["plan_near"], names["plan_far"]
    # ODVA PUB00027R1: 100 m at 500 kbit/s; at 250 kbit/s 100 m of thin, 2.5 m of thick for each.
    assert near + far > 100
    assert near + 2.5 * far <= 250
    drops = {
        name: str(min(at_hand for at_hand in (1, 2, 3, 4) if at_hand >= way))
        for name, way in zip(names["plan_names"], [0.5, *names["plan_ways"]], strict=True)
    }
    produced, consumed = [0, *names["plan_in"]], [0, *names["plan_out"]]
    rows = {
        name: {
            "address": str(at),
            "rate": "250",
            "drop": drops[name],
            "listed": True,
            "inputs": str(produced[at]),
            "outputs": str(consumed[at]),
            "first_in": str(sum(produced[:at])),
            "first": str(sum(consumed[:at])),
        }
        for at, name in enumerate(names["plan_names"])
    }
    amperes = sum(names["plan_current"])
    return {
        "cables": ["thick", "thin"],
        "supply": f"{near} m",
        "rating": "2.5" if amperes <= 2.5 else "4",
        "terminators": ["left end", "right end"],
        "devices": rows,
    }


def names_with_inputs(scenario: Scenario) -> list[str]:
    names = scenario.names
    return [
        name for name, size in zip(names["plan_names"][1:], names["plan_in"], strict=True) if size
    ]


def test_a_whole_plan_made_by_the_text_is_right_and_each_shortcut_is_not() -> None:
    for scenario in scenarios(LAB, DRAWS):
        plan = own_plan(scenario)
        assert verdict(scenario, "own-plan", plan).right, scenario.seed
        fast = {name: {**row, "rate": "500"} for name, row in plan["devices"].items()}
        one = names_with_inputs(scenario)[-1]
        moved = {**plan["devices"], one: {**plan["devices"][one], "first_in": "0"}}
        astray = {**plan["devices"], "scanner": {**plan["devices"]["scanner"], "address": "63"}}
        for part, wrong in {
            "trunk": {**plan, "cables": ["thin", "thin"]},
            "supply": {**plan, "rating": "1"},
            "terminators": {**plan, "terminators": ["left end"]},
            "addresses": {**plan, "devices": astray},
            "inputs": {**plan, "devices": moved},
        }.items():
            found = verdict(scenario, "own-plan", wrong)
            assert (found.slip, found.right) == (part, False), (scenario.seed, part)
        end = scenario.names["plan_near"] + scenario.names["plan_far"]
        assert verdict(scenario, "own-plan", {**plan, "supply": f"{end} m"}).slip == "supply"
        too_fast = verdict(scenario, "own-plan", {**plan, "devices": fast})
        assert "at 500 kbit/s at most 100 m" in too_fast.message
