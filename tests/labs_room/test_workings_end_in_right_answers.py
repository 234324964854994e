"""What a working prints in bold at its end is marked right when a trainee types it."""

from __future__ import annotations

import re

import pytest
from course_draws import NAMES, lab, scenarios

from labkit.doors.installed import check_for

DRAWS = 50
BOLD = re.compile(r"\*\*(−?-?\d[\d.]*)( [^*\d][^*]*)?\*\*")


@pytest.mark.parametrize("name", NAMES)
def test_the_bold_number_of_a_working_is_right(name: str) -> None:
    for drawn in scenarios(name, DRAWS):
        for exercise in lab(name).exercises:
            bold = BOLD.findall(exercise.working.render(drawn.names))
            if exercise.kind != "quantity" or not bold:
                continue
            prepared, check = drawn.prepare(exercise), check_for(exercise.kind)
            typed = "".join(bold[-1])
            verdict = check.check(prepared.ask, prepared.key, typed)
            assert verdict.right, (drawn.seed, exercise.id, typed, verdict.message)
