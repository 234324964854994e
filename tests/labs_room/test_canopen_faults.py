"""The faults of the CANopen bus: what the text says of them is what the bench shows.

States are those of the open-source package `canopen`; counters are those of ISO 11898-1.
"""

from __future__ import annotations

import re
from typing import Any

import canopen
import pytest
from course_draws import of, prepared, rows_of, scenarios

from labkit.bench.bench import Bench
from labkit.bench.conductors import Wire
from labkit.bench.situation import Situation, Terminal
from labkit.bench.twins import groups_alike
from labkit.doors.installed import check_for
from labkit.families.canopen.bench.catalogue import CATALOGUE
from labkit.families.canopen.bench.conductors import CAN_H, CAN_L
from labkit.families.canopen.bench.measurements import FrameLog, Indicators, ManagerReport
from labkit.families.canopen.bench.setup import Setup
from labkit.lab.draw import Scenario

LAB = "canopen-faults"
DRAWS, PLAYED = 80, 24
DEAD, LIVE = Situation(), Situation(power=True)
CABLE = 0.15
"""What cable, nodes and contacts may change in a round number of ohms: 15 %."""
BASES = {
    0x080: "an emergency",
    0x180: "a PDO that it sends",
    0x200: "a PDO that it gets",
    0x580: "its answer by SDO",
    0x600: "a question by SDO",
    0x700: "boot-up or heartbeat",
}


def case(scenario: Scenario, name: str) -> tuple[Bench, Bench, str]:
    """The bench, switched off and on, and the working."""
    made = prepared(scenario, name)
    faults = frozenset(map(CATALOGUE.fault_from_json, made.key["faults"]))
    working: Any = of(scenario, name).working
    setup = Setup.from_json(made.ask["setup"])
    told = working.render(scenario.names)
    return Bench(setup, faults, DEAD), Bench(setup, faults, LIVE), told


def ohms(bench: Bench, at: str = "controller", *unplugged: str) -> float:
    there = bench.standing(Situation(unplugged=frozenset(unplugged)))
    value = there.ohms(Terminal.of(at, CAN_H), Terminal.of(at, CAN_L)).value
    assert value is not None
    return value


def along(bench: Bench, a: str, b: str, wire: Wire) -> float:
    """Ohms of one conductor from one device to another, around the break too."""
    value = bench.standing(DEAD).ohms(Terminal.of(a, wire), Terminal.of(b, wire)).value
    assert value is not None
    return value


def said(bench: Bench) -> list[str]:
    return ManagerReport().take(bench).text.split("; ")


def lamps(bench: Bench) -> dict[str, tuple[str, str]]:
    detail: Any = Indicators().take(bench).detail
    return {
        name: (looks["network"][-1][1], looks["module"][-1][1]) for name, looks in detail.items()
    }


def log(bench: Bench, at: str = "controller") -> list[list[Any]]:
    detail: Any = FrameLog(at).take(bench).detail
    words: list[list[Any]] = detail["words"]
    return words


def test_the_bus_as_planned_is_what_the_text_says() -> None:
    for scenario in scenarios(LAB, 3):
        bench, _, _ = case(scenario, "case-either")
        sound = Bench(bench.setup, situation=LIVE)
        assert ohms(sound) == pytest.approx(60, rel=CABLE)
        assert set(lamps(sound).values()) == {("green", "off")}
        assert all(each.endswith("operational") for each in said(sound))
        equipment = bench.setup.to_json()["equipment"]
        del equipment["controller"]
        for each in equipment.values():
            assert (each["input_bytes"], each["output_bytes"], each["heartbeat_ms"]) == (2, 1, 500)


def test_an_identifier_is_the_largest_base_that_leaves_a_node_id() -> None:
    words = set()
    for scenario in scenarios(LAB, DRAWS):
        for [identifier], [node, word] in rows_of(scenario, "whose"):
            [base] = [base for base in BASES if 1 <= int(identifier, 16) - base <= 127]
            assert (int(identifier, 16) - base, BASES[base]) == (node, word)
            words.add(word)
    assert len(words) == 5


def test_a_log_tells_what_the_states_say() -> None:
    told = set()
    for scenario in scenarios(LAB, DRAWS):
        for [lines], [right] in rows_of(scenario, "stories"):
            states = [
                canopen.nmt.NMT_STATES[int(code, 16)]
                for code in re.findall(r"\b7[0-9A-F]{2} (\w\w)\b", lines)
            ]
            if "30 81" in lines:
                wanted = "it missed a heartbeat"
            elif states == ["INITIALISING"]:
                wanted = "it sends no heartbeat"
            elif "INITIALISING" in states[1:]:
                wanted = "it restarted by itself"
            elif states[-1] == "STOPPED":
                wanted = "it was stopped"
            else:
                wanted = "nobody starts it"
            assert right == wanted
            told.add(right)
    assert len(told) == 5


def test_counters_make_a_node_passive_above_127_and_bus_off_in_sending_above_255() -> None:
    for scenario in scenarios(LAB, DRAWS):
        for [sent, read], [state, does] in rows_of(scenario, "counters"):
            if int(sent) > 255:
                wanted = ("bus off", "takes no part")
            elif int(sent) > 127 or int(read) > 127:
                wanted = ("error passive", "lets it pass")
            else:
                wanted = ("error active", "destroys it for all")
            assert (state, does) == wanted


def beside(*each: float) -> float:
    return 1 / sum(1 / value for value in each)


def test_what_fits_a_reading_has_its_ohms() -> None:
    seen: dict[str, float] = {
        "no terminator": 120,
        "CAN_L open": 120,
        "a third": beside(120, 120, 120),
        "one terminator of 60 Ω": beside(120, 60),
        "CAN_H and CAN_L exchanged": beside(120, 120),
        "both terminators": beside(120, 120),
        "a node at": beside(120, 120),
    }
    read = set()
    for scenario in scenarios(LAB, DRAWS):
        made = prepared(scenario, "ohms")
        question = of(scenario, "ohms").question.render(scenario.names)
        shown = float(re.findall(r"\*\*(\d+) Ω", question)[0])
        value = {
            box["id"]: next(v for words, v in seen.items() if box["text"].startswith(words))
            for box in made.ask["boxes"]
        }
        assert set(made.key["right"]) == {box for box, is_ in value.items() if round(is_) == shown}
        read.add(shown)
    assert read == {60, 120, 40}


def test_a_consumer_must_wait_longer_than_the_producer_takes() -> None:
    words = set()
    for scenario in scenarios(LAB, DRAWS):
        for [producer, consumer], [right] in rows_of(scenario, "beats"):
            every, waits = int(producer), int(consumer)
            if not every:
                wanted = "never there"
            elif not waits:
                wanted = "nobody would notice"
            elif waits == every:
                wanted = "lost now and then"
            else:
                wanted = "all is well" if waits > every else "lost each time"
            assert right == wanted
            words.add(right)
    assert len(words) == 5


def test_too_few_bytes_are_not_taken_of_too_many_the_first_are() -> None:
    for scenario in scenarios(LAB, DRAWS):
        for [one, other, sent], [right] in rows_of(scenario, "fits"):
            mapped = (int(one, 16) + int(other, 16)) // 8
            assert 0 < int(sent) <= 8
            wanted = (
                "takes all of it" if int(sent) == mapped
                else "takes none of it: 8210" if int(sent) < mapped
                else "takes the first: 8220"
            )  # fmt: skip
            assert right == wanted


def test_the_cable_reads_as_the_working_says() -> None:
    seen = set()
    for scenario in scenarios(LAB, PLAYED):
        bench, live, working = case(scenario, "case-cable")
        names: Any = scenario.names
        number, device = names["case_1"], names["device_1"]
        seen.add(number)
        silent = [each for each in said(live) if "no answer" in each]
        if number < 2:
            assert ohms(bench) == pytest.approx(120, rel=CABLE)
            assert ohms(bench, "controller", names["end_1"]) == pytest.approx(ohms(bench))
            assert not silent
        elif number == 2:
            assert ohms(bench) == pytest.approx(40, rel=CABLE)
            assert ohms(bench, "controller", device) == pytest.approx(60, rel=CABLE)
            assert not silent
            assert device in working
        elif number == 3:
            lost = names["nodes"][names["tap_1"] - 2 :]
            assert sorted(int(each.split()[1]) for each in silent) == sorted(lost)
            for side in ("controller", names["names"][5]):
                assert ohms(bench, side) == pytest.approx(120, rel=CABLE)
            other = CAN_L if names["wire_1"] == "CAN_H" else CAN_H
            cut = CAN_H if other is CAN_L else CAN_L
            ends = names["last_good"], names["first_lost"]
            assert along(bench, *ends, cut) > 100 > 10 > along(bench, *ends, other)
        else:
            readings = {name: ohms(bench, name) for name in ("controller", *names["names"])}
            assert readings["controller"] < 15
            assert min(readings, key=readings.__getitem__) == device
            assert ohms(bench, "controller", device) == pytest.approx(readings["controller"])
            assert {lamp[1] for lamp in lamps(live).values()} == {"single flash red"}
            assert len(silent) == 6
    assert seen == {0, 1, 2, 3, 4}


def test_the_settings_show_as_the_working_says() -> None:
    seen = set()
    for scenario in scenarios(LAB, PLAYED):
        _, live, working = case(scenario, "case-settings")
        names: Any = scenario.names
        number, device, node = names["case_2"], names["device_2"], names["node_2"]
        seen.add(number)
        assert device in working
        assert re.search(rf"ode {node}\b", working)
        own = " ".join(each for each in said(live) if re.search(rf"\bnode {node}\b", each))
        clause, lamp = {
            0: ("not started: no heartbeat", ("blinking green", "off")),
            1: ("its heartbeat did not come in time", None),
            2: ("its PDO has 1 byte, the list says 2", ("green", "off")),
            3: ("too short and was not taken (0x8210)", ("green", "blinking red")),
            4: ("which is not in the list, is there", ("blinking green", "off")),
            5: ("another device: its product code", ("blinking green", "off")),
            6: ("no answer", ("blinking green", "off")),
        }[number]
        assert clause in own
        assert lamp is None or lamps(live)[device] == lamp
        stranger = f"node {names['stray']}, which is not in the list, is there"
        assert (stranger in said(live)) == (number == 6)
        assert any("no answer" in each for each in said(live)) == (number == 6)
        if number == 0:
            assert lamps(live)["controller"][1] == "double flash red"
    assert seen == set(range(7))


def test_cable_or_setting_is_told_by_lamp_log_and_ohms() -> None:
    seen, off = set(), set()
    for scenario in scenarios(LAB, PLAYED):
        bench, live, working = case(scenario, "case-either")
        names: Any = scenario.names
        number, device = names["case_3"], names["device_3"]
        seen.add(number)
        missing = [each for each in said(live) if "no answer" in each]
        assert missing == [f"node {names['node_3']} no answer"]
        assert device in working
        red = {name: lamp[1] for name, lamp in lamps(live).items() if lamp[1] != "off"}
        errors = [line[0] for line in log(live) if line[1] == "error"]
        own = [line for line in log(live, device) if line[1] != "error"]
        if number == 0:
            assert red == {device: "single flash red"}
            assert not errors
        elif number == 1:
            assert red == {device: "red"}
            assert errors[0] < 0.3
            assert not own
        elif number == 2:
            assert list(red.values()) == ["red"]
            assert set(red) <= {device, names["other_3"]}
            off.add(set(red) == {device})
            boot_ups = [line[1] for line in log(live) if "has booted up" in line[2]]
            assert len(boot_ups) - len(set(boot_ups)) == 1
            assert errors[0] > 0.8
        else:
            assert red == {device: "red"}
            assert ohms(bench, device) > 1000
        if number != 3:
            assert ohms(bench, device) == pytest.approx(60, rel=CABLE)
    assert seen == {0, 1, 2, 3}
    assert off


def test_every_case_is_solved_by_its_own_right_answer() -> None:
    check = check_for("diagnosis")
    for scenario in scenarios(LAB, 6):
        for name in ("case-cable", "case-settings", "case-either"):
            made = prepared(scenario, name)
            right = check.right_answer(made.ask, made.key)
            assert check.check(made.ask, made.key, right).right


@pytest.mark.parametrize(
    ("name", "drawn", "count"),
    [("case-cable", "case_1", 5), ("case-settings", "case_2", 7), ("case-either", "case_3", 4)],
)
def test_the_faults_of_a_case_are_told_apart_at_one_place(
    name: str, drawn: str, count: int
) -> None:
    """Moved to one node of one bench, each shows otherwise than the others and than none."""
    bench, _, _ = case(scenarios(LAB, 1)[0], name)
    here, beside_it = list(bench.setup.layout.devices.values())[2:4]
    found: dict[int, dict[str, Any]] = {}
    for scenario in scenarios(LAB, DRAWS):
        fault = dict(prepared(scenario, name).key["faults"][0])
        fault |= {"device": here.name} if "device" in fault else {}
        if "connector" in fault and not fault["connector"].startswith("tap"):
            fault["connector"] = here.name
        if fault["kind"] == "address set" and name == "case-either":
            fault["address"] = beside_it.address
        names: Any = scenario.names
        found[names[drawn]] = fault
    assert len(found) == count
    faults = [frozenset({CATALOGUE.fault_from_json(fault)}) for fault in found.values()]
    benches = [Bench(bench.setup, fault) for fault in (frozenset(), *faults)]
    assert len(groups_alike(benches, recorded=True)) == 1 + count
