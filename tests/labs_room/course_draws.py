"""The labs that we ship and draws of them, read and drawn once for all tests of a run."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from labkit.lab.definition import Lab
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
