"""The lab of identity and configuration, worked out once more from what a trainee reads.

Sheets by the standard library's INI reader; time-out of four packet rates: public scanner manuals;
frames of 47 + 8 n bits: ISO 11898-1; seven data bytes a fragment, and a revision that fits with the
same major and no lower minor number: from memory of IEC 62026-3 and the CIP common specification.
"""

from __future__ import annotations

import re
from configparser import ConfigParser
from dataclasses import replace
from typing import Any

from course_draws import of, prepared, rows_of, scenarios

from labkit.bench.bench import Bench
from labkit.bench.front import BenchFront
from labkit.bench.mending import mend
from labkit.bench.situation import Situation
from labkit.doors.installed import check_for
from labkit.families.devicenet.bench.measurements import ScannerReport
from labkit.families.devicenet.bench.setup import Setup
from labkit.families.devicenet.bench_reading import fault_of
from labkit.fieldbus.devicenet.connections import Allocation
from labkit.fieldbus.devicenet.indicators import Indicator
from labkit.fieldbus.devicenet.node import Link, Node, NodeState
from labkit.fieldbus.devicenet.startup import Received, react
from labkit.lab.draw import Scenario

LAB = "identity-and-configuration"
DRAWS = 60
BENCHES = 8
LIVE = Situation(power=True)
PLUG = (
    "It is another product, by its maker.",
    "",
    "It is another product, by its product code.",
    "Nothing wrong. It takes the device.",
    "There is no answer.",
)
PLANNED = "the planned product"


def asked(scenario: Scenario, name: str) -> str:
    return " ".join(of(scenario, name).question.render(scenario.names).split())


def right_option(scenario: Scenario, name: str) -> str:
    """The text of the option that is right."""
    made = prepared(scenario, name)
    return str(next(o["text"] for o in made.ask["options"] if o["id"] == made.key["right"]))


def plain(cell: str) -> str:
    """Bytes that stand on one line are tied together by other blanks."""
    return cell.replace("\u00a0", " ")


def low_first(text: str) -> int:
    return int.from_bytes(bytes.fromhex(text), "little")


def pieces_of(count: int, size: int) -> list[int]:
    """`count` things in pieces of at most `size`."""
    return [min(size, count - at) for at in range(0, count, size)]


def sheets(scenario: Scenario) -> dict[str, ConfigParser]:
    """The data sheets as they stand in the question, by their names."""
    found = {}
    said = of(scenario, "entries").question.render(scenario.names)
    for block in re.findall(r"~~~\n(.*?)\n~~~", said, re.S):
        reader = ConfigParser()
        reader.read_string(block)
        found[reader["device"]["name"]] = reader
    return found


def test_who_is_told_at_the_first_question() -> None:
    seen = set()
    for scenario in scenarios(LAB, DRAWS):
        said = asked(scenario, "same-plug")
        planned = [int(n) for n in re.findall(r"(?:maker|type|code) (\d+)", said)[:3]]
        plate = [int(n) for n in re.findall(r"says (\d+), (\d+), (\d+);", said)[0]]
        node, switches, *_ = re.findall(r"node (\d+)", said)
        pairs = zip(PLUG[:3], planned, plate, strict=True)
        first = next((words for words, a, b in pairs if a != b), PLUG[3])
        right = right_option(scenario, "same-plug")
        seen.add(right)
        assert right == (PLUG[4] if node != switches else first), scenario.seed
    assert seen == {PLUG[0], PLUG[2], PLUG[3], PLUG[4]}


def test_answers_are_compared_with_the_plan_low_byte_first() -> None:
    names = ("another maker", "another device type", "another product code")
    for scenario in scenarios(LAB, DRAWS):
        verdicts = []
        for (_, plan, answers), [right] in rows_of(scenario, "compare"):
            planned = [int(number) for number in plain(plan).split(" · ")]
            told = [low_first(each) for each in plain(answers).split(" · ")]
            pairs = zip(names, planned, told, strict=True)
            first = next((name for name, a, b in pairs if a != b), PLANNED)
            assert right == first, scenario.seed
            verdicts.append(right)
        assert PLANNED in verdicts
        assert set(verdicts) != {PLANNED}


def test_the_store_is_searched_by_maker_type_code_and_revision() -> None:
    pattern = r"maker (\d+), type (\d+), code (\d+),? (?:and )?revision (\d+)\.(\d+)"
    for scenario in scenarios(LAB, DRAWS):
        ask = prepared(scenario, "store").ask
        [planned] = re.findall(pattern, asked(scenario, "store"))
        maker, kind, code, major, minor = map(int, planned)
        fit = []
        for box in ask["boxes"]:
            [numbers] = re.findall(pattern, box["text"])
            *product, its_major, its_minor = map(int, numbers)
            if product == [maker, kind, code] and its_major == major and its_minor >= minor:
                fit.append(box["id"])
        assert sorted(prepared(scenario, "store").key["right"]) == sorted(fit), scenario.seed


def test_entries_are_in_the_sheets_that_stand_in_the_question() -> None:
    met = set()
    for scenario in scenarios(LAB, DRAWS):
        found = sheets(scenario)
        for (name, needed), [kind, bytes_in, bytes_out] in rows_of(scenario, "entries"):
            section = found[name][kind]
            met.add((name, needed, kind))
            bits = int(section["input bits"]), int(section.get("output bits", "0"))
            assert (bytes_in, bytes_out) == tuple(len(pieces_of(n, 8)) for n in bits)
    assert len(met) == 5


def test_the_right_file_has_the_code_and_the_major_revision_of_the_device() -> None:
    for scenario in scenarios(LAB, DRAWS):
        code, revision = re.findall(r"`([0-9A-F ]+)`", asked(scenario, "wrong-file"))
        wanted = (low_first(code), *bytes.fromhex(revision)[:1])
        key = prepared(scenario, "wrong-file")
        fit = [
            option["id"]
            for option in key.ask["options"]
            for c, r in re.findall(r"code (\d+), revision (\d+)\.", option["text"])
            if (int(c), int(r)) == wanted
        ]
        assert fit == [key.key["right"]], scenario.seed


def test_the_address_goes_to_node_63_as_attribute_1_of_class_3() -> None:
    for scenario in scenarios(LAB, 5):
        said = asked(scenario, "set-address")
        [node] = re.findall(r"to node \*\*(\d+)\*\*", said)
        found, check = prepared(scenario, "set-address"), check_for("frame")
        answer = check.right_answer(found.ask, found.key)
        assert check.check(found.ask, found.key, answer).right
        assert f"00 10 03 01 01 {int(node):02X}" in str(answer).upper().replace("'", "")
        assert "5FC" in str(answer).upper()


def test_what_comes_back_is_what_such_a_device_sends() -> None:
    """By the library's own device, whose answers are tested for themselves."""
    link = Link(Allocation.EXPLICIT, 2500)
    for by_message, node, right in (
        (False, 20, "set its switches"),
        (True, 64, "correct the value"),
        (True, 20, "nothing more: it is set"),
    ):
        new = Node(63, 412, 9, address_by_message=by_message)
        device = replace(new, state=NodeState.ALLOCATED, master=0, links=(link,))
        asked_for = Received(0x5FC, bytes((0, 0x10, 3, 1, 1, node)))
        answer, *check = react(device, asked_for).frames
        if check:
            seen = f"two checks for node {check[0].identifier.address}"
        else:
            seen = f"the answer {answer.data.hex(' ').upper()}"
        told = {
            answered
            for scenario in scenarios(LAB, DRAWS)
            for [given], [answered] in rows_of(scenario, "set-answer")
            if given.replace(f"node {scenario.names['set_to']},", "node 20,").startswith(seen)
        }
        assert told == {right}, seen


def test_the_heartbeat_is_the_longest_whose_four_are_noticed_in_time() -> None:
    for scenario in scenarios(LAB, DRAWS):
        said = asked(scenario, "heartbeat")
        stations, most = (int(n) for n in re.findall(r"^(\d+) push.* within (\d+) ms", said)[0])
        rows = rows_of(scenario, "heartbeat")
        [beat], [lost_after], [frames], [lost_at] = (right for _, right in rows)
        kept = [each for each in (50, 100, 250, 500, 1000) if 4 * each <= most]
        assert int(beat) == max(kept)
        assert lost_after == 4 * max(kept)
        assert frames * max(kept) == stations * 2 * 1000
        [last] = re.findall(r"came at ([\d.]+) s", rows[3][0][0])
        assert abs(lost_at - float(last) - lost_after / 1000) < 0.001


def test_a_long_answer_goes_in_pieces_of_seven() -> None:
    fits = set()
    for scenario in scenarios(LAB, DRAWS):
        said = asked(scenario, "fragments")
        out, size = (int(n) for n in re.findall(r"(\d+) bytes out, (\d+) bytes in", said)[0])
        [spare], [rate] = re.findall(r"has ([\d.]+) ms", said), re.findall(r"at (\d+) kbit", said)
        pieces = pieces_of(size, 7)
        bits = sum(47 + 8 * (piece + 1) for piece in pieces)
        took = (bits + 47 + 8 * out) / int(rate)
        right = [value for _, [value] in rows_of(scenario, "fragments")]
        verdict = "it fits" if took <= float(spare) else "it is too long"
        assert right == [len(pieces), pieces[-1], bits, verdict], scenario.seed
        fits.add(verdict)
    assert len(fits) == 2


def _bench(scenario: Scenario) -> tuple[Setup, list[Any]]:
    setup = Setup.from_json(prepared(scenario, "replaced").ask["setup"])
    return setup, [fault_of(each, setup) for each in scenario.names["bench_faults"]]


def test_what_the_working_says_is_what_the_bench_shows_and_what_mends_it() -> None:
    met = set()
    for scenario in scenarios(LAB, BENCHES):
        setup, faults = _bench(scenario)
        case, place = scenario.names["bench_case"], scenario.names["bench_place"]
        met.add(case)
        bench = Bench(setup, frozenset(faults), LIVE)
        name, node = scenario.names["names"][place], scenario.names["nodes"][place]
        report = ScannerReport().take(bench).text
        told = re.search(rf"\bnode {node} ([^;]*)", report)
        assert told is not None, report
        expected = ("another product", "sizes differ", "no answer")[case]
        assert told[1].startswith(expected), (scenario.seed, report)
        assert report.count("OK") == len(setup.entries) - 1
        assert bench.trace.network_status(name) is Indicator.FLASHING_GREEN
        front = BenchFront(setup, faults=faults, start=LIVE)
        front.take({"kind": "power off"})
        for step in [each for fault in faults for each in mend(setup, fault)]:
            assert not front.take(step)["refused"]
        assert front.session is not None
        assert front.session.bench.faults == frozenset()
    assert met == {0, 1, 2}
