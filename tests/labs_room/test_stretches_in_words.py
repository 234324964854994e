"""Where a supply may stand: the working and the instructor's copy name the same stretches."""

from __future__ import annotations

import re

import pytest
from course_draws import scenarios

from labkit.doors.installed import check_for
from labkit.lab.draw import Scenario

LABS = ("plan-the-trunk", "network-power")


def spans(scenario: Scenario) -> tuple[list[tuple[str, str]], list[tuple[str, str]]]:
    """From the working, and from the notes for marking: (from, to) in m, as printed."""
    exercise = next(e for e in scenario.lab.exercises if e.kind == "supply_position")
    prepared = scenario.prepare(exercise)
    working = " ".join(exercise.working.render(scenario.names).split())
    notes = check_for("supply_position").paper_for_marking(  # type: ignore[attr-defined]
        prepared.ask, prepared.key, exercise.marks
    )
    said = re.findall(r"Any place from ([\d.]+) m to ([\d.]+) m", working)
    printed = re.findall(r"([\d.]+) to ([\d.]+) m", notes)
    return said, printed


@pytest.mark.parametrize("lab", LABS)
def test_the_working_and_the_sheet_name_the_same_stretches(lab: str) -> None:
    for scenario in scenarios(lab, 12):
        said, printed = spans(scenario)
        assert said
        assert said == printed
