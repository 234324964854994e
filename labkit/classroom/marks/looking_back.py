"""What each step at the virtual bench told, for the trainees' pages and for `explain`.

It takes seconds a bench, so scoring never waits for it: it is worked out when asked for, by several
processes, and no longer than the minutes that are given.
"""

from __future__ import annotations

import time
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any

from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.dealt import Dealt
from labkit.classroom.handins.examiner import Setting, examiner_of
from labkit.classroom.jobs import require_jobs
from labkit.classroom.marks.results import Scoring
from labkit.classroom.progress import Progress
from labkit.doors.check import KeepsSteps
from labkit.doors.installed import check_for
from labkit.exchange.journal import records
from labkit.lab.definition import Lab
from labkit.lab.draw import Scenario

Told = dict[str, list[str]]
"""By exercise, the path taken and a good one, as lines of text."""


def can_be_looked_back_at(kind: str) -> bool:
    """Whether a kind of exercise keeps steps that can be looked back at."""
    return isinstance(check_for(kind), KeepsSteps)


def look_back(scenario: Scenario, exercise: str, answer: Any) -> list[str]:
    """What the steps of one answer told; empty where there are none, or the answer is unreadable.

    Takes seconds.
    """
    found = next(item for item in scenario.lab.exercises if item.id == exercise)
    check, prepared = check_for(found.kind), scenario.prepare(found)
    if not isinstance(check, KeepsSteps) or check.unreadable(prepared.ask, answer):
        return []
    return check.looked_back(prepared.ask, prepared.key, answer)


def answers_to_look_at(lab: Lab, journal: Iterable[Mapping[str, Any]]) -> dict[str, Any]:
    """By exercise, the last answers of a journal that can be looked back at."""
    kinds = {item.id: item.kind for item in lab.exercises}
    return {
        exercise: record.answer
        for exercise, record in records(journal).items()
        if record.answered and exercise in kinds and can_be_looked_back_at(kinds[exercise])
    }


def look_back_at_class(
    folder: ClassFolder,
    scoring: Scoring,
    minutes: float,
    progress: Progress | None = None,
    *,
    jobs: int = 1,
) -> tuple[dict[str, Told], int]:
    """By workbook what its steps told, and how many answers the time was too short for.

    No look back is begun once `minutes` are over. `jobs` processes (-1: one a core) share the work.
    """
    require_jobs(jobs)
    setting = Setting.of(folder, {name: lab.digest for name, lab in scoring.labs.items()})
    until = time.time() + 60 * minutes
    tasks = list(_tasks(scoring))
    told: dict[str, Told] = {}
    left = 0
    found = _all(setting, tasks, until, jobs)
    for done, ((item, _), (one, missing)) in enumerate(zip(tasks, found, strict=True), 1):
        told[item.workbook] = one
        left += missing
        if progress:
            progress(done, len(tasks))
    return told, left


def _all(
    setting: Setting, tasks: Sequence[tuple[Dealt, dict[str, Any]]], until: float, jobs: int
) -> Iterable[tuple[Told, int]]:
    """What each task's steps told, in the order of the tasks."""
    if jobs == 1:
        return (_looked_back(setting, item, answers, until) for item, answers in tasks)
    from joblib import Parallel, delayed

    found: Iterable[tuple[Told, int]] = Parallel(n_jobs=jobs, return_as="generator")(
        delayed(_looked_back)(setting, item, answers, until) for item, answers in tasks
    )
    return found


def _tasks(scoring: Scoring) -> Iterator[tuple[Dealt, dict[str, Any]]]:
    """The workbooks in which there is something to look back at, and those answers."""
    able = {
        name
        for name, lab in scoring.labs.items()
        if any(can_be_looked_back_at(exercise.kind) for exercise in lab.exercises)
    }
    for result in scoring.results:
        if result.dealt.lab in able and result.hand_in and not result.as_guest:
            answers = answers_to_look_at(scoring.labs[result.dealt.lab], result.hand_in.journal)
            if answers:
                yield result.dealt, answers


def _looked_back(
    setting: Setting, item: Dealt, answers: Mapping[str, Any], until: float
) -> tuple[Told, int]:
    """What one workbook's steps told, in whatever process; and for how many the time was over."""
    scenario = examiner_of(setting).scenario(item)
    told: Told = {}
    for exercise, answer in answers.items():
        if time.time() < until:
            told[exercise] = look_back(scenario, exercise, answer)
    return told, len(answers) - len(told)
