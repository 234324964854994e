"""What the guide says of the family `modbus`: its block is read, its examples hold."""

import re
from functools import cache
from pathlib import Path

import pytest

from labkit.families.modbus.network_reading import ModbusFamily
from labkit.fieldbus.modbus.network import Network
from labkit.lab.draw import draw
from labkit.lab.reading import read_lab_text
from labkit.language.expression import Language, show
from labkit.language.problems import DefinitionError, Place

GUIDE = (Path(__file__).parents[3] / "instructors" / "authoring.md").read_text("utf-8")
SECTION = GUIDE.split("## The network (`family: modbus`)")[1].split("\n## ")[0]
ROWS = re.findall(r"^\| (`.*) \| (.*) \| (`.*) \|$", SECTION, re.MULTILINE)
EXAMPLES = [
    (text.replace("\\|", "|"), shown)
    for row in ROWS
    for text, shown in re.findall(r"`([^`]+)` is (.+?)(?=, `|$)", row[2])
]
PLACE = Place("lab.md", 7)
EXERCISE = """\
```exercise one
kind: quantity
title: One
question: How many?
answer: "1"
unit: ohm
marks: 1
working: One.
```
"""


@cache
def network() -> Network:
    """The line of the guide, drawn."""
    block = SECTION.split("```yaml\n")[1].split("```")[0]
    lab = read_lab_text(f"---\nid: line\nversion: 1.0\ntitle: Line\n{block}---\n{EXERCISE}")
    made = draw(lab, "guide").network
    assert isinstance(made, Network)
    return made


@pytest.mark.parametrize(("text", "shown"), EXAMPLES)
def test_what_the_guide_says_that_a_function_gives_it_gives(text: str, shown: str) -> None:
    language = Language(ModbusFamily.functions)
    values = language.values({"network": network()})
    value = language.formula(text, PLACE, ("network",)).evaluate(values)
    assert show(value) == shown


def test_every_function_has_a_row_and_an_example() -> None:
    listed = {name for row in ROWS for name in re.findall(r"`(\w+)[`(]", row[0])}
    assert listed == {*ModbusFamily.functions}
    tried = " ".join(text for text, _ in EXAMPLES)
    assert [name for name in ModbusFamily.functions if not re.search(rf"\b{name}\b", tried)] == []


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("trunk_limit(19200, 0.2)", "no length is published"),
        ("derivation_limit(0)", "one derivation or more"),
        ("most_devices(0, true)", "a load above 0"),
        ("with_terminators(network, 0)", "places are a list"),
        ('registers_of(1, "word")', "no kind of number"),
        ('document_number("relay", 1)', "no table"),
        ("protocol_address(70001)", "No table has the digit 7"),
        ('poll_ms({"address": 1}, 9600)', "a poll has address, function and count"),
        ('poll_ms({"address": 1, "function": 3, "start": 65535, "count": 2}, 9600)', "65535"),
        ("poll_ms(5, 9600)", "a poll is a group"),
        ('character_bits("8X1")', "8E1"),
        ('idle_volts(network, "panel")', "there is no such device"),
    ],
)
def test_a_function_says_what_it_cannot_take(text: str, said: str) -> None:
    language = Language(ModbusFamily.functions)
    values = language.values({"network": network()})
    with pytest.raises(DefinitionError, match=re.escape(said)):
        language.formula(text, PLACE, ("network",)).evaluate(values)
