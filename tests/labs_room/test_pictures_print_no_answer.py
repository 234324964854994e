"""The line that sums a picture up (rate, trunk, taps, nodes, current) answers no exercise."""

from __future__ import annotations

import re

import pytest
from course_draws import NAMES, lab, scenarios

from labkit.lab.kinds import check_for
from labkit.lab.quantity import UNITS, read_quantity

DRAWS = 15
SUMS = {"A": re.compile(r"([\d.]+) A at 24 V in all"), "kbit/s": re.compile(r"([\d.]+) kbit/s")}


def asks(name: str, unit: str) -> list[str]:
    """Exercises whose right answer is what every picture of the lab sums up in this unit."""
    recipe = lab(name).network
    if recipe is None:
        return []
    found = []
    for exercise in lab(name).exercises:
        if exercise.kind != "quantity":
            continue
        told = []
        for drawn in scenarios(name, DRAWS):
            prepared = drawn.prepare(exercise)
            shown = SUMS[unit].search(recipe.draw(drawn.network))
            if prepared.ask["unit"] != unit or shown is None:
                told.append(False)
                continue
            right = check_for("quantity").right_answer(prepared.ask, prepared.key)
            value = read_quantity(right, UNITS[unit]).to(UNITS[unit])
            told.append(abs(value - float(shown[1])) < 1e-6)
        if all(told):
            found.append(exercise.id)
    return found


@pytest.mark.parametrize("unit", SUMS)
@pytest.mark.parametrize("name", NAMES)
def test_no_picture_sums_up_what_an_exercise_asks(name: str, unit: str) -> None:
    assert asks(name, unit) == []
