"""What the guide says of the family `modbus`: its block is read, its examples hold."""

import re

import pytest
from family_guide import FamilyGuide

from labkit.families.modbus.network_reading import ModbusFamily
from labkit.fieldbus.modbus.network import Network
from labkit.language.expression import show
from labkit.language.problems import DefinitionError

GUIDE = FamilyGuide("modbus", ModbusFamily.functions)


def test_the_block_of_the_guide_is_read_and_drawn() -> None:
    assert isinstance(GUIDE.network, Network)


@pytest.mark.parametrize(("text", "shown"), GUIDE.examples)
def test_what_the_guide_says_that_a_function_gives_it_gives(text: str, shown: str) -> None:
    assert show(GUIDE.value(text)) == shown


def test_every_function_has_a_row_and_an_example() -> None:
    assert GUIDE.listed == {*ModbusFamily.functions}
    assert GUIDE.untried() == []


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
    with pytest.raises(DefinitionError, match=re.escape(said)):
        GUIDE.value(text)
