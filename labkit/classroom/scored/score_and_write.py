"""A class scored from its hand-ins to every sheet and page, stage by stage, whoever asks for it.

Marks come first: who waits for them need not wait for what is looked at more closely.
"""

from __future__ import annotations

from collections.abc import Callable
from contextlib import AbstractContextManager
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.marks.looking_back import look_back_at_class
from labkit.classroom.marks.results import Scoring
from labkit.classroom.marks.scoring import score
from labkit.classroom.progress import Progress

Stage = Callable[[str], AbstractContextManager[Progress]]
"""Begins a stage of the work, which these words say, and tells how far that stage is."""

STAGES: Final = ("Scoring", "Writing pages", "Looking closer")
"""The stages that there always are."""


@dataclass(frozen=True, slots=True)
class Written:
    """What was scored, and where it stands. `pages` has the overview first, then the trainees'.

    `not_looked_back` counts answers at the virtual bench for which the minutes were too short.
    """

    scoring: Scoring
    pages: tuple[Path, ...]
    debrief: Path
    analysis: Path
    csv: Path
    xlsx: Path
    not_looked_back: int = 0

    @property
    def waiting(self) -> int:
        """How many results wait for a mark by hand."""
        return sum(one.awaits and not one.as_guest for one in self.scoring.results)


def score_and_write(
    folder: ClassFolder,
    stage: Stage,
    marked: Callable[[Scoring], None] = lambda _: None,
    *,
    jobs: int = 1,
    cluster: str = "",
    look_back: float = 0,
) -> Written:
    """Receive and mark what lies in the class's folder `hand-ins`, and write all that is of it.

    `marked` hears the marks before anything is written; `look_back` are the minutes to spend on
    what each step at the virtual bench told. See `score` for the rest. Raises `ClassError`.
    """
    marking, writing, looking = STAGES
    with stage(marking) as step:
        scoring = score(folder, step, jobs=jobs, cluster=cluster or None)
    marked(scoring)
    # Half a second's worth of packages, which nobody waits for before the marks.
    from labkit.classroom.exports.sheet import write_sheets
    from labkit.classroom.pages.debrief import write_analysis
    from labkit.classroom.pages.reports import write_pages

    csv, xlsx = write_sheets(scoring, folder.scores)
    with stage(writing) as step:
        pages = write_pages(folder, scoring, step)
    left = _look_back(folder, scoring, stage, look_back, jobs) if look_back else 0
    with stage(looking) as step:
        debrief, analysis = write_analysis(folder, scoring, step)
    return Written(scoring, pages, debrief, analysis, csv, xlsx, left)


def write_anew(folder: ClassFolder, stage: Stage, *, jobs: int = 1) -> bool:
    """Score a class that has sheets and pages, and write them anew; False where it has none."""
    if not folder.scores.is_dir():
        return False
    score_and_write(folder, stage, jobs=jobs)
    return True


def _look_back(
    folder: ClassFolder, scoring: Scoring, stage: Stage, minutes: float, jobs: int
) -> int:
    from labkit.classroom.pages.reports import write_pages

    with stage("Looking back at the bench") as step:
        told, left = look_back_at_class(folder, scoring, minutes, step, jobs=jobs)
    with stage("Writing pages again") as step:
        write_pages(folder, scoring, step, told)
    return left
