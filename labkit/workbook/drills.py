"""One more like an exercise of a practice workbook: with numbers that nobody else was dealt."""

from __future__ import annotations

import secrets
from dataclasses import dataclass
from typing import Final

from labkit.doors.installed import check_for
from labkit.doors.other_numbers import gives_away, same_numbers
from labkit.exchange.task_file import TaskExercise
from labkit.lab.definition import Exercise, Lab
from labkit.lab.draw import Scenario, draw
from labkit.language.problems import DefinitionError
from labkit.workbook.task import exercise_data

MOST_DRAWS: Final = 8
"""So many draws are looked at for other numbers."""


@dataclass(frozen=True, slots=True)
class DrillDraw:
    """An exercise in a draw of its own; its key and working come with it, hints do not."""

    seed: str
    scenario: Scenario
    exercise: TaskExercise

    @property
    def picture(self) -> str:
        """The drawn network as SVG, to stand beside a text; "" where the lab has none."""
        recipe = self.scenario.lab.network
        return recipe.draw(self.scenario.network, narrow=True) if recipe else ""


def drill_of(lab: Lab, own: TaskExercise) -> DrillDraw | None:
    """A fresh draw of a practice exercise; None where it has no other numbers.

    `own` is the trainee's. If there is one among a few draws, the answer is one that would be wrong
    with their own numbers: what is told of the drill must not be what they are still to find.
    """
    [exercise] = [each for each in lab.exercises if each.id == own["id"]]
    check, found = check_for(own["kind"]), None
    for _ in range(MOST_DRAWS):
        drawn = _drawn(lab, exercise, own)
        if drawn is None or same_numbers(drawn.exercise, own):
            continue
        found = drawn
        if not gives_away(check, found.exercise, own):
            break
    return found


def drill_data(scenario: Scenario, exercise: Exercise, number: int) -> TaskExercise:
    """A practice exercise without hints. Raises `DefinitionError` where a formula has no value."""
    made = exercise_data(scenario, exercise, number)
    made["practice"] = {
        "key": scenario.prepare(exercise).key,
        "working": exercise.working.render(scenario.names),
        "hints": [],
    }
    return made


def _drawn(lab: Lab, exercise: Exercise, own: TaskExercise) -> DrillDraw | None:
    seed = f"drill-{secrets.token_hex(8)}"
    try:
        scenario = draw(lab, seed)
        made = drill_data(scenario, exercise, own["number"])
    except DefinitionError:
        return None  # a formula without a value in this draw: another one will do
    return DrillDraw(seed, scenario, made)
