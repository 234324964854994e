"""The lab of the logic that tests a network, worked out once more without labkit's ladder.

Rungs from the top down, the last coil of a bit decides: IEC 61131-3. A stop button that opens,
inputs kept or cleared, one output at a time: common practice, no source.
"""

from __future__ import annotations

import re
from itertools import combinations

import pytest
from course_draws import of, prepared, rows_of, scenarios

from labkit.doors.installed import check_for
from labkit.kinds.ladder.trying import try_acts
from labkit.lab.draw import Scenario

LAB = "logic-that-tests"
DRAWS = 60
LADDERS = ("seal-in", "watch", "test-rungs")


def question(scenario: Scenario, name: str) -> str:
    return str(of(scenario, name).question.render(scenario.names))


def test_a_broken_wire_stops_only_where_the_button_opens() -> None:
    shown = set()
    for scenario in scenarios(LAB, DRAWS):
        for (button, now, wire), right in rows_of(scenario, "stop-wire"):
            lets_through = (now == "pressed") == (button == "closes")
            on = lets_through and wire == "sound"
            runs = on if button == "opens" else not on
            assert right == ["on" if on else "off", "runs on" if runs else "stops"]
            shown.add((button, now, wire))
        given = [row for row, _ in rows_of(scenario, "stop-wire")]
        assert ["opens", "at rest", "broken"] in given
        assert ["closes", "pressed", "broken"] in given
    assert len(shown) == 8


def drawn_rungs(text: str) -> list[tuple[str, bool, str]]:
    """What is drawn in signs: a contact, whether it has a stroke, a coil."""
    drawing = text.split("~~~text")[1].split("~~~")[0]
    names = re.findall(r"\|  (%\S+) +(%\S+) \|", drawing)
    strokes = re.findall(r"\+---\|(.)\|-+\( \)-+\+", drawing)
    assert len({len(line) for line in drawing.split("\n") if line.strip()}) == 1
    return [(i, s == "/", q) for (i, q), s in zip(names, strokes, strict=True)]


def test_the_last_rung_decides_and_a_rung_reads_what_stands_there_in_its_turn() -> None:
    places = set()
    for scenario in scenarios(LAB, DRAWS):
        rungs = drawn_rungs(question(scenario, "coil-twice"))
        assert len(rungs) == 3
        columns = prepared(scenario, "coil-twice").ask["columns"]
        bits = dict.fromkeys(columns[3:], "off")
        for given, right in rows_of(scenario, "coil-twice"):
            bits |= dict(zip(columns[1:3], given[1:], strict=True))
            for contact, stroke, coil in rungs:
                bits[coil] = "on" if (bits[contact] == "on") != stroke else "off"
            assert [bits[each] for each in columns[3:]] == right
        places.add([coil for _, _, coil in rungs].index(columns[4]))
    assert places == {0, 1, 2}


def test_lost_inputs_are_kept_or_cleared_and_the_active_bit_goes_off() -> None:
    for scenario in scenarios(LAB, DRAWS):
        table = rows_of(scenario, "drops-out")
        for (_, was, device, scanner), right in table:
            lost = device == "lost"
            seen = "off" if lost and scanner == "cleared" else was
            assert right == [seen, "off" if lost else "on"]
        ends = {(row[1:], right[0]) for row, right in [(tuple(g), r) for g, r in table]}
        assert (("on", "lost", "kept"), "on") in ends
        assert (("on", "lost", "cleared"), "off") in ends


def test_the_active_bit_is_where_the_row_of_bits_says_it_is() -> None:
    for scenario in scenarios(LAB, DRAWS):
        names, first = scenario.names, scenario.names["status_at"]
        bits = {
            int(each["text"].rsplit(" ", 1)[1]): each["id"]
            for each in prepared(scenario, "watch").ask["inputs"]
            if each["text"].startswith("active")
        }
        assert len(bits) == 3
        assert names["node"] in bits
        assert max(bits) <= 63
        for node, address in bits.items():
            assert address == f"%IX{first + node // 8}.{node % 8}"


def test_each_test_button_moves_the_output_that_the_plan_gives_it() -> None:
    line = re.compile(
        r"\| [a-z ]+ \| bit (\d) of input byte (\d+) \| bit (\d) of output byte (\d+)"
    )
    for scenario in scenarios(LAB, DRAWS):
        found = prepared(scenario, "test-rungs")
        key = next(each["id"] for each in found.ask["inputs"] if each["text"] == "key")
        wanted = {
            (f"%IX{at}.{bit}", f"%QX{out}.{place}")
            for bit, at, place, out in line.findall(question(scenario, "test-rungs"))
        }
        assert len(wanted) == 3
        for step in found.key["steps"]:
            lit = {out for button, out in wanted if {key, button} <= {*step["on"]}}
            assert {*step["lit"]} == lit


def test_only_the_pair_that_is_never_parted_passes_the_test_unseen() -> None:
    for scenario in scenarios(LAB, DRAWS):
        names = scenario.names["names"]
        text = question(scenario, "blind-plan")
        steps = [set(line.split(", ")) for line in re.findall(r"^\d\. (.+)$", text, re.MULTILINE)]
        assert len(steps) == 3
        assert all(steps)
        unseen = []
        for one, other in combinations(names, 2):
            crossed = {one: other, other: one}
            moves = [{crossed.get(name, name) for name in step} for step in steps]
            if moves == steps:
                unseen.append(f"{one} and {other}")
        found = prepared(scenario, "blind-plan")
        right = next(o for o in found.ask["options"] if o["id"] == found.key["right"])
        assert [right["text"]] == unseen


def test_what_the_table_says_of_the_line_is_what_the_bench_plays() -> None:
    """Each row built on the bench and pressed: the output's bit, and what moves."""
    seen = set()
    for scenario in scenarios(LAB, 3):
        found, names = prepared(scenario, "test-rungs"), scenario.names["names"]
        example = check_for("ladder").right_answer(found.ask, found.key)
        key, *buttons = [each["id"] for each in found.ask["inputs"]]
        for (device, wrong), (bit, moves) in rows_of(scenario, "bit-and-machine"):
            at = names.index(device)
            acts = [["press", key], ["press", buttons[at]]]
            plug = re.fullmatch(r"the plug of the (.+) is pulled", wrong)
            if plug:
                acts.append(["unplug", plug[1]])
            line = 1 if "exchanged" in wrong else 2 if "idle" in wrong else 0
            message = {"program": example, "acts": [[], acts], "memory": {}, "line": line}
            tried = try_acts(found.ask, message)
            outputs = [each["id"] for each in found.ask["outputs"]]
            assert tried["image"][outputs[at]] == (bit == "on")
            moved = [thing for thing, on in tried["moved"].items() if on]
            right = "the right one" if moved == [device] else "another one" if moved else "nothing"
            assert right == moves
            seen.add((line, bool(plug), moves))
    assert {moves for _, _, moves in seen} == {"the right one", "another one", "nothing"}


@pytest.mark.parametrize("name", LADDERS)
def test_right_answers_are_right_and_mistakes_are_told(name: str) -> None:
    expected = {"negated-contact", "wrong-operand", "wrong-coil-kind", "double-coil"}
    expected |= {"input-written"} if name == "test-rungs" else {"missing-seal-in", "input-written"}
    for scenario in scenarios(LAB, 2):
        found, check = prepared(scenario, name), check_for("ladder")
        right = check.right_answer(found.ask, found.key)
        assert check.check(found.ask, found.key, right).right
        slips = check.slip_answers(found.ask, found.key)
        assert expected <= {*slips}
        for slip, answer in slips.items():
            assert check.check(found.ask, found.key, answer).slip == slip


def test_without_the_watch_the_trainee_reads_that_a_lost_device_goes_on() -> None:
    scenario = scenarios(LAB, 1)[0]
    found, check = prepared(scenario, "watch"), check_for("ladder")
    drive, *more = check.right_answer(found.ask, found.key)["rungs"]
    rungs = [{**drive, "groups": drive["groups"][:2]}, *more]
    told = check.check(found.ask, found.key, {"rungs": rungs}).message
    device = scenario.names["names"][1]
    assert f"unplug the {device}: " in told
    assert "should be off, but is on." in told
