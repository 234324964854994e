"""`debrief.html`, what to teach again on one page and without names; `analysis.html`, all figures
and the hand-ins that a person should look at; `debrief.json`, the same as the first for the
trainer's own page, with names; and `gain.html`, where there are tests before and after.
None of them fetches anything.
"""

from __future__ import annotations

import json
from collections.abc import Collection, Sequence
from functools import partial
from pathlib import Path
from statistics import median
from typing import Final, TypedDict

from markupsafe import Markup

from labkit.classroom.analysis.at_fault import doubts, without_doubts
from labkit.classroom.analysis.charts import exercise_chart, score_chart
from labkit.classroom.analysis.effort import PAUSE
from labkit.classroom.analysis.in_person import people_to_see
from labkit.classroom.analysis.teach_again import Lesson, lessons, well_known
from labkit.classroom.analysis.whole import LabAnalysis, analyse
from labkit.classroom.class_file import ClassFields
from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.filling import filled
from labkit.classroom.handins.choosing import OF_TIMES, Notice
from labkit.classroom.marks.results import Scoring
from labkit.classroom.marks.standing import Course
from labkit.classroom.pages.gains import LabGain, in_one_line, lab_gains, write_gain
from labkit.classroom.private_place import Place
from labkit.classroom.progress import Progress
from labkit.classroom.result import Result
from labkit.classroom.share import spoken_percent
from labkit.exchange.clock import CLOCK
from labkit.language.markdown import message_html

MOST_SLIPS: Final = 6
DEBRIEF_DATA: Final = "debrief.json"


class Taught(TypedDict):
    """A thing to teach again, in words; `told` is HTML."""

    exercise: str
    number: int
    title: str
    sentence: str
    told: str
    sure: str
    do: str


class Seen(TypedDict):
    """Who needs a word, and why."""

    about: str
    people: list[str]
    sentence: str
    pair: bool


class Made(TypedDict):
    """A known mistake and how many made it; `told` is HTML."""

    number: int
    title: str
    told: str
    count: int
    of: int


class LabDebrief(TypedDict):
    """One lab. `results` and `exercises` are pictures (SVG), `left_out` names what is not marked
    or was voided, `facts` are pairs of words and a figure."""

    lab: str
    title: str
    facts: list[tuple[str, str]]
    teach: list[Taught]
    well_known: list[str]
    how: str
    see: list[Seen]
    faults: list[str]
    no_fault: str
    results: str
    results_notes: list[str]
    exercises: str
    exercises_notes: list[str]
    mistakes: list[Made]
    more_mistakes: int


class Twice(TypedDict):
    """A lab that was dealt twice: the gain in a sentence, and who is left out of it."""

    lab: str
    title: str
    sentence: str
    left_out: list[str]
    only_before: list[str]
    only_after: list[str]
    counts: str


class Debrief(TypedDict):
    """What a trainer's page shows. `code` names the state of the records that it is of."""

    title: str
    scored_at: str
    code: str
    labs: list[LabDebrief]
    twice: list[Twice]


def write_analysis(
    folder: ClassFolder, scoring: Scoring, progress: Progress | None = None
) -> tuple[Path, Path]:
    """Write the pages into the class's scores, and return the debrief and the analysis; the same
    scores, the same pages. The pass mark is the class's own. `progress` is called with (done, all).
    """
    labs = analyse(scoring.labs, scoring.results, scoring.results.beside, progress)
    gains = lab_gains(folder.fields, scoring)
    place = Place(folder.scores)
    debrief = place.write(debrief_page(folder, labs, scoring.results), "debrief.html")
    data: Debrief = {
        "title": folder.fields.title,
        "scored_at": CLOCK.now(),
        "code": scoring.code,
        "labs": _labs(folder.fields, labs, scoring.results),
        "twice": [_twice(folder.fields, one) for one in gains],
    }
    place.write(json.dumps(data, ensure_ascii=False), DEBRIEF_DATA)
    write_gain(folder, gains)
    page = analysis_page(folder, labs, scoring.notices)
    return debrief, place.write(page, "analysis.html")


def read_debrief(folder: ClassFolder) -> Debrief | None:
    """What scoring wrote last; None where the class was not scored, or by an earlier labkit."""
    try:
        data: Debrief = json.loads((folder.scores / DEBRIEF_DATA).read_text("utf-8"))
    except (FileNotFoundError, ValueError):
        return None
    return data


def debrief_page(
    folder: ClassFolder, labs: tuple[LabAnalysis, ...], results: Collection[Result]
) -> str:
    """What to teach again, and the figures behind it, a page a lab. It names no trainee."""
    fields = folder.fields
    course = Course.of(fields, (result for result in results if result.counts))
    several = len(fields.labs) > 1
    return filled(
        "debrief.html",
        title=fields.title,
        course=course,
        several=several,
        pass_mark=course.pass_mark,
        course_scores=Markup(score_chart(course.percents, course.pass_mark)) if several else "",
        median=median,
        percent=partial(spoken_percent, pass_mark=course.pass_mark, decimals=0),
        labs=_labs(fields, labs, results),
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
        faults=doubts,
        no_fault=without_doubts,
    )


def _labs(
    fields: ClassFields, labs: Sequence[LabAnalysis], results: Collection[Result]
) -> list[LabDebrief]:
    course = Course.of(fields, (result for result in results if result.counts))
    return [_lab(fields, course, lab, results) for lab in labs]


def _lab(
    fields: ClassFields, course: Course, lab: LabAnalysis, results: Collection[Result]
) -> LabDebrief:
    # The pass mark is the course's: one lab of several is not held against it.
    several = len(fields.labs) > 1
    practice = fields.practice(lab.table.lab.id)
    return {
        "lab": lab.table.lab.id,
        "title": lab.table.lab.title,
        "facts": _facts(lab, None if several else course),
        "teach": [_taught(lesson, practice) for lesson in lessons(lab)],
        "well_known": [f"{item.number}, {item.title}" for item in well_known(lab)],
        "how": _how(practice),
        "see": [
            {
                "about": one.about,
                "people": list(one.people),
                "sentence": one.sentence,
                "pair": one.pair,
            }
            for one in people_to_see(lab, results)
        ],
        "faults": list(doubts(lab)),
        "no_fault": without_doubts(lab),
        "results": score_chart(lab.percents, None if several else course.pass_mark),
        "results_notes": _results_notes(lab, course, several),
        "exercises": exercise_chart(lab.items, lab.effort),
        "exercises_notes": _exercises_notes(lab),
        "mistakes": [
            {
                "number": slip.number,
                "title": slip.title,
                "told": message_html(slip.told, links=False),
                "count": slip.count,
                "of": slip.handed_in,
            }
            for slip in lab.slips[:MOST_SLIPS]
        ],
        "more_mistakes": max(0, len(lab.slips) - MOST_SLIPS),
    }


def _facts(lab: LabAnalysis, course: Course | None) -> list[tuple[str, str]]:
    percents = lab.percents
    pass_mark = course.pass_mark if course else None
    middle = spoken_percent(median(percents), pass_mark, 0) + " %" if percents else "–"
    facts = [
        ("handed in", f"{lab.table.trainees} of {lab.dealt}"),
        ("median of what is marked" if lab.waits else "median", middle),
    ]
    if course and pass_mark is not None:
        facts.append((f"reached {pass_mark:g} %", f"{course.reached} of {course.handed_in}"))
        if course.undecided:
            facts.append(("not decided yet", str(course.undecided)))
    if lab.median_minutes is not None:
        planned = f"median time ({lab.table.lab.minutes} planned)"
        facts.append((planned, f"{round(lab.median_minutes)} min"))
    return facts


def _taught(lesson: Lesson, practice: bool) -> Taught:
    then = "then one more like it for everybody" if practice else "and let one of them explain it"
    do = f"Show exercise {lesson.number} on the projector, {then}."
    if lesson.about == "blank":
        do = f"Ask whether time ran out or nobody knew how to begin. {do}"
    return {
        "exercise": lesson.exercise,
        "number": lesson.number,
        "title": lesson.title,
        "sentence": lesson.sentence,
        "told": message_html(lesson.told, links=False) if lesson.told else "",
        "sure": lesson.sure,
        "do": do,
    }


def _how(practice: bool) -> str:
    """Where what is proposed is found."""
    if practice:
        return (
            "In the room: unfold “Projector” on your page and choose the exercise; question, known "
            "mistakes, answer and working come one after the other, in numbers that nobody was "
            "dealt. “One more like this” stands below the exercise on everybody's own page."
        )
    return (
        "In the room: release the results, unfold “Projector” on your page and choose the "
        "exercise; question, known mistakes, answer and working come one after the other, in "
        "numbers that nobody was dealt."
    )


def _results_notes(lab: LabAnalysis, course: Course, several: bool) -> list[str]:
    notes = [
        "Each dot is one person (in a large class: bars). The median is the middle one: as many "
        "did better as did worse."
    ]
    if lab.waits:
        notes.append(f"{lab.waits} for your mark; results are of what is marked.")
    if course.pass_mark is None:
        notes.append("No pass mark is drawn: this class has none.")
    elif several:
        notes.append("No pass mark is drawn: it is that of all labs together.")
    error = lab.reliability.standard_error
    if error is not None:
        notes.append(
            f"A total is good to about ± {error:.1f} of {lab.table.possible.sum():g} marks: with "
            "other exercises of this kind, two of three people would come out no further off."
        )
    return notes


def _exercises_notes(lab: LabAnalysis) -> list[str]:
    notes = [
        f"Thin lines are 95 % intervals: the longer, the less a class of {lab.table.trainees} "
        "tells. 19 times out of 20 such a line holds what many people taught like these would have "
        "had.",
        "◆ right of 0: those who did well elsewhere did well here too; ◇ left of 0: the other way "
        "round. Minutes: the thin line is the middle half of the class.",
    ]
    if lab.table.awaited:
        awaited = "; ".join(lab.table.awaited)
        notes.append(f"Not marked by hand yet for everybody, so left out here: {awaited}.")
    if lab.table.voided:
        notes.append(f"Voided, so left out: {'; '.join(lab.table.voided)}.")
    return notes


def _twice(fields: ClassFields, one: LabGain) -> Twice:
    return {
        "lab": one.lab.id,
        "title": one.lab.title,
        "sentence": in_one_line(one),
        "left_out": one.left_out,
        "only_before": list(one.only_before),
        "only_after": list(one.only_after),
        "counts": which_counts(fields),
    }


def which_counts(fields: ClassFields) -> str:
    """Which of two tests is the mark in the lab, in words."""
    if fields.attempts_count == "best":
        return "Both are kept; the better one counts as the mark ('attempts_count: best')."
    return (
        "Both are kept; the test after counts as the mark, for who has not handed it in the one "
        "before ('attempts_count: last')."
    )


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
