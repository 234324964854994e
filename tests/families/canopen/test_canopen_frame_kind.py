"""The kind `frame` over CANopen frames: read, written, mistaken, and told in words."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest

from labkit.doors.check import Check
from labkit.doors.installed import check_for
from labkit.doors.prepared import Prepared
from labkit.families.canopen.frame_facts import FACTS, TELLS
from labkit.families.canopen.frame_reading import MESSAGES, STATES, WRITE_TELLS
from labkit.families.canopen.frames import CanopenFrames
from labkit.families.canopen.message_functions import COMMANDS
from labkit.fieldbus.errors import PlanError
from labkit.lab.draw import draw
from labkit.lab.reading import read_lab_text
from labkit.language.problems import DefinitionError

GUIDE = (Path(__file__).parents[3] / "instructors" / "authoring.md").read_text("utf-8")
OURS = GUIDE.split("### CANopen frames")[1].split("\n##")[0]
HEAD = """\
---
id: frames
version: 1.0
title: Frames
network:
  family: canopen
  rate: "500"
  length: "20"
  nodes: {at: "[0, 20]", stub: "[0, 0]", name: '["controller", "drive"]'}
---
"""
WRITE = "message: sdo-write, node: '16', index: '4119', value: '1000', size: '2'"


def prepared(exercise: str) -> tuple[Check, Prepared]:
    lab = read_lab_text(f"{HEAD}```exercise one\n{exercise}```\n")
    return check_for("frame"), draw(lab, "frames").prepare(lab.exercises[0])


def one(frame: str, more: str) -> tuple[Check, Prepared]:
    head = "kind: frame\ntitle: One\nquestion: What?\nmarks: 1\nworking: So.\n"
    return prepared(f"{head}frames:\n  - {{{frame}}}\n{more}\n")


def right_and_slips(check: Check, made: Prepared) -> tuple[dict[str, Any], dict[str, Any]]:
    right: Any = check.right_answer(made.ask, made.key)
    assert check.check(made.ask, made.key, right).right
    slips: Any = check.slip_answers(made.ask, made.key)
    for slip, answer in slips.items():
        verdict = check.check(made.ask, made.key, answer)
        assert (verdict.slip, verdict.right) == (slip, False)
    return {name.split(".")[1]: value for name, value in right.items()}, slips


def read(frame: str, *facts: str) -> tuple[dict[str, Any], set[str]]:
    right, slips = right_and_slips(*one(frame, f"fields: [{', '.join(facts)}]"))
    return right, {*slips}


def test_a_write_is_read() -> None:
    right, slips = read(WRITE, "object", "node", "index", "subindex", "value", "size")
    assert right == {
        "object": "SDO, client to server",
        "node": "16",
        "index": "1017",
        "subindex": "0",
        "value": "1000",
        "size": "2",
    }
    assert {"other-direction", "identifier-for-node", "byte-order", "hex-as-decimal"} <= slips


@pytest.mark.parametrize(
    ("frame", "fact", "answer"),
    [
        ("message: sdo-abort, node: '5', index: '4096', code: '100728834'", "code", "06010002"),
        ("message: sdo-abort, node: '5', index: '4096', code: '100728834'", "reason",
         "the object can only be read, not written"),
        ("message: sdo-answer, node: '5', index: '8192', value: '-5', size: '2'", "value", "65531"),
        ("message: sdo-read, node: '5', index: '4120', subindex: '2'", "subindex", "2"),
        ("message: sdo-written, node: '5', index: '4119'", "object", "SDO, server to client"),
        ("message: nmt, command: start", "to", "0"),
        ("message: nmt, command: reset-node, node: '7'", "command", "reset node"),
        ("message: heartbeat, node: '5', state: stopped", "state", "stopped"),
        ("identifier: '1797', data: '[133]'", "state-number", "5"),
        ("identifier: '1797', data: '[133]'", "toggle", "1"),
        ("message: boot-up, node: '5'", "state", "initialising"),
        ("message: emergency, node: '5', code: '33072', bits: '17'", "error", "8130"),
        ("message: tpdo1, node: '5', data: '[80, 2]'", "object", "transmit PDO 1"),
        ("message: sync", "object", "SYNC"),
    ],
)  # fmt: skip
def test_every_way_to_describe_a_frame(frame: str, fact: str, answer: str) -> None:
    right, _ = read(frame, fact)
    assert right == {fact: answer}


def test_a_number_comes_low_byte_first() -> None:
    frame = "message: tpdo1, node: '5', data: '[254, 255, 80, 2]'"
    right, slips = read(
        frame, "{label: A, first: 0, bytes: 2, signed: yes}", "{label: B, first: 2, bytes: 2}"
    )
    assert {*right.values()} == {"-2", "592"}
    assert {"byte-order", "sign-forgotten"} <= slips


def test_the_bit_rule_of_guarding_and_the_exchanged_access_are_known_mistakes() -> None:
    _, slips = read("identifier: '1797', data: '[133]'", "state-number")
    assert slips == {"toggle-in-state"}
    _, slips = read("message: sdo-abort, node: '5', index: '4096', code: '100728834'", "reason")
    assert slips == {"access-exchanged"}
    _, slips = read("message: sdo-write, node: '5', index: '1', value: '1', size: '1'", "size")
    assert slips == {"unused-for-size"}


def test_a_write_is_written_and_its_mistakes_are_known() -> None:
    right, slips = right_and_slips(*one(WRITE, "task: write"))
    assert right == {"identifier": "610", "data": "2B 17 10 00 E8 03 00 00"}
    wrong = {slip: (each["1.identifier"], each["1.data"]) for slip, each in slips.items()}
    assert wrong == {
        "other-direction": ("590", "2B 17 10 00 E8 03 00 00"),
        "node-forgotten": ("600", "2B 17 10 00 E8 03 00 00"),
        "decimal-for-hex": ("616", "2B 17 10 00 E8 03 00 00"),
        "byte-order": ("610", "2B 10 17 00 03 E8 00 00"),
        "size-forgotten": ("610", "23 17 10 00 E8 03 00 00"),
        "padding-forgotten": ("610", "2B 17 10 00 E8 03"),
    }


def mistaken(frame: str, fact: str, slip: str) -> str:
    """The answer that shows a mistake in reading a fact."""
    _, slips = right_and_slips(*one(frame, f"fields: [{fact}]"))
    [answer] = slips[slip].values()
    return str(answer)


def test_mistakes_show_as_the_answers_that_people_give() -> None:
    one_byte = "message: sdo-write, node: '5', index: '1', value: '1', size: '1'"
    assert mistaken(one_byte, "size", "unused-for-size") == "3"
    for code, other in (("100728833", "100728834"), ("100728834", "100728833")):
        frame = "message: sdo-abort, node: '5', index: '1', code: '{}'"
        right, _ = read(frame.format(other), "reason")
        wrong = mistaken(frame.format(code), "reason", "access-exchanged")
        assert {wrong} == {*right.values()}
    _, slips = right_and_slips(*one(one_byte, "task: write"))
    assert slips["size-forgotten"]["1.data"] == "23 01 00 00 01 00 00 00"


@pytest.mark.parametrize(
    ("frame", "said"),
    [
        ("node: '5'", "needs either 'identifier'"),
        ("message: sdo-reed, node: '5'", "Did you mean 'sdo-read'?"),
        ("message: sdo-read, node: '5'", "needs 'index'"),
        ("message: sdo-read, index: '1'", "needs 'node'"),
        ("message: sync, node: '5'", "'node' has no use"),
        ("message: sdo-read, node: '128', index: '1'", "node-IDs are 1 to 127"),
        ("message: nmt", "needs 'command'"),
        ("message: nmt, command: go", "'go' is not known"),
        ("message: sdo-write, node: '5', index: '1', value: '300', size: '1'", "does not fit"),
        ("message: tpdo1, node: '5', data: '[1, 2, 3, 4, 5, 6, 7, 8, 9]'", "at most 8"),
        ("message: tpdo1, node: '5', data: '[256]'", "outside 0 to 255"),
        ("identifier: '2048', data: '[1]'", "11 bits carry it"),
    ],
)
def test_what_is_no_frame_is_told(frame: str, said: str) -> None:
    with pytest.raises(DefinitionError) as caught:
        one(frame, "fields: [object]")
    problem = caught.value.problems[0]
    assert said in f"{problem.message} {problem.mend}"
    assert problem.place.field.startswith("exercise 'one': frames → number 1")


def test_a_fact_that_a_frame_does_not_say_is_refused_in_the_lab() -> None:
    for frame, fact in (
        ("message: sync", "node"),
        ("message: sync", "index"),
        (WRITE, "code"),
        (WRITE, "state"),
        ("message: sdo-read, node: '5', index: '1'", "value"),
        ("message: sdo-abort, node: '5', index: '1', code: '1'", "reason"),
        ("identifier: '2020', data: '[1]'", "object"),
    ):
        with pytest.raises(DefinitionError, match="cannot be asked here"):
            one(frame, f"fields: [{fact}]")


def test_frames_in_words() -> None:
    def told(*frames: str) -> list[str]:
        pairs = [frame.split("#") for frame in frames]
        return CanopenFrames().in_words([(int(a, 16), bytes.fromhex(b)) for a, b in pairs])

    assert told("585#8000100002000106", "705#05") == [
        "node 5 refuses: the object can only be read, not written (abort 0x06010002), 0x1000 "
        "subindex 0",
        "heartbeat of node 5: operational",
    ]
    assert told("585#6017100000000000") == ["node 5 is ready for the segments of 0x1017 subindex 0"]
    assert CanopenFrames().identifier_in_words(0x605) == "SDO, client to server of node 5"
    with pytest.raises(PlanError, match="not in the predefined set"):
        CanopenFrames().identifier_in_words(0x7E5)


def test_the_guides_exercise_is_read_and_right() -> None:
    [block] = re.findall(r"```yaml\n(.*?)```", OURS, re.DOTALL)
    right, slips = right_and_slips(*prepared(block))
    assert right["reason"] == "the object can only be read, not written"
    assert {*slips} <= {*TELLS}


def test_the_guide_names_every_message_fact_and_mistake() -> None:
    pdos = {name for name in MESSAGES if "pdo" in name} - {"tpdo1", "rpdo4"}
    for name in (*FACTS, *TELLS, *WRITE_TELLS, *COMMANDS, *STATES, *({*MESSAGES} - pdos)):
        assert f"`{name}`" in OURS, name
