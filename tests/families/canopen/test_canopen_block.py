"""The block `network:` of the family `canopen`: its bus, its mistakes, its picture."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET

import pytest

from labkit.doors import installed
from labkit.families.canopen.drawing import bus_in_words, draw_bus, draw_in_bands
from labkit.fieldbus.canopen import Bus, BusNode, check_bus
from labkit.fieldbus.diagram import NARROW, WIDTH
from labkit.lab.draw import draw
from labkit.lab.reading import read_lab_text
from labkit.language.problems import DefinitionError

SVG = "{http://www.w3.org/2000/svg}"
BLOCK = """\
network:
  family: canopen
  rate: speed
  length: "80"
  nodes:
    at: "[0, 30, 60, 80]"
    stub: "[0, 4, 6, 0]"
    name: '["controller", "drive", "scale", "valve block"]'
    id: "[1, 5, 12, none]"
  terminators: "[0, 80]"
  cable: {milliohms: "70", section: "0.34"}
"""
EXERCISE = """\
```exercise one
kind: quantity
title: One
question: How long may the bus be?
answer: canopen_bus_limit(speed)
unit: m
tolerance: 0.1
marks: 1
working: As in the table.
```
"""
WHOLE_PLAN = """\
pieces: [{length: "60", cables: [thick]}]
devices: '["gate"]'
scanner: gate
at: '[0]'
way: '[1]'
current: '[1]'
inputs: '[0]'
outputs: '[0]'
drops: '[1]'
supplies: '[4]'
"""


def lab_text(block: str = BLOCK, exercise: str = EXERCISE) -> str:
    head = "---\nid: bus\nversion: 1.0\ntitle: Bus\ndraw: {speed: {one of: [500]}}\n"
    return f"{head}{block}---\n{exercise}"


def test_the_block_becomes_the_bus_that_it_says() -> None:
    lab = read_lab_text(lab_text())
    made = draw(lab, "bus").network
    assert made == Bus(
        80,
        500,
        (
            BusNode("controller", 0, 0, 1),
            BusNode("drive", 30, 4, 5),
            BusNode("scale", 60, 6, 12),
            BusNode("valve block", 80, 0, None),
        ),
        (0, 80),
        70,
        0.34,
    )
    assert lab.network is not None
    assert lab.network.facts(made) == "500 kbit/s, bus 80 m, 4 nodes"
    assert "speed" in lab.network.names
    broken = [rule.where for rule in check_bus(made) if not rule.ok]
    assert broken == ["scale", "bus up to 300 m"]


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("rate: speed", 'rate: "300"', "no recommended bit rate"),
        ('length: "80"', 'length: "70"', "lies beyond the bus"),
        ("[0, 30, 60, 80]", "[0, 30, 60]", "at 3, stub 4"),
        ("[1, 5, 12, none]", "[0, 5, 12, none]", "node-IDs are 1 to 127"),
        ('"drive"', '"scale"', "Two nodes are called 'scale'"),
        ('terminators: "[0, 80]"', 'terminators: "80"', "does not give a list"),
        ('terminators: "[0, 80]"', 'terminators: "[0, 90]"', "a terminator at 90 m lies beyond"),
        (', section: "0.34"', "", "section"),
        ("  cable:", "  wire:", "wire"),
    ],
)
def test_what_cannot_be_built_is_told(old: str, new: str, said: str) -> None:
    assert BLOCK.count(old) == 1
    with pytest.raises(DefinitionError) as caught:
        draw(read_lab_text(lab_text(BLOCK.replace(old, new))), "bus")
    problem = caught.value.problems[0]
    assert said in f"{problem.place}: {problem.message} {problem.mend}"


def bus() -> Bus:
    made = draw(read_lab_text(lab_text()), "bus").network
    assert isinstance(made, Bus)
    return made


@pytest.mark.parametrize("width", [NARROW, WIDTH])
def test_the_picture_shows_every_part_within_its_width(width: float) -> None:
    root = ET.fromstring(draw_bus(bus(), width=width))
    words = " ".join(text.text or "" for text in root.iter(f"{SVG}text"))
    for part in ("controller", "drive", "scale", "valve", "node-ID 5", "terminator", "500 kbit/s"):
        assert part in words
    for rect in root.iter(f"{SVG}rect"):
        assert float(rect.get("x", 0)) + float(rect.get("width", "0").rstrip("%")) <= width + 1
    assert draw_in_bands(bus())


@pytest.mark.parametrize(
    ("word", "gone"), [("rate", "500"), ("ids", "node-ID"), ("terminators", "terminator")]
)
def test_what_the_lab_leaves_out_is_in_neither_picture_nor_words(word: str, gone: str) -> None:
    assert gone in draw_bus(bus())
    assert gone not in draw_bus(bus(), leave_out=[word])
    assert gone not in bus_in_words(bus(), [word]).lower()


def test_an_end_without_terminator_is_seen() -> None:
    open_bus = Bus(10, 500, (BusNode("drive", 5),), (0.0, 0.0))
    drawn = draw_bus(open_bus)
    assert drawn.count(">open end<") == 1
    assert "2 terminators" in drawn


def test_node_ids_are_planned_from_1_to_127() -> None:
    settings = installed.nodes_for("canopen")
    assert settings is not None
    assert (settings.addresses[0], settings.addresses[-1]) == (1, 127)
    assert settings.rates[-1] == 1000


def test_an_address_plan_and_a_kind_without_its_part() -> None:
    plan = """\
```exercise ids
kind: address_plan
title: Node-IDs
question: Give each node an ID of its own.
devices: '["drive", "scale"]'
marks: 2
working: No two alike.
```
"""
    lab = read_lab_text(lab_text(exercise=plan))
    assert lab.exercises[0].kind == "address_plan"
    unfit = """\
```exercise find
kind: supply_position
title: Find
question: Where does the supply go?
marks: 2
working: Look.
```
"""
    with pytest.raises(DefinitionError) as caught:
        draw(read_lab_text(lab_text(exercise=unfit)), "bus")
    assert "canopen" in str(caught.value)


@pytest.mark.parametrize(
    ("kind", "fields", "said"),
    [
        (
            "supply_position",
            "",
            "the trunk with one supply of a network family, and 'canopen' has none. "
            "Each device of a CANopen bus is fed on its own here",
        ),
        (
            "whole_plan",
            WHOLE_PLAN,
            "the whole plans of a network family, and 'canopen' has none. "
            "A whole plan has a supply on the trunk",
        ),
    ],
)
def test_a_kind_that_needs_a_supply_says_at_its_line_why_there_is_none(
    kind: str, fields: str, said: str
) -> None:
    exercise = (
        f"```exercise one\nkind: {kind}\ntitle: One\nquestion: What?\nmarks: 1\n{fields}"
        "working: So.\n```\n"
    )
    text = lab_text(exercise=exercise)
    with pytest.raises(DefinitionError, match=re.escape(said)) as caught:
        read_lab_text(text)
    [problem] = caught.value.problems
    assert text.splitlines()[problem.place.line - 1] == f"kind: {kind}"
    assert problem.mend
