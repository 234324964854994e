"""At the bench no colour is the only signal: letters on lamps, dashes on traces, words on wires."""

from __future__ import annotations

import re
from pathlib import Path

import labkit.kinds
from labkit.families.canopen.bench import conductors as canopen
from labkit.families.devicenet.bench import conductors as devicenet
from labkit.families.modbus.bench import conductors as modbus
from labkit.fieldbus.devicenet.indicators import Indicator
from labkit.kinds.wiring.check import colours

KINDS = Path(labkit.kinds.__file__).parent
LAMPS = (KINDS / "diagnosis" / "bench_lamps.js").read_text("utf-8")
STYLE = (KINDS / "diagnosis" / "diagnosis.css").read_text("utf-8")
WIRING = (KINDS / "wiring" / "wiring.css").read_text("utf-8")
LAMP = re.compile(r'^  "?([a-z ]+)"?: \["(.?)", "(\w+)"\],$', re.MULTILINE)


RUN = {"off", "green", "blinking green", "single flash green"}
ERROR = {"off", "red", "blinking red", "single flash red", "double flash red"}
"""What the two lamps of a CANopen node show on the bench, each in one colour (CiA 303-3)."""


def test_every_look_of_a_lamp_has_a_letter_of_its_own() -> None:
    letters = {look: letter for look, letter, _ in LAMP.findall(LAMPS)}
    of_devicenet = {indicator.value for indicator in Indicator}
    assert letters.keys() == of_devicenet | RUN | ERROR | {"unknown"}
    for looks in (of_devicenet, RUN, ERROR):
        assert len({letters[look] for look in looks | {"unknown"}}) == len(looks) + 1
    assert [look for look, letter in letters.items() if not letter] == ["off"]


def test_every_trace_of_the_scope_is_dashed_in_its_own_way() -> None:
    rules = re.findall(r"\.lk-wave-(\w+) \{(.*?)\}", STYLE)
    dashes = {name: re.search(r"stroke-dasharray: ([^;]+)", rule) for name, rule in rules}
    # The picture that is kept beside has the same lines, thinner ones.
    assert dashes.pop("kept") is None
    assert dashes.keys() == {"can_h", "can_l", "difference"}
    patterns = [found.group(1) if found else "solid" for found in dashes.values()]
    assert len(set(patterns)) == 3


def test_flashing_is_told_from_steady_without_colour_and_without_movement() -> None:
    [rule] = re.findall(r"\.lk-flashing, \.lk-flashing-strip \{(.*?)\}", STYLE)
    assert "stroke-dasharray" in rule
    assert "fill: transparent" in rule
    assert "prefers-reduced-motion: reduce" in STYLE


def test_every_conductor_has_a_swatch_and_its_colour_is_a_word_too() -> None:
    families = (devicenet.CONDUCTORS, modbus.CONDUCTORS, canopen.CONDUCTORS)
    swatches = set(re.findall(r"\.lk-wire-(\w+) ", STYLE))
    assert swatches == {wire.colour for each in families for wire in each.wires}
    strands = set(re.findall(r"\.lk-strand-(\w+) \{ background", WIRING))
    assert strands == {colour for each in families for colour in colours(each)}
    page = (KINDS / "wiring" / "wiring_connector.js").read_text("utf-8")
    assert 'element("span", {}, colour)' in page
