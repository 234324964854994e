"""Switches of CANopen nodes: every setting is judged by a second reading of it.

Layouts: common practice, no source. Node-IDs from 1 to 127: CiA 301. Bit rates: CiA, CANopen lower
layers.
"""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from labkit.doors.installed import check_for, nodes_for, page_for, switches_for
from labkit.families.canopen.switches import TELLS
from labkit.lab.draw import draw
from labkit.lab.reading import read_lab_text
from labkit.language.problems import DefinitionError

GUIDE = (Path(__file__).parents[3] / "instructors" / "authoring.md").read_text("utf-8")
OURS = GUIDE.split("### CANopen switches\n")[1].split("\n##")[0]
CHECK: Any = check_for("switches")
RATES = [10, 20, 50, 125, 250, 500, 800, 1000]
AS_IT_CAME = {"hex": "013", "rotary": "013", "dip": "1000000110"}
"""Node-ID 1, 125 kbit/s."""
BASE = {"hex": 16, "rotary": 10}


def asked(device: str, node: int, rate: int) -> tuple[dict[str, Any], dict[str, Any]]:
    ask = {"device": device, "task": "set", "setting": AS_IT_CAME[device], "family": "canopen"}
    return ask, {"address": node, "rate": rate, "tells": {}}


def worth(positions: str) -> int:
    """Position 1 is worth 1, each next one twice as much."""
    return sum(2**at for at, digit in enumerate(positions) if digit == "1")


@settings(deadline=None)
@given(st.integers(0, 1023), st.integers(1, 127), st.sampled_from(RATES))
def test_every_setting_of_the_block_earns_a_half_for_each_half(
    positions: int, node: int, rate: int
) -> None:
    answer = f"{positions:010b}"
    verdict = CHECK.check(*asked("dip", node, rate), answer)
    expected = ((worth(answer[:7]) == node) + (RATES[worth(answer[7:])] == rate)) / 2
    assert verdict.credit == (expected if answer != AS_IT_CAME["dip"] or expected == 1 else 0)
    assert verdict.readable


@settings(deadline=None)
@given(st.integers(0, 0xFFF), st.integers(1, 99), st.sampled_from(RATES))
def test_every_setting_of_the_hexadecimal_dials_earns_a_half_for_each_half(
    digits: int, node: int, rate: int
) -> None:
    answer = f"{digits:03X}"
    verdict = CHECK.check(*asked("hex", node, rate), answer)
    expected = ((digits >> 4 == node) + (digits & 15 == RATES.index(rate))) / 2
    assert verdict.credit == (expected if answer != AS_IT_CAME["hex"] or expected == 1 else 0)


@pytest.mark.parametrize(("device", "last"), [("hex", 127), ("rotary", 99), ("dip", 127)])
def test_a_setting_is_read_back_whole(device: str, last: int) -> None:
    switches = switches_for("canopen")
    assert [*switches.rates] == [*nodes_for("canopen").rates] == RATES
    for node in range(1, last + 1):
        for code, rate in enumerate(RATES):
            setting = switches.setting(device, node, rate)
            assert switches.address(device, setting) == node
            assert switches.rate(device, setting) == rate
            if device == "dip":
                assert (worth(setting[:7]), worth(setting[7:])) == (node, code)
            else:
                assert (int(setting[:2], BASE[device]), int(setting[2])) == (node, code)


@pytest.mark.parametrize(
    ("device", "answer", "slip", "words"),
    [
        # Node-ID 37 is 1 + 4 + 32, 16#25; 500 kbit/s is code 5.
        ("hex", "255", "", "Right: the device reads node address 37, 500 kbit/s."),
        ("hex", "375", "decimal-for-hex", "node address 55, 500 kbit/s"),
        ("hex", "525", "decades-swapped", "node address 82, 500 kbit/s"),
        ("hex", "265", "address-off-by-one", "both dials"),
        ("hex", "25F", "no-such-rate", "from 0 to 7"),
        ("hex", "256", "rate-off-by-one", "slowest rate"),
        ("hex", "A55", "", "no node address"),
        ("hex", "013", "not-set", "as the device came"),
        ("rotary", "375", "", "Right: the device reads node address 37, 500 kbit/s."),
        ("rotary", "735", "decades-swapped", "node address 73"),
        ("rotary", "379", "no-such-rate", "from 0 to 7"),
        ("dip", "1010010101", "", "Right: the device reads node address 37, 500 kbit/s."),
        ("dip", "0100101101", "address-reversed", "position 7 is worth 64"),
        ("dip", "0101101101", "address-inverted", "on counts as 1"),
        ("dip", "0101101010", "on-off-inverted", "Every position"),
        ("dip", "1011010010", "rate-first", "positions 8 to 10"),
        ("dip", "0000000101", "", "no node address"),
    ],
)
def test_what_the_device_reads_and_which_mistake_it_is(
    device: str, answer: str, slip: str, words: str
) -> None:
    verdict = CHECK.check(*asked(device, 37, 500), answer)
    assert words in verdict.message
    assert verdict.slip == slip


def test_an_exchanged_rate_is_told() -> None:
    verdict = CHECK.check(*asked("dip", 37, 20), "1010010001")
    assert (verdict.credit, verdict.slip) == (0.5, "rate-swapped")


@pytest.mark.parametrize(
    ("device", "task", "setting", "given", "slip"),
    [
        ("hex", "address", "255", "25", "hex-as-decimal"),
        ("hex", "address", "255", "82", "decades-swapped"),
        ("rotary", "address", "375", "73", "decades-swapped"),
        ("dip", "address", "1010010101", "82", "address-reversed"),
        ("dip", "address", "1010010101", "74", "weights-doubled"),
        ("dip", "rate", "1010010100", "250", "rate-swapped"),
        ("hex", "rate", "255", "800", "rate-off-by-one"),
    ],
)
def test_a_misreading_is_told(device: str, task: str, setting: str, given: str, slip: str) -> None:
    ask = {"device": device, "task": task, "setting": setting, "family": "canopen"}
    verdict = CHECK.check(ask, {"tells": {}}, given)
    assert (verdict.credit, verdict.slip) == (0, slip)


@pytest.mark.parametrize("device", ["hex", "rotary"])
@pytest.mark.parametrize("task", ["set", "address", "rate"])
def test_what_is_told_of_dials_speaks_of_dials(task: str, device: str) -> None:
    ask, key = asked(device, 38, 250)
    if task != "set":
        ask = {**ask, "task": task, "setting": "264"}
    told = [CHECK.check(ask, key, each).message for each in CHECK.slip_answers(ask, key).values()]
    assert told
    assert not [message for message in told if "position" in message or "worth" in message]


def test_a_small_letter_or_another_digit_is_no_setting() -> None:
    ask, key = asked("hex", 10, 125)
    assert CHECK.check(ask, key, "0A3").right
    for wrong in ("0a3", "0G3", "0A", "0A33"):
        assert not CHECK.check(ask, key, wrong).readable
    assert not CHECK.check(*asked("rotary", 10, 125), "0A3").readable


def test_the_page_draws_the_dials_that_the_device_has() -> None:
    page: Any = page_for("switches")(asked("hex", 37, 500)[0], None)
    row = {"slides": False, "address": 2, "rate": 1, "places": 16}
    assert page.view() == {"rates": [[rate, f"{rate} kbit/s"] for rate in RATES], "row": row}
    page = page_for("switches")(asked("rotary", 37, 500)[0], None)
    assert "places" not in page.view()["row"]


def test_on_paper_a_hexadecimal_dial_has_sixteen_places() -> None:
    ask, key = asked("hex", 37, 500)
    drawn = CHECK.paper(ask)
    assert re.findall(r">([0-9A-F])<", drawn) == list("0123456789ABCDEF") * 3
    assert "sixteens" in drawn
    assert "hundreds" not in drawn
    ten = CHECK.paper(asked("rotary", 37, 500)[0])
    assert re.findall(r">([0-9A-F])<", ten) == list("0123456789") * 3
    assert CHECK.paper_right(ask, key) != CHECK.paper_right(*asked("hex", 38, 500))


BUS = """\
---
id: switches
version: 1.0
title: Switches
draw:
  node: {from: 2, to: 120}
  rate: {one of: [250, 500]}
network:
  family: canopen
  rate: rate
  length: 30
  nodes: {at: "[0, 30]", stub: "[0, 0]", name: '["controller", "drive"]'}
---
"""


def lab_text(exercise: str) -> str:
    return f"{BUS}\n```exercise one\n{exercise}```\n"


def prepared_text(exercise: str) -> Any:
    lab = read_lab_text(lab_text(exercise))
    return draw(lab, "one").prepare(lab.exercises[0])


def setting_of(device: str, node: str, rate: str) -> str:
    return f"""\
kind: switches
title: One
question: Set it.
device: {device}
address: "{node}"
rate: "{rate}"
marks: 2
working: So.
"""


@pytest.mark.parametrize("device", ["hex", "dip"])
def test_a_lab_has_its_switches_set(device: str) -> None:
    lab = read_lab_text(lab_text(setting_of(device, "node", "rate")))
    scenario = draw(lab, "one")
    made = scenario.prepare(lab.exercises[0])
    assert made.ask["setting"] == AS_IT_CAME[device]
    right = CHECK.right_answer(made.ask, made.key)
    read = worth(right[:7]) if device == "dip" else int(right[:2], 16)
    assert read == scenario.names["node"]


@pytest.mark.parametrize(
    ("device", "node", "rate", "said"),
    [
        ("hex", "128", "250", "node-IDs are 1 to 127"),
        ("dip", "0", "250", "node-IDs are 1 to 127"),
        ("rotary", "100", "250", "2 dials end at 99: they cannot say 100"),
        ("hex", "node", "300", "300 is no data rate of these switches"),
        ("hex", "1", "125", "as the device came"),
        ("octal", "node", "250", "'octal' is not known"),
    ],
)
def test_a_setting_that_cannot_be_is_told_the_author(
    device: str, node: str, rate: str, said: str
) -> None:
    with pytest.raises(DefinitionError, match=re.escape(said)):
        prepared_text(setting_of(device, node, rate))


def test_the_guide_names_every_mistake() -> None:
    assert [slip for slip in TELLS if f"`{slip}`" not in OURS] == []


def test_the_guides_exercise_is_read_and_right() -> None:
    [block] = re.findall(r"```yaml\n(.*?)```", OURS, re.DOTALL)
    lab = read_lab_text(lab_text(block))
    made = draw(lab, "guide").prepare(lab.exercises[0])
    assert CHECK.check(made.ask, made.key, CHECK.right_answer(made.ask, made.key)).right
    assert CHECK.slip_answers(made.ask, made.key)
