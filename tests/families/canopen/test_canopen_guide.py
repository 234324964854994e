"""What the guide says of the family `canopen`: its block is read, its examples hold."""

import re

import pytest
from family_guide import FamilyGuide

from labkit.families.canopen.network_reading import CanopenFamily
from labkit.fieldbus.canopen import Bus
from labkit.language.expression import show
from labkit.language.problems import DefinitionError

GUIDE = FamilyGuide("canopen", CanopenFamily.functions)


def test_the_block_of_the_guide_is_read_and_drawn() -> None:
    assert isinstance(GUIDE.network, Bus)


@pytest.mark.parametrize(("text", "shown"), GUIDE.examples)
def test_what_the_guide_says_that_a_function_gives_it_gives(text: str, shown: str) -> None:
    assert show(GUIDE.value(text)) == shown


def test_every_function_has_a_row_and_an_example() -> None:
    assert GUIDE.listed == {*CanopenFamily.functions}
    assert GUIDE.untried() == []


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("canopen_bus_limit(300)", "no recommended bit rate"),
        ("canopen_fastest_rate(9000)", "Even 10 kbit/s allows"),
        ('cob_id("tpdo9", 1)', "no communication object"),
        ('cob_id("tpdo1", 0)', "node-IDs are 1 to 127"),
        ('nmt_data("go", 1)', "no NMT command"),
        ("sdo_write(1, 0, 300, 1)", "does not fit into 1 bytes"),
        ("sdo_write(1, 0, 300, 5)", "1 to 4 bytes, not 5"),
        ("pdo_load(250, [5])", "a PDO is a group"),
        ('pdo_load(250, [{"identifier": 1, "bytes": 8, "syncs": 1}])', "no SYNC is made"),
        ("pdo_data([1614872592], [1, 2])", "1 objects are mapped"),
    ],
)
def test_a_function_says_what_it_cannot_take(text: str, said: str) -> None:
    with pytest.raises(DefinitionError, match=re.escape(said)):
        GUIDE.value(text)
