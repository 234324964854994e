"""`debrief.html`, one page a lab to teach from and without names, and `analysis.html`, all figures
and the hand-ins that a person should look at. Both fetch nothing."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from functools import partial
from pathlib import Path
from statistics import median
from typing import Any, Final

from markupsafe import Markup

from labkit.classroom.analysis.charts import exercise_chart, score_chart
from labkit.classroom.analysis.effort import PAUSE
from labkit.classroom.analysis.teach_again import findings, well_known
from labkit.classroom.analysis.whole import LabAnalysis, analyse
from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.filling import filled
from labkit.classroom.handins.choosing import OF_TIMES, Notice
from labkit.classroom.marks.results import Scoring
from labkit.classroom.marks.standing import Course
from labkit.classroom.private_place import Place
from labkit.classroom.progress import Progress
from labkit.classroom.result import Result
from labkit.classroom.share import spoken_percent

MOST_SLIPS: Final = 6


def write_analysis(
    folder: ClassFolder, scoring: Scoring, progress: Progress | None = None
) -> tuple[Path, Path]:
    """Write `debrief.html` and `analysis.html` into the class's scores; the same scores, the same
    bytes. The pass mark is the class's own. `progress` is called with (done, all)."""
    labs = analyse(scoring.labs, scoring.results, scoring.results.beside, progress)
    place = Place(folder.scores)
    debrief = place.write(debrief_page(folder, labs, scoring.results), "debrief.html")
    page = analysis_page(folder, labs, scoring.notices)
    return debrief, place.write(page, "analysis.html")


def debrief_page(
    folder: ClassFolder, labs: tuple[LabAnalysis, ...], results: Iterable[Result]
) -> str:
    """What to teach again and the pictures of it, a page a lab. It names no trainee."""
    course = Course.of(folder.fields, (result for result in results if result.counts))
    several = len(folder.fields.labs) > 1
    return filled(
        "debrief.html",
        title=folder.fields.title,
        course=course,
        several=several,
        pass_mark=course.pass_mark,
        course_scores=Markup(score_chart(course.percents, course.pass_mark)) if several else "",
        median=median,
        percent=partial(spoken_percent, pass_mark=course.pass_mark, decimals=0),
        # The pass mark is the course's: one lab of several is not held against it.
        labs=[_debrief(lab, None if several else course.pass_mark) for lab in labs],
    )


def analysis_page(
    folder: ClassFolder, labs: tuple[LabAnalysis, ...], notices: Sequence[Notice] = ()
) -> str:
    """All figures with their intervals, alike hand-ins, effects of the draw, the methods; of the
    notices those that speak of times."""
    return filled(
        "analysis.html",
        title=folder.fields.title,
        labs=labs,
        names=_names,
        times=partial(_times, notices),
        pause_minutes=PAUSE // 60,
    )


def _debrief(lab: LabAnalysis, pass_mark: float | None) -> dict[str, Any]:
    return {
        "lab": lab.table.lab,
        "analysis": lab,
        "findings": findings(lab),
        "well_known": well_known(lab),
        "scores": Markup(score_chart(lab.percents, pass_mark)),
        "exercises": Markup(exercise_chart(lab.items, lab.effort)),
        "slips": lab.slips[:MOST_SLIPS],
        "more_slips": max(0, len(lab.slips) - MOST_SLIPS),
    }


def _times(notices: Sequence[Notice], lab: LabAnalysis) -> list[tuple[str, Notice]]:
    """The notices that speak of times, with the name of whose hand-in it is."""
    names = {result.dealt.workbook: result.dealt.name for result in lab.table.results}
    return [
        (names[notice.workbook], notice)
        for notice in notices
        if notice.reason in OF_TIMES and notice.workbook in names
    ]


def _names(lab: LabAnalysis, position: int) -> str:
    return lab.table.results[position].dealt.name
