"""A page per trainee and an overview for the instructor, as HTML that fetches nothing."""

from __future__ import annotations

import math
from collections.abc import Mapping
from functools import partial
from pathlib import Path
from typing import Any, Final

from markupsafe import Markup

from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.filling import filled
from labkit.classroom.mark import Mark
from labkit.classroom.marks.looking_back import Told
from labkit.classroom.marks.results import Scoring
from labkit.classroom.pages.tally import Tally
from labkit.classroom.private_place import Place
from labkit.classroom.progress import Progress
from labkit.classroom.result import Result
from labkit.classroom.share import spoken_percent
from labkit.doors.installed import check_for
from labkit.lab.draw import Scenario
from labkit.language.markdown import message_html, to_html

BINS: Final = 10


def write_pages(
    folder: ClassFolder,
    scoring: Scoring,
    progress: Progress | None = None,
    told: Mapping[str, Told] | None = None,
) -> tuple[Path, ...]:
    """Write `overview.html` and a page for everyone who handed in; returns the overview first.

    `told` has, by workbook, what each step at the virtual bench told (`looking_back`).
    """
    # There may be many, and each scoring writes them all anew.
    place = Place(folder.scores, synced=False)
    pages = [place.write(overview_page(folder, scoring), "overview.html")]
    for done, result in enumerate(scoring.results, 1):
        if result.hand_in:
            text = trainee_page(folder, result, (told or {}).get(result.work.workbook))
            pages.append(place.write(text, page_name(result)))
        if progress:
            progress(done, len(scoring.results))
    return tuple(pages)


def page_name(result: Result) -> str:
    """The file name of a trainee's page."""
    return f"{result.dealt.lab}--{result.dealt.trainee}.html"


def trainee_page(folder: ClassFolder, result: Result, told: Told | None = None) -> str:
    """Answer, right answer, working with the trainee's own numbers, and the slip, per exercise."""
    scenario = result.scenario
    picture = scenario.lab.network.draw(scenario.network) if scenario.lab.network else ""
    return filled(
        "trainee.html",
        title=folder.fields.title,
        lab=scenario.lab,
        result=result,
        made_at=folder.fields.spoken(result.hand_in.made_at) if result.hand_in else "",
        picture=Markup(picture),
        percent=partial(spoken_percent, pass_mark=folder.fields.pass_mark, decimals=0),
        exercises=[
            {**_explained(scenario, mark), "told": (told or {}).get(mark.exercise, [])}
            for mark in result.marks
        ],
    )


def overview_page(folder: ClassFolder, scoring: Scoring) -> str:
    """The score distribution, the table, the slips ranked, and the notices."""
    tally = Tally.of(scoring.results)
    return filled(
        "overview.html",
        title=folder.fields.title,
        labs=list(scoring.labs.values()),
        lab_titles={name: lab.title for name, lab in scoring.labs.items()},
        results=scoring.results,
        page_name=page_name,
        bars=_bars(tally.percents),
        mean=math.fsum(tally.percents) / len(tally.percents) if tally.percents else None,
        share=tally.share,
        percent=partial(spoken_percent, pass_mark=folder.fields.pass_mark, decimals=0),
        exercises=[item for _, item in sorted(tally.exercises.items()) if item.possible],
        titles={key: item.title for key, item in tally.exercises.items()},
        slips=tally.ranked_slips,
        notices=scoring.notices,
        code=scoring.code,
        handed_in=tally.handed_in,
        missing=list(tally.missing.items()),
        gone=[(one, one.sentence(folder.roster_file.name)) for one in scoring.results.gone],
    )


def _explained(scenario: Scenario, mark: Mark) -> dict[str, Any]:
    exercise = next(item for item in scenario.lab.exercises if item.id == mark.exercise)
    prepared = scenario.prepare(exercise)
    check = check_for(exercise.kind)
    right = check.shown(prepared.ask, check.right_answer(prepared.ask, prepared.key))
    return {
        "mark": mark,
        "question": Markup(to_html(exercise.question.render(scenario.names))),
        "right": right,
        "working": Markup(to_html(exercise.working.render(scenario.names))),
        # A message may repeat what the trainee typed: no links in it.
        "message": Markup(message_html(mark.verdict.message, links=False)),
        "state": _state(mark),
    }


def _state(mark: Mark) -> str:
    if mark.voided:
        return "voided"
    if mark.awaits:
        return "waits"
    if mark.verdict.right:
        return "right"
    if not mark.answered:
        return "blank"
    return "partly" if mark.verdict.credit > 0 else "wrong"


def _bars(percents: list[float]) -> list[dict[str, Any]]:
    """Ten bins of ten per cent; 100 % belongs to the last."""
    counts = [0] * BINS
    for percent in percents:
        counts[min(int(percent * BINS / 100), BINS - 1)] += 1
    top = max([*counts, 1])
    return [
        {"low": 10 * index, "count": count, "height": round(120 * count / top, 1)}
        for index, count in enumerate(counts)
    ]
