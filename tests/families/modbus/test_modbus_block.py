"""The block `network:` of the family `modbus`: its line, its mistakes, its picture."""

from __future__ import annotations

import random
import re
import xml.etree.ElementTree as ET
from itertools import combinations

import pytest
from modbus_lines import random_line, sound_line

from labkit.doors import installed
from labkit.families.modbus.drawing import draw_in_bands, draw_line, line_in_words
from labkit.fieldbus.diagram import NARROW, ON_PAPER, WIDTH
from labkit.fieldbus.modbus import Device, Network, Tap, Terminator
from labkit.lab.draw import draw
from labkit.lab.reading import read_lab_text
from labkit.language.problems import DefinitionError

SVG = "{http://www.w3.org/2000/svg}"
CHARACTER = 6.2  # px: a digit or letter of 12 px text is about this wide
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
BLOCK = """\
network:
  family: modbus
  rate: speed
  form: "8{{ letter }}1"
  trunk: "400"
  cable: {section: "0.25"}
  taps:
    at: "[0, 120, 250, 400]"
    derivation: "[0, [2, 15], 18, 0]"
    device: '["controller", ["flow meter", "level meter"], "pump drive", "valve block"]'
    address: "[none, [11, 12], 21, 31]"
    load: "[1, 0.5, 1, 0.25]"
    response: "[none, 20, 180, 30]"
  master: '"controller"'
  timeout: "300"
  tries: "2"
  terminators: {at: "[0, 400]", ohms: "[120, 150]", capacitor: "1"}
  polarization: {at: '"controller"', up: "450", down: "600"}
  earth: '"controller"'
"""
EXERCISE = """\
```exercise one
kind: quantity
title: One
question: How many volts?
answer: idle_volts(network, "valve block")
unit: V
tolerance: 0.1
marks: 1
working: As calculated.
```
"""


def lab_text(block: str = BLOCK, exercise: str = EXERCISE) -> str:
    head = "---\nid: line\nversion: 1.0\ntitle: Line\n"
    names = "draw: {speed: {one of: [9600]}, letter: {one of: [O]}}\n"
    return f"{head}{names}{block}---\n{exercise}"


def refused(block: str) -> str:
    """What is said of a block: the message and its mend."""
    with pytest.raises(DefinitionError) as caught:
        draw(read_lab_text(lab_text(block)), "line")
    problem = caught.value.problems[0]
    return f"{problem.place}: {problem.message} {problem.mend}"


def test_the_block_becomes_the_line_that_it_says() -> None:
    lab = read_lab_text(lab_text())
    made = draw(lab, "line").network
    assert isinstance(made, Network)
    assert (made.length, made.bit_rate, made.form.text) == (400, 9600, "8O1")
    assert [(tap.position, len(tap.derivations)) for tap in made.taps] == [
        (0, 1), (120, 2), (250, 1), (400, 1),
    ]  # fmt: skip
    assert [each.length for each in made.taps[1].derivations] == [2, 15]
    assert made.addresses == (
        ("flow meter", 11), ("level meter", 12), ("pump drive", 21), ("valve block", 31),
    )  # fmt: skip
    assert [each.unit_loads for each in made.devices] == [1, 0.5, 0.5, 1, 0.25]
    assert [each.name for each in made.devices if each.master] == ["controller"]
    assert (made.timeout_ms, made.tries) == (300, 2)
    assert [each.response_ms for each in made.devices] == [None, 20, 20, 180, 30]
    assert [(each.at, each.ohm, each.nanofarad) for each in made.terminators] == [
        (0, 120, 1), (400, 150, 1),
    ]  # fmt: skip
    [pair] = made.polarizations
    assert (pair.at, pair.pull_up_ohm, pair.pull_down_ohm, pair.volt) == (
        "controller", 450, 600, 5,
    )  # fmt: skip
    assert made.earths == ("controller",)
    assert made.cable.section_mm2 == 0.25
    assert lab.network is not None
    assert lab.network.facts(made) == "9600 bit/s 8O1, trunk 400 m, 5 devices"
    assert {"speed", "letter"} <= lab.network.names


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("speed\n", "0\n", "bit rate"),
        ('"8{{ letter }}1"', "8X1", "8E1"),
        ('trunk: "400"', 'trunk: "300"', "beyond the trunk"),
        ("[0, 120, 250, 400]", "[0, 120, 250]", "at 3, derivation 4"),
        ("[2, 15]", "[2, 15, 3]", "as many of"),
        ("[2, 15]", "2", "a tap with 1 derivation needs as many of 'device'"),
        ("[11, 12]", "[11]", "as many of 'address'"),
        ("[11, 12]", "11", "as many of 'address'"),
        ("21, 31", "300, 31", "one byte carries it"),
        ("'\"controller\"'\n  timeout", "'\"panel\"'\n  timeout", "no device at the taps"),
        ('timeout: "300"', 'timeout: "0"', "reply time-out"),
        ('tries: "2"', 'tries: "0"', "number of tries"),
        ("180, 30", "-1, 30", "response time"),
        ("180, 30]", "180]", "response 3"),
        ('ohms: "[120, 150]"', 'ohms: "[120]"', "2 places and 1 of 'ohms'"),
        ('at: "[0, 400]"', "at: '[\"panel\", 400]'", "there is no such device"),
        ('trunk: "400"', "trunk: \"'long'\"", "not a number"),
        ('"[0, 120, 250, 400]"', '"120"', "does not give a list"),
        ("earth:", "ground:", "earth"),
    ],
)
def test_what_cannot_be_built_is_told_with_its_place(old: str, new: str, said: str) -> None:
    assert BLOCK.count(old) == 1
    told = refused(BLOCK.replace(old, new))
    assert said in told
    assert "line" in told


def test_only_rate_trunk_and_taps_must_be_there() -> None:
    kept = BLOCK.split("  master: '\"controller\"'")[0].replace('  form: "8{{ letter }}1"\n', "")
    names = "draw: {speed: {one of: [19200]}}\n"
    text = lab_text(
        kept, EXERCISE.replace('answer: idle_volts(network, "valve block")', 'answer: "1"')
    )
    lab = read_lab_text(text.replace(text.split("\n")[4] + "\n", names))
    made = draw(lab, "line").network
    assert isinstance(made, Network)
    assert (made.form.text, made.terminators, made.polarizations, made.earths) == (
        "8E1",
        (),
        (),
        (),
    )
    assert lab.network is not None
    assert "open end" in lab.network.draw(made)


@pytest.mark.parametrize(
    ("word", "gone"),
    [
        ("rate", "9,600"),
        ("addresses", "address 11"),
        ("loads", "load 0.5"),
        ("terminators", "120 Ω"),
        ("polarization", "450 Ω"),
        ("earth", "C earthed"),
    ],
)
def test_what_an_exercise_asks_can_be_left_out_of_the_picture(word: str, gone: str) -> None:
    def shown(block: str) -> str:
        lab = read_lab_text(lab_text(block))
        network = draw(lab, "line").network
        assert lab.network is not None
        return lab.network.draw(network, narrow=True) + lab.network.facts(network)

    assert gone in shown(BLOCK)
    left = shown(f"{BLOCK}  picture leaves out: [{word}]\n")
    assert gone not in left
    assert "open end" not in left or word != "terminators"


def crowded() -> Network:
    """A long line: every tap has something."""
    taps = [Tap.to(30 * at, Device(f"conveyor drive {at}", at + 1)) for at in range(1, 30)]
    ends = tuple(Terminator(at, 120, 1) for at in (0, 900))
    return Network(900, (Tap.to(0, Device("controller", master=True)), *taps), ends)


LINES = [sound_line(), crowded(), *(random_line(random.Random(seed)) for seed in range(12))]


@pytest.mark.parametrize("wide", [WIDTH, NARROW, 400])
@pytest.mark.parametrize("line", range(len(LINES)))
def test_nothing_stands_on_anything_else(line: int, wide: float) -> None:
    stands_free(draw_line(LINES[line], width=wide), wide)


@pytest.mark.parametrize("line", range(len(LINES)))
def test_on_paper_nothing_stands_on_anything_else_and_nothing_is_lost(line: int) -> None:
    network = LINES[line]
    bands = draw_in_bands(network)
    for band in bands:
        stands_free(band, ON_PAPER)
    drawn = "".join(bands)
    for device in network.devices:
        assert f"<title>{device.name}" in drawn


def stands_free(svg: str, wide: float) -> None:
    """No text over another, no box over another, nothing beside the picture."""
    picture = ET.fromstring(svg)
    boxes = [
        (x, y, x + w, y + h)
        for rect in picture.iter(f"{SVG}rect")
        for x, y, w, h in [[float(rect.attrib[key]) for key in ("x", "y", "width", "height")]]
        if w > 20
    ]
    texts = []
    for text in picture.iter(f"{SVG}text"):
        width = CHARACTER * len(text.text or "")
        x, y = float(text.attrib["x"]), float(text.attrib["y"])
        left = x - width / 2 if text.get("text-anchor") == "middle" else x
        texts.append((left, y - 9, left + width, y + 2))
    for group in (boxes, texts):
        assert not [pair for pair in combinations(group, 2) if overlap(*pair)]
    for words in texts:
        for box in boxes:
            inside = (
                box[0] < words[0] and words[2] < box[2] and box[1] < words[1] and words[3] < box[3]
            )
            assert inside or not overlap(words, box)
    _, _, width, height = (float(n) for n in picture.attrib["viewBox"].split())
    assert width == wide
    for left, top, right, bottom in boxes + texts:
        assert left >= 0
        assert right <= width
        assert top >= 0
        assert bottom <= height


def overlap(a: tuple[float, ...], b: tuple[float, ...]) -> bool:
    return a[0] < b[2] - 0.5 and b[0] < a[2] - 0.5 and a[1] < b[3] - 0.5 and b[1] < a[3] - 0.5


def test_the_picture_says_in_words_all_that_it_shows() -> None:
    words = line_in_words(sound_line())
    for said in (
        "Modbus at 9,600 bit/s, 8E1. Trunk of 400 m.",
        "Terminators: 150 Ω at controller, 150 Ω at 400 m.",
        "450 Ω to 5 V, 450 Ω to common at controller.",
        "At 0 m: in the trunk controller, master.",
        "derivation of 15 m to level meter, address 12, load 0.5.",
    ):
        assert said in words
    assert words in draw_line(sound_line())


def test_an_address_plan_goes_over_the_family() -> None:
    exercise = """\
```exercise one
kind: address_plan
title: One
question: Which addresses?
devices: '["gate", "pump"]'
taken:
  - {address: "1", by: the panel}
marks: 2
working: As asked.
```
"""
    lab = read_lab_text(lab_text(exercise=exercise))
    made = draw(lab, "line").prepare(lab.exercises[0])
    check = installed.check_for("address_plan")
    assert installed.nodes_for("modbus").rates == (1.2, 2.4, 4.8, 9.6, 19.2, 38.4, 57.6, 115.2)
    assert made.ask["limit"] == 247
    assert check.right_answer(made.ask, made.key) == {"gate": "2", "pump": "3"}
    assert not check.check(made.ask, made.key, {"gate": "0", "pump": "248"}).right


@pytest.mark.parametrize(
    ("kind", "said"),
    [
        (
            "supply_position",
            "the trunk with one supply of a network family, and 'modbus' has none. "
            "Each device of a Modbus line is fed on its own",
        ),
        (
            "whole_plan",
            "the whole plans of a network family, and 'modbus' has none. "
            "A whole plan has a supply and a scan list, and a Modbus line has neither.",
        ),
    ],
)
def test_a_kind_whose_part_is_left_out_says_so_at_its_place(kind: str, said: str) -> None:
    fields = WHOLE_PLAN if kind == "whole_plan" else ""
    text = (
        f"```exercise one\nkind: {kind}\ntitle: One\nquestion: What?\nmarks: 1\n{fields}"
        "working: So.\n```\n"
    )
    lab = lab_text(exercise=text)
    with pytest.raises(DefinitionError, match=re.escape(said)) as caught:
        read_lab_text(lab)
    [problem] = caught.value.problems
    assert lab.splitlines()[problem.place.line - 1] == f"kind: {kind}"
    assert problem.mend
