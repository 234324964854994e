"""A family's section of the authoring guide: its block drawn, its examples and functions."""

import re
from collections.abc import Mapping
from functools import cached_property
from pathlib import Path
from typing import Any

from labkit.lab.draw import draw
from labkit.lab.reading import read_lab_text
from labkit.language.expression import Language
from labkit.language.problems import Place

_GUIDE = Path(__file__).parents[1] / "instructors" / "authoring.md"
_PLACE = Place("lab.md", 7)
_EXERCISE = """\
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


class FamilyGuide:
    """What the guide says of one family, whose functions for formulas are given."""

    def __init__(self, family: str, functions: Mapping[str, Any]) -> None:
        self._functions = functions
        guide = _GUIDE.read_text("utf-8")
        self._section = guide.split(f"## The network (`family: {family}`)")[1].split("\n## ")[0]
        rows = re.findall(r"^\| (`.*) \| (.*) \| (`.*) \|$", self._section, re.MULTILINE)
        self.listed = {name for row in rows for name in re.findall(r"`(\w+)[`(]", row[0])}
        self.examples = [
            (text.replace("\\|", "|"), shown)
            for row in rows
            for text, shown in re.findall(r"`([^`]+)` is (.+?)(?=, `|$)", row[2])
        ]

    @cached_property
    def network(self) -> Any:
        """The network of the section's block, drawn."""
        block = self._section.split("```yaml\n")[1].split("```")[0]
        lab = read_lab_text(f"---\nid: one\nversion: 1.0\ntitle: One\n{block}---\n{_EXERCISE}")
        return draw(lab, "guide").network

    def value(self, text: str) -> Any:
        """What a formula gives beside that network."""
        language = Language(self._functions)
        values = language.values({"network": self.network})
        return language.formula(text, _PLACE, ("network",)).evaluate(values)

    def untried(self) -> list[str]:
        """The functions of which there is no example."""
        tried = " ".join(text for text, _ in self.examples)
        return [name for name in self._functions if not re.search(rf"\b{name}\b", tried)]
