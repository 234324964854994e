"""Every lab of the course and of the tests, printed once for all tests that look at the paper."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from labkit.lab.draw import Scenario, draw
from labkit.lab.reading import read_lab
from labkit.workbook.handout import Sheet, handouts, instructors_copy

ROOT = Path(__file__).parents[2]
COURSE = [read_lab(file) for file in sorted((ROOT / "labs").glob("*/lab.md"))]
OF_TESTS = [read_lab(file) for file in sorted((ROOT / "tests/lab/labs").glob("*/lab.md"))]
OTHERS = [lab for lab in (*COURSE, *OF_TESTS) if lab.id != "plan-the-trunk"]
"""All but the lab that is looked at in many draws."""
SAMPLES = {lab.id: draw(lab, "paper 1") for lab in (*COURSE, *OF_TESTS)}
ONE_OF_EACH = [SAMPLES[lab.id] for lab in OTHERS]


def handout_of(scenario: Scenario) -> bytes:
    """The handout of a scenario by itself."""
    return handouts([Sheet(scenario)])


def copy_of(scenario: Scenario) -> bytes:
    """The instructor's copy of a scenario by itself; that of a sample is made once."""
    if SAMPLES.get(scenario.lab.id) is scenario:
        return _sample_copy(scenario.lab.id)
    return instructors_copy([Sheet(scenario)])


@cache
def _sample_copy(lab: str) -> bytes:
    return instructors_copy([Sheet(SAMPLES[lab])])
