"""Fifty draws of the shipped lab as practice and assessed workbooks."""

from __future__ import annotations

import pytest
from drawn import LAB, Drawn, make

from labkit.lab.draw import Scenario, draw
from labkit.lab.reading import read_lab


@pytest.fixture(scope="session")
def scenarios() -> list[Scenario]:
    """Fifty draws."""
    lab = read_lab(LAB)
    return [draw(lab, f"workbook test {number}") for number in range(50)]


@pytest.fixture(scope="session")
def assessed(scenarios: list[Scenario]) -> list[Drawn]:
    """Their assessed workbooks."""
    return [make(scenario, practice=False) for scenario in scenarios]


@pytest.fixture(scope="session")
def practice(scenarios: list[Scenario]) -> list[Drawn]:
    """Their practice workbooks."""
    return [make(scenario, practice=True) for scenario in scenarios]
