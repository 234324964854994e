"""The sheets and pages of a class, written anew by what holds now."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import AbstractContextManager

from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.exports.sheet import write_sheets
from labkit.classroom.marks.scoring import score
from labkit.classroom.pages.debrief import write_analysis
from labkit.classroom.pages.reports import write_pages
from labkit.classroom.progress import Progress

Stages = Callable[[str], AbstractContextManager[Progress]]
"""Tells how far each stage of a long work is, by the stage's name."""


def write_anew(folder: ClassFolder, stages: Stages, jobs: int = 1) -> bool:
    """Score a class that has sheets and pages, and write them anew; False where it has none."""
    if not folder.scores.is_dir():
        return False
    with stages("Scoring") as step:
        scoring = score(folder, step, jobs=jobs)
    write_sheets(scoring, folder.scores)
    with stages("Writing pages") as step:
        write_pages(folder, scoring, step)
    with stages("Looking closer") as step:
        write_analysis(folder, scoring, step)
    return True
