"""The lab of the registers, worked out once more from what a trainee reads.

Frames, exceptions and 32-bit numbers: pymodbus, which knows no silences. Characters, addresses and
silences: MODBUS over Serial Line V1.02; numbers from 1, addresses from 0: application protocol
V1.1b3.
"""

from __future__ import annotations

import re
from itertools import pairwise
from typing import Any

import pytest
from course_draws import lab, of, prepared, rows_of, scenarios
from pymodbus.client.mixin import ModbusClientMixin
from pymodbus.framer import FramerRTU
from pymodbus.pdu import DecodePDU, ModbusPDU

from labkit.doors.installed import check_for
from labkit.lab.draw import Scenario
from labkit.language.expression import Prose

LAB = "modbus-registers"
DRAWS = 60
ROW = tuple[list[str], list[Any]]
READ_BY = {"0": "01", "1": "02", "3": "04", "4": "03"}


def question(scenario: Scenario, name: str) -> str:
    return " ".join(of(scenario, name).question.render(scenario.names).split())


def right_option(scenario: Scenario, name: str) -> str:
    """The text of the option that is right."""
    made = prepared(scenario, name)
    return str(
        next(each["text"] for each in made.ask["options"] if each["id"] == made.key["right"])
    )


def printed(scenario: Scenario) -> str:
    """All prose between the exercises."""
    return "\n".join(
        part.render(scenario.names) for part in scenario.lab.body if isinstance(part, Prose)
    )


def sheets(scenario: Scenario) -> dict[str, tuple[str, str]]:
    """Of each entry of the two data sheets: its number, and what it holds."""
    found = re.findall(r"^\| ([a-z ]+) \| (\d{5})[^|]* \| ([^|]+) \|$", printed(scenario), re.M)
    return {entry: (number, holds) for entry, number, holds in found}


def theirs(frame: bytes, *, request: bool) -> ModbusPDU:
    """What pymodbus makes of a frame: it must take all of it, its CRC too."""
    used, made = FramerRTU(DecodePDU(request)).handleFrame(frame, 0, 0)
    assert used == len(frame)
    assert made is not None
    return made


def plain(cell: str) -> str:
    """Bytes that stand on one line are tied together by other blanks."""
    return cell.replace("\u00a0", " ")


def with_crc(data: bytes) -> bytes:
    """By pymodbus, which gives a number whose high byte is sent first."""
    return data + FramerRTU.compute_CRC(data).to_bytes(2, "big")


def test_one_form_alone_is_in_all_lists_and_has_eleven_bits() -> None:
    shown = set()
    for scenario in scenarios(LAB, DRAWS):
        lists = re.findall(r"- [a-z ]+: ((?:8\w\d(?:, )?)+)", question(scenario, "form"))
        assert len(lists) == 4
        common = set.intersection(*(set(each.split(", ")) for each in lists))
        bits = {form: 1 + 8 + (form[1] != "N") + int(form[2]) for form in {*common, "8N1"}}
        assert [form for form, count in bits.items() if count == 11] == [
            right_option(scenario, "form")
        ]
        shown |= common
    assert shown == {"8E1", "8O1", "8N2"}


def test_a_device_fits_by_rate_form_and_an_address_that_is_free() -> None:
    told = set()
    for scenario in scenarios(LAB, DRAWS):
        made = prepared(scenario, "settings")
        line = re.search(
            r"at (\d+) bit/s, (\w+), .* (\d+) and (\d+) are", question(scenario, "settings")
        )
        assert line is not None
        wrong = set()
        for box in made.ask["boxes"]:
            address, rate, form = re.search(  # type: ignore[union-attr]
                r"address (\d+), (\d+) bit/s, (\w+)$", box["text"]
            ).groups()
            same = (rate, form) == (line[1], line[2])
            if not same or address in (line[3], line[4]) or not 1 <= int(address) <= 247:
                wrong.add(box["id"])
        assert set(made.key["right"]) == wrong
        told.add(len(wrong))
    assert told == {3, 4}


def test_the_switches_say_the_address_and_the_rate_of_the_line() -> None:
    for scenario in scenarios(LAB, DRAWS):
        text = question(scenario, "switches")
        address, rate = re.search(r"Set address (\d+) and (\d+) bit/s", text).groups()  # type: ignore[union-attr]
        made = prepared(scenario, "switches")
        setting = check_for("switches").right_answer(made.ask, made.key)
        worth = sum(2**at for at in range(8) if setting[at] == "1")
        assert worth == int(address)
        assert setting[8:] == {"9600": "00", "19200": "10"}[rate]
        [named] = [
            device.address
            for tap in scenario.network.taps
            for derivation in tap.derivations
            for device in derivation.devices
            if f"cover of the {device.name}." in text
        ]
        assert named == worth


def test_function_and_address_follow_from_the_number_of_the_sheet() -> None:
    entries = {
        "active power": "read the active power",
        "phase alarm": "read the phase alarm",
        "energy": "read the energy",
        "set frequency": "write the set frequency",
        "fault reset": "switch the fault reset on",
    }
    back = "read the set frequency back"
    for scenario in scenarios(LAB, DRAWS):
        sheet = sheets(scenario)
        of_task = {task: sheet[entry][0] for entry, task in entries.items()}
        of_task[back] = sheet["set frequency"][0]
        for [task], [function, address] in rows_of(scenario, "numbers"):
            number = of_task[task]
            by = {"write": "06", "switch": "05"}.get(task.split()[0], READ_BY[number[0]])
            assert (function, address) == (by, int(number[1:]) - 1), task


def test_the_request_for_the_energy_is_the_one_that_pymodbus_reads() -> None:
    for scenario in scenarios(LAB, DRAWS):
        number, holds = sheets(scenario)["energy"]
        frame = bytes.fromhex(str(right_bytes(scenario, "ask")))
        asked = theirs(frame, request=True)
        assert asked.dev_id == scenario.names["nodes"][1]
        assert asked.function_code == int(READ_BY[number[0]])
        assert (asked.address, asked.count) == (int(number[1:]) - 1, 2)
        assert "32 bits" in holds
        crc = re.search(r"16#([0-9A-F]{4})", question(scenario, "ask"))
        assert crc is not None
        assert bytes.fromhex(crc[1])[::-1] == frame[-2:]


def right_bytes(scenario: Scenario, name: str) -> str:
    made = prepared(scenario, name)
    [answer] = check_for("frame").right_answer(made.ask, made.key).values()
    return str(answer)


def test_request_and_answer_say_what_pymodbus_reads_in_them() -> None:
    signs = set()
    for scenario in scenarios(LAB, DRAWS):
        made = prepared(scenario, "answered")
        request, reply = (
            bytes(int(byte, 16) for byte in each["data"]) for each in made.ask["frames"]
        )
        asked, told = theirs(request, request=True), theirs(reply, request=False)
        number, _ = sheets(scenario)["frequency"]
        right = [cell["value"] for cell in made.key["cells"].values()]
        assert right[:3] == [asked.dev_id, int(number), asked.count]
        assert asked.address == int(number[1:]) - 1
        kind = ModbusClientMixin.DATATYPE.INT16
        assert right[3:] == [
            ModbusClientMixin.convert_from_registers([each], kind) for each in told.registers
        ]
        assert asked.count == len(told.registers)
        signs.add(right[4] < 0)
    assert signs == {True, False}


def test_a_signed_register_is_above_its_limit_only_where_its_value_is() -> None:
    kind = ModbusClientMixin.DATATYPE.INT16
    for scenario in scenarios(LAB, DRAWS):
        lines = re.findall(
            r"- ([a-z ]+): 16#([0-9A-F]{4}), in steps of ([\d.]+) \S+, limit ([\d.]+)",
            question(scenario, "limits"),
        )
        rows = rows_of(scenario, "limits")
        negative = above = 0
        for (entry, held, step, limit), ([shown], [value, over]) in zip(lines, rows, strict=True):
            meant = ModbusClientMixin.convert_from_registers([int(held, 16)], kind)
            assert isinstance(meant, int)
            assert entry == shown
            assert value == pytest.approx(meant * float(step))
            assert over == ("yes" if meant * float(step) > float(limit) else "no")
            negative += meant < 0
            above += over == "yes"
        assert negative >= 1
        assert above >= 1


def test_the_sheet_tells_the_word_order_of_the_energy() -> None:
    orders = set()
    for scenario in scenarios(LAB, DRAWS):
        _, holds = sheets(scenario)["energy"]
        words = [
            int(each, 16) for each in re.findall(r"16#([0-9A-F]{4})", question(scenario, "energy"))
        ]
        step, first = re.search(r"in ([\d.]+) kWh; .* holds the (\w+) word", holds).groups()  # type: ignore[union-attr]
        count = ModbusClientMixin.convert_from_registers(
            words,
            ModbusClientMixin.DATATYPE.UINT32,
            word_order="little" if first == "low" else "big",
        )
        assert isinstance(count, int)
        assert prepared(scenario, "energy").key["value"] == pytest.approx(count * float(step))
        orders.add(first)
    assert orders == {"high", "low"}


def test_one_order_alone_makes_sense_of_the_counter() -> None:
    orders = set()
    for scenario in scenarios(LAB, DRAWS):
        text = question(scenario, "plausible")
        days, before, day = map(
            int, re.findall(r"counter (\d+) days ago showed (\d+) m³; about (\d+) m³", text)[0]
        )
        halves = "".join(re.findall(r"16#([0-9A-F]{4})", text))
        pieces = [halves[at : at + 2] for at in range(0, 8, 2)]
        sense = []
        for order in ("ABCD", "CDAB", "BADC", "DCBA"):
            by_letter = dict(zip(order, pieces, strict=True))
            count = int("".join(by_letter[letter] for letter in "ABCD"), 16)
            if abs(count - before - days * day) < 10 * day:
                sense.append(order)
        said = right_option(scenario, "plausible")
        assert sense == [re.sub(r"[^A-D]", "", said)]
        orders.add(said)
    assert len(orders) == 4


def test_a_refusal_is_read_by_its_code_and_silence_by_the_wires() -> None:
    first = {1: "the function", 2: "address or count", 3: "the value", 4: "the device itself"}
    seen = set()
    for scenario in scenarios(LAB, DRAWS):
        for [sent, came], [right] in rows_of(scenario, "refusals"):
            asked = theirs(with_crc(bytes.fromhex(plain(sent))), request=True)
            seen.add(right)
            if came == "nothing":
                assert right == "settings and wires"
                continue
            told = theirs(with_crc(bytes.fromhex(plain(came))), request=False)
            assert told.isError()
            assert told.dev_id == asked.dev_id
            assert told.function_code == asked.function_code + 0x80
            assert right == first[told.exception_code]
    assert seen == {*first.values(), "settings and wires"}


def test_the_set_frequency_is_written_as_pymodbus_would_write_it() -> None:
    for scenario in scenarios(LAB, DRAWS):
        number, holds = sheets(scenario)["set frequency"]
        hertz = int(re.search(r"to get (\d+) Hz", question(scenario, "set-value"))[1])  # type: ignore[index]
        step = float(re.search(r"in ([\d.]+) Hz", holds)[1])  # type: ignore[index]
        sizes = (1, 1, 2, 2)
        right = [value for _, [value] in rows_of(scenario, "set-value")]
        data = b"".join(
            value.to_bytes(size, "big") for value, size in zip(right, sizes, strict=True)
        )
        asked = theirs(with_crc(data), request=True)
        assert asked.function_code == 6
        assert asked.dev_id == scenario.names["nodes"][2]
        assert asked.address == int(number[1:]) - 1
        assert asked.registers[0] * step == pytest.approx(hertz)


def polls_of(scenario: Scenario) -> list[tuple[int, int]]:
    """Registers and response time of each device, as the table of part 5 has them."""
    found = re.findall(r"^\| [a-z ]+ \| (\d+) \| (\d+) ms \|$", printed(scenario), re.M)
    assert len(found) == 5
    return [(int(count), int(response)) for count, response in found]


def silence_ms(rate: int) -> float:
    """V1.02, 2.5.1.1: 3.5 characters of 11 bits; 1.75 ms above 19,200 bit/s."""
    return 3.5 * 11_000 / rate if rate <= 19_200 else 1.75


def test_the_time_out_is_the_shortest_that_holds_twice_the_longest_answer() -> None:
    chosen = set()
    for scenario in scenarios(LAB, DRAWS):
        rate = int(re.search(r"at (\d+) bit/s", question(scenario, "time-out"))[1])  # type: ignore[index]
        longest = max(
            silence_ms(rate) + response + (5 + 2 * count) * 11_000 / rate
            for count, response in polls_of(scenario)
        )
        right = right_option(scenario, "time-out")
        options = sorted(
            int(each["text"].split()[0]) for each in prepared(scenario, "time-out").ask["options"]
        )
        assert right == f"{next(each for each in options if each >= 2 * longest)} ms"
        chosen.add(right)
    assert {"200 ms", "300 ms", "400 ms", "500 ms"} <= chosen


def test_the_rate_is_the_slowest_whose_round_is_short_enough() -> None:
    chosen = set()
    for scenario in scenarios(LAB, DRAWS):
        wanted = int(re.search(r"every (\d+) ms", question(scenario, "rate"))[1])  # type: ignore[index]
        rounds = {
            rate: sum(
                (13 + 2 * count) * 11_000 / rate + 2 * silence_ms(rate) + response
                for count, response in polls_of(scenario)
            )
            for rate in (9600, 19200, 38400)
        }
        fast_enough = [rate for rate, taken in rounds.items() if taken <= wanted]
        right = right_option(scenario, "rate")
        assert right == (f"{fast_enough[0]} bit/s" if fast_enough else right)
        assert right.startswith("None") == (not fast_enough)
        # Three figures are enough: nobody is wrong by a rounding.
        assert all(abs(taken - wanted) > 5 for taken in rounds.values())
        chosen.add(right)
    assert len(chosen) == 4


def test_the_ages_are_those_of_the_plans_played_through() -> None:
    chosen = set()
    for scenario in scenarios(LAB, DRAWS):
        text = " ".join(printed(scenario).split())
        poll_ms = {
            name: int(taken)
            for name, taken in re.findall(r"(level|counter|valve|heater) (\d+) ms", text)
        }
        request, wait = re.search(r"request takes (\d+) ms, .* of (\d+) ms runs", text).groups()  # type: ignore[union-attr]
        poll_ms["fan"] = int(request) + int(wait)
        lists = re.findall(r"((?:\w+, ){5,})and again", text)
        plans = {
            plan: each.rstrip(", ").split(", ") for plan, each in zip("AB", lists, strict=True)
        }
        ages = {plan: oldest(order, poll_ms) for plan, order in plans.items()}
        for [plan], right in rows_of(scenario, "ages"):
            assert right == [ages[plan]["level"], ages[plan]["counter"]]
        level, counter = map(int, re.findall(r"(\d+) ms", question(scenario, "plan")))
        good = [
            plan
            for plan, age in ages.items()
            if age["level"] <= level and age["counter"] <= counter
        ]
        option = right_option(scenario, "plan")
        assert (
            option.split(":")[0]
            == {"A": "Plan A", "B": "Plan B", "AB": "Either", "": "Neither"}["".join(good)]
        )
        chosen.add(option)
    assert len(chosen) == 4


def oldest(order: list[str], poll_ms: dict[str, int]) -> dict[str, int]:
    """The longest time from one value of a device to its next, over three rounds of a plan."""
    ends: dict[str, list[int]] = {}
    now = 0
    for name in order * 3:
        now += poll_ms[name]
        ends.setdefault(name, []).append(now)
    return {name: max(b - a for a, b in pairwise(each)) for name, each in ends.items()}


def test_nobody_writes_to_a_drive_that_may_start() -> None:
    """Each of the dangerous orders earns nothing and says why."""
    scenario = scenarios(LAB, 1)[0]
    made, check = prepared(scenario, "before-writing"), check_for("sequence")
    right = check.right_answer(made.ask, made.key)
    answers = check.slip_answers(made.ask, made.key)
    for danger in ("written-unlocked", "not-told", "run-unproved"):
        verdict = check.check(made.ask, made.key, answers[danger])
        assert verdict.credit == 0
        assert len(verdict.message) > 40
    assert check.check(made.ask, made.key, right).right


def test_the_caution_stands_before_the_first_exercise_and_above_the_writing() -> None:
    text = printed(scenarios(LAB, 1)[0])
    assert text.count("> **Caution.**") == 2
    for words in ("a drive may start", "never into a running process", "licensed electricians"):
        assert words in " ".join(text.replace("\n>", "\n").split())


def test_a_trap_of_every_exercise_is_told() -> None:
    told = set()
    for scenario in scenarios(LAB, 30):
        for exercise in lab(LAB).exercises:
            made = scenario.prepare(exercise)
            slips = check_for(exercise.kind).slip_answers(made.ask, made.key)
            told |= {(exercise.id, slip) for slip in slips}
    assert {
        ("form", "ten-bits"),
        ("switches", "address-reversed"),
        ("numbers", "digit-for-function"),
        ("numbers", "document-number"),
        ("ask", "document-number"),
        ("ask", "crc-order"),
        ("answered", "sign-forgotten"),
        ("limits", "sign-forgotten"),
        ("limits", "sign-forgotten-alarm"),
        ("energy", "words-exchanged"),
        ("energy", "one-register"),
        ("refusals", "refusal-for-silence"),
        ("set-value", "step-forgotten"),
        ("time-out", "w1000"),
        ("ages", "level-once"),
    } <= told
