"""Every function of formulas stands in the authoring guide, with examples that hold."""

import re
from pathlib import Path

import pytest

from labkit.fieldbus.check_sums import CHECK_SUMS
from labkit.language.expression import Language, function_names, show
from labkit.language.problems import Place
from labkit.language.sandbox import GIVING_WAY

PLACE = Place("lab.md", 7)
GUIDE = (Path(__file__).parents[2] / "instructors" / "authoring.md").read_text("utf-8")
SECTION = GUIDE.split("## Formulas and prose")[1].split("\n## ")[0]
ROWS = re.findall(r"^\| (`.*) \| (.*) \| (`.*) \|$", SECTION, re.MULTILINE)
EXAMPLES = [
    example for row in ROWS for example in re.findall(r"`([^`]+)` is (.+?)(?=, `|$)", row[2])
]
SIGNS = re.findall(r"`([-(][^`]*\^[^`]*|2\^[^`]*)` is (-?\d+)", SECTION)


@pytest.mark.parametrize(("text", "shown"), EXAMPLES + SIGNS)
def test_what_the_guide_says_that_a_formula_gives_it_gives(text: str, shown: str) -> None:
    language = Language()
    assert show(language.formula(text, PLACE, ()).evaluate(language.values({}))) == shown
    assert language.prose(f"{{{{ {text} }}}}", PLACE, ()).render(language.values({})) == shown
    looped = f"{{% for x in [1] %}}{{{{ {text} }}}}{{% endfor %}}"
    assert language.prose(looped, PLACE, ()).render(language.values({})) == shown


def test_every_function_has_a_row_and_an_example_of_its_own() -> None:
    listed = [name for row in ROWS for name in re.findall(r"`(\w+)\(", row[0])]
    assert {*listed} == function_names()
    tried = {name for text, _ in EXAMPLES for name in re.findall(r"^(\w+)\(", text)}
    assert tried == function_names()
    assert len(SIGNS) == 3


def test_the_guide_names_every_check_sum() -> None:
    assert re.findall(r"`(CRC-\d+/[\w-]+)`", SECTION) == [*CHECK_SUMS]


def test_the_guide_says_which_names_a_lab_may_take() -> None:
    told = " ".join(SECTION.split("A value of your own may have")[1].split())
    assert "`ceil`, `floor`, `sqrt`, `log`, `ln`" in told
    language = Language({"limit": abs})
    free = {name for name in language.functions if not language.taken(name)}
    assert free == {*GIVING_WAY}
    taken = {"abs", "fixed", "len", "limit", "max", "min", "round"}
    assert {*language.functions} - free == taken | {"running_total", "sorted", "sum", "zip"}
