"""Guesses and halving use the exercises that were prepared when they were tried out."""

from __future__ import annotations

import pytest
from broken import SOUND

from labkit.lab.definition import Exercise
from labkit.lab.draw import Scenario
from labkit.lab.reading import read_lab_text
from labkit.proofing import proof


def test_each_of_the_first_draws_is_prepared_once(monkeypatch: pytest.MonkeyPatch) -> None:
    lab = read_lab_text(SOUND)
    made: list[tuple[str, str]] = []
    prepare = Scenario.prepare

    def counted(scenario: Scenario, exercise: Exercise) -> object:
        made.append((scenario.seed, exercise.id))
        return prepare(scenario, exercise)

    monkeypatch.setattr(Scenario, "prepare", counted)
    proof(lab, 40)
    assert len(made) == len(set(made)) == 40 * len(lab.exercises)
