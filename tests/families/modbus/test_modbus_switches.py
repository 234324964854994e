"""Switches of devices on a Modbus line: every setting is judged by a second reading of it.

Layouts: common practice, no source. Addresses from 1 to 247: V1.02, 2.2.
"""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from labkit.doors.installed import check_for, nodes_for, page_for, switches_for
from labkit.families.modbus.switches import TELLS
from labkit.lab.draw import draw
from labkit.lab.reading import read_lab_text
from labkit.language.problems import DefinitionError

GUIDE = (Path(__file__).parents[3] / "instructors" / "authoring.md").read_text("utf-8")
OURS = GUIDE.split("### Modbus switches\n")[1].split("\n##")[0]
CHECK = check_for("switches")
RATES = [9.6, 19.2, 38.4, 115.2]
AS_IT_CAME = {"dip": "1000000010", "rotary": "0011"}
"""Address 1, 19200 bit/s."""


def asked(device: str, address: int, rate: float) -> tuple[dict[str, Any], dict[str, Any]]:
    ask = {"device": device, "task": "set", "setting": AS_IT_CAME[device], "family": "modbus"}
    return ask, {"address": address, "rate": rate, "tells": {}}


def worth(positions: str) -> int:
    """Position 1 is worth 1, each next one twice as much."""
    return sum(2**at for at, digit in enumerate(positions) if digit == "1")


@settings(deadline=None)
@given(st.integers(0, 1023), st.integers(1, 247), st.sampled_from(RATES))
def test_every_setting_of_the_block_earns_a_half_for_each_half(
    positions: int, address: int, rate: float
) -> None:
    answer = f"{positions:010b}"
    verdict = CHECK.check(*asked("dip", address, rate), answer)
    expected = ((worth(answer[:8]) == address) + (RATES[worth(answer[8:])] == rate)) / 2
    assert verdict.credit == (expected if answer != AS_IT_CAME["dip"] or expected == 1 else 0)
    assert verdict.readable


@settings(deadline=None)
@given(st.integers(0, 9999), st.integers(1, 247), st.sampled_from(RATES))
def test_every_setting_of_the_dials_earns_a_half_for_each_half(
    digits: int, address: int, rate: float
) -> None:
    answer = f"{digits:04d}"
    verdict = CHECK.check(*asked("rotary", address, rate), answer)
    expected = ((digits // 10 == address) + (digits % 10 == RATES.index(rate))) / 2
    assert verdict.credit == (expected if answer != AS_IT_CAME["rotary"] or expected == 1 else 0)


@pytest.mark.parametrize("device", ["dip", "rotary"])
def test_a_setting_is_read_back_whole(device: str) -> None:
    switches = switches_for("modbus")
    assert {*switches.rates} <= {*nodes_for("modbus").rates}
    for address in range(1, 248):
        for rate in RATES:
            setting = switches.setting(device, address, rate)
            assert switches.address(device, setting) == address
            assert switches.rate(device, setting) == rate
            digits = setting[: switches.devices[device].address]
            assert (worth(digits) if device == "dip" else int(digits)) == address


@pytest.mark.parametrize(
    ("device", "answer", "slip", "words"),
    [
        # Address 19 is 1 + 2 + 16, 9.6 kbit/s is code 0.
        ("dip", "1100100000", "", "Right: the device reads node address 19, 9600 bit/s."),
        ("dip", "0001001100", "address-reversed", "position 8 is worth 128"),
        ("dip", "0011011100", "address-inverted", "on counts as 1"),
        ("dip", "0010100000", "address-off-by-one", "reads node address 20, 9600 bit/s"),
        ("dip", "1100100010", "rate-off-by-one", "slowest rate"),
        ("dip", "0011011111", "on-off-inverted", "Every position"),
        ("dip", "0011001000", "rate-first", "positions 9 and 10"),
        ("dip", "0000000000", "", "248 to 255 are reserved"),
        ("dip", "1111111100", "", "no node address"),
        ("rotary", "0190", "", "Right: the device reads node address 19, 9600 bit/s."),
        ("rotary", "0910", "decades-swapped", "a step of the tens dial counts ten"),
        ("rotary", "9100", "decades-reversed", "the first dial counts hundreds"),
        ("rotary", "0180", "address-off-by-one", "all three dials"),
        ("rotary", "0197", "no-such-rate", "from 0 to 3"),
        ("rotary", "0011", "not-set", "as the device came"),
    ],
)
def test_what_the_device_reads_and_which_mistake_it_is(
    device: str, answer: str, slip: str, words: str
) -> None:
    verdict = CHECK.check(*asked(device, 19, 9.6), answer)
    assert words in verdict.message
    assert verdict.slip == slip


def test_an_exchanged_rate_is_told() -> None:
    verdict = CHECK.check(*asked("dip", 19, 38.4), "1100100010")
    assert (verdict.credit, verdict.slip) == (0.5, "rate-swapped")


@pytest.mark.parametrize(
    ("device", "task", "setting", "given", "slip"),
    [
        ("dip", "address", "1100100000", "200", "address-reversed"),
        ("dip", "address", "1100100000", "236", "address-inverted"),
        ("dip", "address", "1100100000", "38", "weights-doubled"),
        ("dip", "address", "1100100000", "18", "address-off-by-one"),
        ("dip", "rate", "1100100001", "19.2", "rate-swapped"),
        ("rotary", "address", "0190", "91", "decades-swapped"),
        ("rotary", "address", "1320", "231", "decades-reversed"),
        ("rotary", "rate", "0190", "19.2", "rate-off-by-one"),
    ],
)
def test_a_misreading_is_told(device: str, task: str, setting: str, given: str, slip: str) -> None:
    ask = {"device": device, "task": task, "setting": setting, "family": "modbus"}
    verdict = CHECK.check(ask, {"tells": {}}, given)
    assert (verdict.credit, verdict.slip) == (0, slip)
    # A rate is told as a technician of this line says it.
    assert CHECK.shown(ask, given) == ("19200 bit/s" if task == "rate" else given)


@pytest.mark.parametrize("task", ["set", "address", "rate"])
def test_what_is_told_of_dials_speaks_of_dials(task: str) -> None:
    ask, key = asked("rotary", 127, 38.4)
    if task != "set":
        ask = {**ask, "task": task, "setting": "1272"}
    told = [CHECK.check(ask, key, each).message for each in CHECK.slip_answers(ask, key).values()]
    assert told
    assert not [message for message in told if "position" in message or "worth" in message]


def test_the_page_draws_ten_positions() -> None:
    page: Any = page_for("switches")(asked("dip", 19, 9.6)[0], None)
    row = {"slides": True, "address": 8, "rate": 2}
    rates = [[rate, f"{round(rate * 1000)} bit/s"] for rate in RATES]
    assert page.view() == {"rates": rates, "row": row}


LINE = """\
---
id: switches
version: 1.0
title: Switches
draw:
  node: {from: 2, to: 120}
  rate: {one of: [9.6, 38.4]}
network:
  family: modbus
  rate: 9600
  trunk: 100
  taps:
    at: "[0, 100]"
    derivation: "[0, 0]"
    device: '["controller", "pump"]'
  master: '"controller"'
---
"""


def lab_text(exercise: str) -> str:
    return f"{LINE}\n```exercise one\n{exercise}```\n"


def setting_of(address: str, rate: str) -> str:
    return f"""\
kind: switches
title: One
question: Set it.
address: "{address}"
rate: "{rate}"
marks: 2
working: So.
"""


def test_a_lab_has_its_switches_set() -> None:
    lab = read_lab_text(lab_text(setting_of("node", "19.2")))
    scenario = draw(lab, "one")
    made = scenario.prepare(lab.exercises[0])
    assert made.ask["setting"] == AS_IT_CAME["dip"]
    right = CHECK.right_answer(made.ask, made.key)
    assert worth(right[:8]) == scenario.names["node"]
    assert right[8:] == "10"


@pytest.mark.parametrize(
    ("address", "rate", "said"),
    [
        ("248", "9.6", "248 to 255 are reserved"),
        ("node", "4.8", "'4.8' gives 4.8, none of 9.6, 19.2, 38.4, 115.2 kbit/s"),
        ("node", "125", "125 is no data rate of these switches"),
        ("1", "19.2", "as the device came"),
    ],
)
def test_a_setting_that_cannot_be_is_told_the_author(address: str, rate: str, said: str) -> None:
    lab = read_lab_text(lab_text(setting_of(address, rate)))
    with pytest.raises(DefinitionError, match=re.escape(said)):
        draw(lab, "one").prepare(lab.exercises[0])


def test_the_guide_names_every_mistake() -> None:
    assert [slip for slip in TELLS if f"`{slip}`" not in OURS] == []


def test_the_guides_exercise_is_read_and_right() -> None:
    [block] = re.findall(r"```yaml\n(.*?)```", OURS, re.DOTALL)
    lab = read_lab_text(lab_text(block))
    made = draw(lab, "guide").prepare(lab.exercises[0])
    assert CHECK.check(made.ask, made.key, CHECK.right_answer(made.ask, made.key)).right
    assert CHECK.slip_answers(made.ask, made.key)
