"""What one trainee gave to each exercise, and the exercise with that trainee's numbers."""

from __future__ import annotations

from dataclasses import dataclass

from labkit.classroom.mark import Mark
from labkit.classroom.result import Result
from labkit.doors.prepared import Prepared
from labkit.exchange.journal import ExerciseRecord, records
from labkit.lab.definition import Exercise


@dataclass(frozen=True, slots=True)
class Given:
    """One trainee's part in one exercise: the mark, every answer tried, and their own numbers."""

    exercise: Exercise
    mark: Mark
    record: ExerciseRecord
    prepared: Prepared


def given(result: Result) -> dict[str, Given]:
    """By exercise, what a trainee who handed in gave. Raises `ValueError` without a hand-in."""
    if result.hand_in is None:
        raise ValueError(f"{result.dealt.trainee} has handed in nothing.")
    found, scenario = records(result.hand_in.journal), result.scenario
    exercises = {exercise.id: exercise for exercise in scenario.lab.exercises}
    return {
        mark.exercise: Given(
            exercises[mark.exercise],
            mark,
            found.get(mark.exercise, ExerciseRecord()),
            scenario.prepare(exercises[mark.exercise]),
        )
        for mark in result.marks
    }
