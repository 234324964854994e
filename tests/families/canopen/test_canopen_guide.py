"""What the guide says of the family `canopen`: its block is read, its examples hold."""

import re
from functools import cache
from pathlib import Path

import pytest

from labkit.families.canopen.network_reading import CanopenFamily
from labkit.fieldbus.canopen import Bus
from labkit.lab.draw import draw
from labkit.lab.reading import read_lab_text
from labkit.language.expression import Language, show
from labkit.language.problems import DefinitionError, Place

GUIDE = (Path(__file__).parents[3] / "instructors" / "authoring.md").read_text("utf-8")
SECTION = GUIDE.split("## The network (`family: canopen`)")[1].split("\n## ")[0]
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
def network() -> Bus:
    """The bus of the guide, drawn."""
    block = SECTION.split("```yaml\n")[1].split("```")[0]
    lab = read_lab_text(f"---\nid: bus\nversion: 1.0\ntitle: Bus\n{block}---\n{EXERCISE}")
    made = draw(lab, "guide").network
    assert isinstance(made, Bus)
    return made


@pytest.mark.parametrize(("text", "shown"), EXAMPLES)
def test_what_the_guide_says_that_a_function_gives_it_gives(text: str, shown: str) -> None:
    language = Language(CanopenFamily.functions)
    values = language.values({"network": network()})
    value = language.formula(text, PLACE, ("network",)).evaluate(values)
    assert show(value) == shown


def test_every_function_has_a_row_and_an_example() -> None:
    listed = {name for row in ROWS for name in re.findall(r"`(\w+)[`(]", row[0])}
    assert listed == {*CanopenFamily.functions}
    tried = " ".join(text for text, _ in EXAMPLES)
    assert [name for name in CanopenFamily.functions if not re.search(rf"\b{name}\b", tried)] == []


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
    language = Language(CanopenFamily.functions)
    with pytest.raises(DefinitionError, match=re.escape(said)):
        language.formula(text, PLACE, ()).evaluate(language.values({}))
