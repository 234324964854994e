"""What a second solver of three labs found: stories and workings against the drawn numbers.

The identifier of a poll: group 2, `10`, address, message 5, IEC 62026-3. The contacts of the taps,
0.005 ohm each: full calculation method, ODVA PUB00027R1.
"""

from __future__ import annotations

import re
from typing import Any

from course_draws import lab, scenarios

from labkit.bench.bench import Bench
from labkit.bench.situation import Situation
from labkit.doors.installed import check_for
from labkit.doors.verdict import Verdict
from labkit.families.devicenet.bench.catalogue import fault_from_json
from labkit.families.devicenet.bench.setup import Setup
from labkit.lab.draw import Scenario

DRAWS = 100
BENCHES = 60


def exercise(name: str, id_: str) -> Any:
    return next(each for each in lab(name).exercises if each.id == id_)


def working(scenario: Scenario, id_: str) -> str:
    return " ".join(exercise(scenario.lab.id, id_).working.render(scenario.names).split())


def verdict(scenario: Scenario, id_: str, answer: Any) -> Verdict:
    asked = exercise(scenario.lab.id, id_)
    prepared = scenario.prepare(asked)
    return check_for(asked.kind).check(prepared.ask, prepared.key_as_needed, answer)


# Acceptance.


def test_the_polls_identifier_ends_in_the_hexadecimal_that_is_asked_for() -> None:
    for scenario in scenarios("acceptance", DRAWS):
        identifier = 0b10 << 9 | scenario.names["frame_node"] << 3 | 5
        assert working(scenario, "write-poll").endswith(f"in hexadecimal **{identifier:X}**.")
        assert verdict(scenario, "write-poll", {"1.identifier": f"{identifier:X}"}).right


def test_an_impostor_takes_outputs_only_where_the_bench_says_so() -> None:
    told = set()
    for scenario in scenarios("acceptance", BENCHES):
        names = scenario.names
        if names["b_case"] != 0:
            continue
        prepared = scenario.prepare(exercise("acceptance", "fault-b"))
        faults = frozenset(fault_from_json(fault) for fault in prepared.key["faults"])
        bench = Bench(Setup.from_json(prepared.ask["setup"]), faults, Situation(power=True))
        twin = names["names"][names["b_twin"]]
        report = bench.trace.report(bench.layout.devices[twin].address or 0).text
        on_line = bench.trace.network_status(names["b_device"]).name != "RED"
        takes = "takes its outputs" in working(scenario, "fault-b")
        assert "switch off before you set it right" in working(scenario, "fault-b")
        if on_line:
            assert takes == (report == "OK"), (scenario.seed, report)
        told.add(takes)
    assert told == {True, False}


def test_the_model_note_names_both_faults_with_their_places() -> None:
    for scenario in scenarios("acceptance", DRAWS):
        names = scenario.names
        model = scenario.prepare(exercise("acceptance", "hand-over")).key["model"]
        assert len(model.split()) <= 220
        wiring = ["CAN_H open", "CAN_L open", "no terminator", "white and blue exchanged"]
        device = ["wrong node address", "wrong data rate", "in the scan list", "V+ open"]
        assert wiring[names["a_case"]] in model
        assert device[names["b_case"]] in model
        assert names["b_device"] in model
        assert re.search(r"read [\d.]+ Ω", model)


def test_the_record_is_judged_by_the_check_sheet_as_printed() -> None:
    for scenario in scenarios("acceptance", DRAWS):
        sheet = re.search(r"24 − 2 · [\d.]+ = ([\d.]+) V", working(scenario, "expected"))
        assert sheet is not None
        assert f"The check sheet has {sheet[1]} V" in working(scenario, "record")


def test_a_loss_without_the_contacts_is_wrong_however_it_is_rounded() -> None:
    for scenario in scenarios("acceptance", 2 * DRAWS):
        at = scenario.names["supply_at"]
        taps = [tap for tap in scenario.names["network"].taps if tap.position > at]
        cable = sum((tap.position - at) * 0.015 * tap.drop.nominal_current for tap in taps)
        for answer in (f"{cable:.3f} V", f"{cable:.2f} V"):
            assert verdict(scenario, "loss", answer).credit == 0, (scenario.seed, answer)


# Scan list and memory map.

SCAN_LIST = "scan-list-and-io-map"


def test_one_value_and_no_status_byte_is_told_what_is_missing() -> None:
    single = [s for s in scenarios(SCAN_LIST, DRAWS) if s.names["values"] == 1]
    assert single
    for scenario in single:
        prepared = scenario.prepare(exercise(SCAN_LIST, "sizes"))
        right = check_for("table").right_answer(prepared.ask, prepared.key)
        message = verdict(scenario, "sizes", {**right, "3.3": "2"}).message
        assert "two bytes" in message
        assert "status byte" in message


def test_the_words_line_is_not_the_one_whose_sizes_were_told_before() -> None:
    for scenario in scenarios(SCAN_LIST, DRAWS):
        before = scenario.prepare(exercise(SCAN_LIST, "map")).ask["devices"]
        consumed = {each["name"]: each["consumed"] for each in before}
        blocks = scenario.prepare(exercise(SCAN_LIST, "word")).ask["blocks"]
        question = exercise(SCAN_LIST, "word").question.render(scenario.names)
        same = all(consumed[block["device"]] == block["length"] for block in blocks)
        assert same or "a third line, with devices of its own" in question
