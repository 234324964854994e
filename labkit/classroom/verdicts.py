"""What a check says of an answer, by the scenario that it is an answer to."""

from __future__ import annotations

from typing import Any

from labkit.doors.installed import check_for
from labkit.doors.verdict import Verdict
from labkit.lab.definition import Exercise
from labkit.lab.draw import Scenario


def verdict_on(scenario: Scenario, exercise: Exercise, answer: Any) -> Verdict:
    """The verdict that counts, told to the trainee or not. Any JSON may be the answer."""
    prepared = scenario.prepare(exercise)
    return check_for(exercise.kind).check(prepared.ask, prepared.key_as_needed, answer)
