"""The lab of addresses and rates worked out a second time, from what the trainee is shown.

Identifiers and the duplicate check: IEC 62026-3. Frame length: ISO 11898-1. Switch layout: common
practice, no source.
"""

from __future__ import annotations

from typing import Any

from course_draws import lab, scenarios

from labkit.doors.installed import check_for
from labkit.doors.verdict import Verdict
from labkit.lab.draw import Scenario

NAME = "addresses-and-rates"
DRAWS = 150


def judged(scenario: Scenario, name: str, answer: Any) -> Verdict:
    exercise = next(each for each in lab(NAME).exercises if each.id == name)
    prepared = scenario.prepare(exercise)
    if exercise.kind == "choice":  # its options are lettered in drawn order
        answer = next(key for key, option in prepared.key["slips"].items() if option == answer)
    return check_for(exercise.kind).check(prepared.ask, prepared.key, answer)


def on_positions(address: int) -> list[int]:
    return [address >> place & 1 for place in range(5, -1, -1)]


def value(positions: list[int], worths: tuple[int, ...] = (32, 16, 8, 4, 2, 1)) -> int:
    return sum(on * worth for on, worth in zip(positions, worths, strict=True))


def test_each_mistake_with_switches_is_told_as_what_it_is() -> None:
    for scenario in scenarios(NAME, DRAWS):
        names = scenario.names
        read = on_positions(names["read_node"])
        assert judged(scenario, "read-address", str(value(read))).credit == 1
        for slip, wrong in (
            ("address-reversed", value(read[::-1])),
            ("address-inverted", value([1 - on for on in read])),
        ):
            assert judged(scenario, "read-address", str(wrong)).slip == slip
        nodes = names["survey_nodes"]
        cells = {}
        for row, node in enumerate(nodes, 1):
            cells[f"{row}.3"] = str(value(on_positions(node)))
            cells[f"{row}.4"] = "twice" if nodes.count(node) == 2 else "alone"
        assert judged(scenario, "survey", cells).credit == 1
        assert sorted(cells.values()).count("twice") == 2
        for row, node in enumerate(nodes, 1):
            on = on_positions(node)
            for words, wrong in (
                ("You read it back to front.", value(on[::-1])),
                ("You counted the positions that are off.", value([1 - each for each in on])),
                ("You began with 64.", value(on, (64, 32, 16, 8, 4, 2))),
            ):
                told = judged(scenario, "survey", cells | {f"{row}.3": str(wrong)}).message
                assert words in told, (node, wrong, told)


def test_setting_a_block_tells_one_mistake_as_one() -> None:
    codes = {125: "00", 250: "01", 500: "10"}
    for scenario in scenarios(NAME, DRAWS):
        names = scenario.names
        address = "".join(map(str, on_positions(names["dip_node"])))
        rate = codes[names["network_rate"]]
        assert judged(scenario, "set-block", address + rate).credit == 1
        for slip, wrong in (
            ("address-reversed", address[::-1] + rate),
            ("rate-first", rate + address),
            ("on-off-inverted", (address + rate).translate({48: "1", 49: "0"})),
        ):
            verdict = judged(scenario, "set-block", wrong)
            assert verdict.slip == slip, (address, rate)


def test_what_happens_on_the_line() -> None:
    for scenario in scenarios(NAME, DRAWS):
        names = scenario.names
        same_rate, taken = names["plug_rate"] == 125, names["live_case"] == "kept-off"
        happens = ("kept-off" if taken else "joins") if same_rate else "disturbs"
        assert judged(scenario, "plugged-in", happens).credit == 1
        stays_off = "first" if names["late"] == names["pair"][0] else "second"
        assert judged(scenario, "who-stays", stays_off).credit == 1
        identifier = int(f"10{names['check_node']:06b}111", 2)
        assert judged(scenario, "own-check", {"1.identifier": f"{identifier:03X}"}).credit == 1
