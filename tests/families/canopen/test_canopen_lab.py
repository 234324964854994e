"""A small lab over the family `canopen`: every draw can be answered, every slip is told."""

from pathlib import Path

import pytest

from labkit.doors.installed import check_for
from labkit.lab.draw import draw
from labkit.lab.reading import read_lab_text

FILE = Path(__file__).parents[2] / "lab" / "labs" / "canopen-bus" / "lab.md"
LAB = read_lab_text(FILE.read_text("utf-8"))


@pytest.mark.parametrize("seed", range(25))
def test_right_answers_and_slips_of_every_exercise(seed: int) -> None:
    scenario = draw(LAB, f"class {seed}")
    for exercise in LAB.exercises:
        check, made = check_for(exercise.kind), scenario.prepare(exercise)
        right = check.right_answer(made.ask, made.key)
        assert check.check(made.ask, made.key, right).right
        for slip, answer in check.slip_answers(made.ask, made.key).items():
            verdict = check.check(made.ask, made.key, answer)
            assert (verdict.slip, verdict.right) == (slip, False)


def test_the_lab_meets_the_family_at_every_door_that_it_has() -> None:
    slips: set[str] = set()
    for exercise in LAB.exercises:
        made = draw(LAB, "class").prepare(exercise)
        slips |= {*check_for(exercise.kind).slip_answers(made.ask, made.key)}
    assert {"one-way", "cable-alone", "other-direction", "node-forgotten", "byte-order"} <= slips
    assert LAB.network is not None
    assert "CANopen" in LAB.network.draw(draw(LAB, "class").network)
