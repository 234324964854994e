"""The kind `frame` over Modbus frames: read, written, mistaken, and told in words.

Frames with their CRC from the specification's examples (application protocol V1.1b3, 6.3 and 7;
the CRC bytes from `shared/reference`) unless said otherwise.
"""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest

from labkit.doors.check import Check
from labkit.doors.installed import check_for
from labkit.doors.prepared import Prepared
from labkit.families.modbus.frame_facts import FACTS, TELLS
from labkit.families.modbus.frame_reading import FUNCTIONS, WRITE_TELLS
from labkit.families.modbus.frames import ModbusFrames, looks_like_reply
from labkit.fieldbus.errors import PlanError
from labkit.lab.draw import draw
from labkit.lab.reading import read_lab_text
from labkit.language.problems import DefinitionError

GUIDE = (Path(__file__).parents[3] / "instructors" / "authoring.md").read_text("utf-8")
OURS = GUIDE.split("### Modbus frames")[1].split("\n##")[0]
ASK = "request: read-holding-registers, address: '17', start: '107', count: '3'"
LINE = """\
---
id: frames
version: 1.0
title: Frames
network:
  family: modbus
  rate: "9600"
  trunk: "100"
  taps: {at: "[0, 100]", derivation: "[0, 0]", device: '["controller", "meter"]'}
---
"""


def prepared(exercise: str) -> tuple[Check, Prepared]:
    """The check of the exercise, and its draw."""
    lab = read_lab_text(f"{LINE}```exercise one\n{exercise}```\n")
    return check_for("frame"), draw(lab, "frames").prepare(lab.exercises[0])


def one(frame: str, more: str) -> tuple[Check, Prepared]:
    head = "kind: frame\ntitle: One\nquestion: What?\nmarks: 1\nworking: So.\n"
    return prepared(f"{head}frames:\n  - {{{frame}}}\n{more}\n")


def read(frame: str, *facts: str) -> tuple[dict[str, Any], set[str]]:
    """The right answers by fact, and the slips, each of which its own answer shows."""
    check, made = one(frame, f"fields: [{', '.join(facts)}]")
    return right_and_slips(check, made)


def right_and_slips(check: Check, made: Prepared) -> tuple[dict[str, Any], set[str]]:
    right: Any = check.right_answer(made.ask, made.key)
    assert check.check(made.ask, made.key, right).right
    slips = check.slip_answers(made.ask, made.key)
    for slip, answer in slips.items():
        verdict = check.check(made.ask, made.key, answer)
        assert (verdict.slip, verdict.right) == (slip, False)
    return {name.split(".")[1]: value for name, value in right.items()}, {*slips}


def test_a_request_is_read() -> None:
    facts = ("address", "function", "asks", "direction", "start", "number", "count", "crc")
    right, slips = read(ASK, *facts)
    assert right == {
        "address": "17",
        "function": "03",
        "asks": "read holding registers",
        "direction": "request",
        "start": "107",
        "number": "40108",
        "count": "3",
        "crc": "8776",
    }
    assert slips == {
        "hex-as-decimal", "request-for-reply", "document-number", "byte-order", "frame-address",
        "crc-order",
    }  # fmt: skip


def test_a_refusal_is_read() -> None:
    frame = "refusal: read-holding-registers, address: '17', code: '2'"
    right, slips = read(frame, "function", "error", "reason")
    assert right == {
        "function": "03",
        "error": "02",
        "reason": "no such address",
    }
    assert slips == {"exception-bit", "function-for-code"}


def test_numbers_in_a_reply_come_high_byte_first() -> None:
    numbers = (
        "count", "{label: A, first: 3, bytes: 2}", "{label: B, first: 5, bytes: 2, signed: yes}",
        "{label: C, first: 3, bytes: 4}",
    )  # fmt: skip
    right, slips = read(
        "reply: read-input-registers, address: '17', values: '[555, 65534]'", *numbers
    )
    assert right == {"count": "2", "2": "555", "3": "-2", "4": str(555 * 65536 + 65534)}
    assert {"bytes-for-entries", "byte-order", "sign-forgotten", "word-order"} <= slips


@pytest.mark.parametrize(
    ("frame", "fact", "answer"),
    [
        ("request: write-single-coil, address: '1', start: '5', values: 'true'", "value", "on"),
        ("request: write-single-register, address: '1', start: '5', values: '7'", "value", "7"),
        ("request: write-multiple-registers, address: '1', start: '5', values: '[7, 8]'",
         "count", "2"),
        ("reply: write-multiple-registers, address: '1', number: '40006', count: '2'",
         "start", "5"),
        ("request: read-coils, address: '1', number: '\"00003\"', count: '9'", "start", "2"),
        ("reply: read-coils, address: '1', values: '[true, false]'", "direction", "reply"),
        ("bytes: '[17, 3, 0, 107, 0, 3, 118, 135]'", "number", "40108"),
        ("bytes: '[17, 131, 2, 193, 52]'", "error", "02"),
    ],
)  # fmt: skip
def test_every_way_to_describe_a_frame(frame: str, fact: str, answer: str) -> None:
    right, _ = read(frame, fact)
    assert right == {fact: answer}


def test_a_request_is_written_and_its_mistakes_keep_the_crc_that_was_given() -> None:
    check, made = one(ASK, "task: write")
    right, slips = right_and_slips(check, made)
    assert right == {"data": "11 03 00 6B 00 03 76 87"}
    answers: Any = check.slip_answers(made.ask, made.key)
    assert {slip: answer["1.data"] for slip, answer in answers.items()} == {
        "crc-order": "11 03 00 6B 00 03 87 76",
        "no-crc": "11 03 00 6B 00 03",
        "document-number": "11 03 00 6C 00 03 76 87",
        "table-digit": "11 03 9C AC 00 03 76 87",
        "byte-order": "11 03 6B 00 03 00 76 87",
    }
    verdict = check.check(made.ask, made.key, {"1.data": "11 03 00 6B 00 02 B7 47"})
    assert "device 17 is to read 2 holding registers from address 107 on" in verdict.message
    assert slips == {*answers}


def test_a_refusal_and_two_registers_are_written() -> None:
    _, slips = right_and_slips(*one("refusal: read-coils, address: '17', code: '2'", "task: write"))
    assert "exception-bit" in slips
    write = "request: write-multiple-registers, address: '5', start: '1', values: '[1, 2]'"
    right, slips = right_and_slips(*one(write, "task: write"))
    assert right["data"].startswith("05 10 00 01 00 02 04 00 01 00 02 ")
    assert {"word-order", "decimal-for-hex", "crc-order"} <= slips


@pytest.mark.parametrize(
    ("frame", "said"),
    [
        ("address: '17'", "needs one of 'request', 'reply', 'refusal'"),
        ("request: read-holding, address: '17'", "Did you mean 'read-holding-registers'?"),
        ("request: read-coils, address: '17', start: '0'", "needs 'count'"),
        ("request: read-coils, address: '248', start: '0', count: '1'", "248"),
        ("request: read-coils, address: '0', start: '0', count: '1'", "nothing can be read"),
        ("request: read-coils, address: '1', start: '0', count: '2001'", "2000"),
        ("request: read-coils, address: '1', start: '0', number: '1', count: '1'", "say the same"),
        ("refusal: read-coils, address: '1', count: '1', code: '1'", "'count' has no use"),
        ("bytes: '[1, 2]', address: '1'", "nothing beside 'bytes'"),
        ("bytes: '[17, 3, 0, 107, 0, 3, 135, 118]'", "the low byte goes first"),
        ("reply: read-input-registers, address: '1', values: '[1, 2, 3, 4, 5, 6, 7, 8, 9, 9, 9]'",
         "room for 26"),
        ("request: write-single-register, address: '1', start: '0', values: '[1, 2]'",
         "writes one value"),
        ("request: write-single-register, address: '1', start: '0', values: '0.5'",
         "no whole number"),
        ("request: write-single-register, address: '1', start: '0', values: '70000'",
         "outside 0 to 65535"),
    ],
)  # fmt: skip
def test_what_is_no_frame_is_told(frame: str, said: str) -> None:
    with pytest.raises(DefinitionError) as caught:
        one(frame, "fields: [address]")
    problem = caught.value.problems[0]
    assert said in f"{problem.message} {problem.mend}"
    assert problem.place.field.startswith("exercise 'one': frames → number 1")


def test_a_fact_that_a_frame_does_not_say_is_refused_in_the_lab() -> None:
    for frame, fact in (
        (ASK, "error"), (ASK, "value"),
        ("refusal: read-coils, address: '1', code: '2'", "start"),
        ("refusal: read-coils, address: '1', code: '9'", "reason"),
        ("reply: read-coils, address: '1', values: '[true]'", "count"),
    ):  # fmt: skip
        with pytest.raises(DefinitionError, match="cannot be asked here"):
            one(frame, f"fields: [{fact}]")


def test_frames_in_words() -> None:
    def told(*frames: str) -> list[str]:
        return ModbusFrames().in_words([(0, bytes.fromhex(frame)) for frame in frames])

    assert told("11 03 00 6B 00 03 76 87", "11 83 02 C1 34") == [
        "device 17 is to read 3 holding registers from address 107 on (40108 in documents)",
        "device 17 answers: no to function 03, the device does not have all of these addresses",
    ]
    coil = "01 05 00 05 FF 00 9C 3B"
    assert told(coil, coil) == [
        "device 1 is to switch coil 5 (00006 in documents) on",
        "device 1 answers: coil 5 (00006 in documents) switched on",
    ]
    assert "low byte goes first" in told("11 03 00 6B 00 03 87 76")[0]
    assert told("11")[0].startswith("nothing that a device takes")
    with pytest.raises(PlanError, match="has no identifier"):
        ModbusFrames().identifier_in_words(3)


def test_a_reply_is_told_from_a_request_by_its_length() -> None:
    for message, reply in (
        ("03 00 6B 00 03", False), ("03 03 00 00 02", False), ("03 06 02 2B 00 00 00 64", True),
        ("83 02", True),
        ("10 00 01 00 02", True), ("10 00 01 00 01 02 00 01", False), ("06 00 01 00 03", False),
        ("01 01 05", True),
    ):  # fmt: skip
        assert looks_like_reply(bytes.fromhex(message)) is reply


def test_the_guides_exercise_is_read_and_right() -> None:
    [block] = re.findall(r"```yaml\n(.*?)```", OURS, re.DOTALL)
    right, slips = right_and_slips(*prepared(block))
    assert right["number"] == "40108"
    assert slips <= {*TELLS}


def test_the_guide_names_every_function_fact_and_mistake() -> None:
    for name in (*FACTS, *TELLS, *WRITE_TELLS):
        assert f"`{name}`" in OURS, name
    for name in FUNCTIONS:
        assert f"`{name}`" in OURS, name
