"""Exercises as a whole class may look at them."""

from __future__ import annotations

import pytest

from labkit.doors.installed import check_for
from labkit.lab.definition import Lab
from labkit.lab.draw import draw
from labkit.lab.library import lab_library
from labkit.lab.library_labs import library_labs
from labkit.workbook.for_everybody import ForEverybody, steps_of

LABS = library_labs(lab_library())


@pytest.mark.parametrize("name", LABS)
def test_every_exercise_can_be_shown_with_words_for_each_mistake(name: str) -> None:
    lab = LABS[name]
    assert isinstance(lab, Lab)
    scenario = draw(lab, "for-everybody")
    for exercise in lab.exercises:
        one, prepared = ForEverybody(scenario, exercise), scenario.prepare(exercise)
        assert one.title
        assert bool(one.right) == (exercise.kind != "sign_off")
        assert one.working
        slips = check_for(exercise.kind).slip_answers(prepared.ask, prepared.key)
        assert set(one.mistakes) == set(slips)
        assert all(mistake.tell for mistake in one.mistakes.values())


def test_a_working_is_cut_into_sentences() -> None:
    text = "Thick: 6 m, so **6 m**. 90.5 m + 6 m = **96.5 m**. The trunk counts."
    assert steps_of(text) == [
        "Thick: 6 m, so **6 m**.",
        "90.5 m + 6 m = **96.5 m**.",
        "The trunk counts.",
    ]


@pytest.mark.parametrize(
    "whole",
    [
        "4.57 / 3.5 = 1.31 A, and never over 3 A: **1.31 A**.",
        "The drop (Thick. 2 m of it) counts.",
        "**First. 2 m** of it.",
        "`a. B` is code.",
        "- One. Two.\n- Three.",
        "| a | b |\n|---|---|\n| 1. X | 2. Y |",
    ],
)
def test_what_belongs_together_stays_so(whole: str) -> None:
    assert steps_of(whole) == [whole]


def test_nothing_of_a_working_is_lost() -> None:
    for lab in LABS.values():
        assert isinstance(lab, Lab)
        scenario = draw(lab, "for-everybody")
        for exercise in lab.exercises:
            text = exercise.working.render(scenario.names)
            assert " ".join(steps_of(text)).split() == text.split()
