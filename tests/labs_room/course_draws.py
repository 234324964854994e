"""The labs that we ship and draws of them, read and drawn once for all tests of a run."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Any

from labkit.lab.definition import Exercise, Lab
from labkit.lab.draw import Scenario, draw
from labkit.lab.reading import read_lab

LABS = Path(__file__).parents[2] / "labs"
NAMES = sorted(file.parent.name for file in LABS.glob("*/lab.md"))


@cache
def lab(name: str) -> Lab:
    """A shipped lab."""
    return read_lab(LABS / name / "lab.md")


@cache
def scenario(name: str, number: int) -> Scenario:
    """One draw of it."""
    return draw(lab(name), f"course {number}")


def scenarios(name: str, count: int) -> list[Scenario]:
    """Its first draws."""
    return [scenario(name, number) for number in range(count)]


def of(scenario: Scenario, name: str) -> Exercise:
    """The exercise of that id."""
    return next(each for each in scenario.lab.exercises if each.id == name)


def prepared(scenario: Scenario, name: str) -> Any:
    """The same with this draw's numbers; what is asked is of the kind's own types."""
    return scenario.prepare(of(scenario, name))


def rows_of(scenario: Scenario, name: str) -> list[tuple[list[str], list[Any]]]:
    """Each row of a table: what is given, and what is right."""
    found = prepared(scenario, name)
    right = iter(found.key["cells"].values())
    return [
        (
            [cell["text"] for cell in row if "text" in cell],
            [next(right)["value"] for cell in row if "text" not in cell],
        )
        for row in found.ask["rows"]
    ]
