"""A page per trainee and an overview for the instructor, as HTML that fetches nothing."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from functools import partial
from pathlib import Path
from typing import Any, Final

from markupsafe import Markup

from labkit.classroom.analysis.misunderstood import rank_slips
from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.dealt import Dealt
from labkit.classroom.filling import filled
from labkit.classroom.marks.looking_back import Told
from labkit.classroom.marks.results import Scoring
from labkit.classroom.pages.own_results import OwnResults, own_results
from labkit.classroom.pages.tally import Tally
from labkit.classroom.private_place import Place
from labkit.classroom.progress import Progress
from labkit.classroom.result import Result
from labkit.classroom.share import spoken_percent
from labkit.language.markdown import to_html

BINS: Final = 10


def write_pages(
    folder: ClassFolder,
    scoring: Scoring,
    progress: Progress | None = None,
    told: Mapping[str, Told] | None = None,
) -> tuple[Path, ...]:
    """Write `overview.html` and a page for everyone who handed in; returns the overview first.

    Beside each page lies what it shows as JSON (`OwnResults`).
    `told` has, by workbook, what each step at the virtual bench told (`looking_back`).
    """
    # There may be many, and each scoring writes them all anew.
    place = Place(folder.scores, synced=False)
    pages = [place.write(overview_page(folder, scoring), "overview.html")]
    for done, result in enumerate(scoring.results, 1):
        if result.hand_in:
            own = own_results(folder.fields, result, (told or {}).get(result.work.workbook))
            place.write(json.dumps(own, ensure_ascii=False), data_name(result.dealt))
            pages.append(place.write(_trainee_page(folder, result, own), page_name(result)))
        if progress:
            progress(done, len(scoring.results))
    return tuple(pages)


def page_name(result: Result) -> str:
    """The file name of a trainee's page."""
    return f"{result.dealt.lab}--{result.dealt.trainee}.html"


def data_name(item: Dealt) -> str:
    """The file name of the same results as data, from which the room shows them."""
    return f"{item.lab}--{item.trainee}.json"


def _trainee_page(folder: ClassFolder, result: Result, own: OwnResults) -> str:
    """Answer, right answer, working with the trainee's own numbers, and the slip, per exercise."""
    scenario = result.scenario
    picture = scenario.lab.network.draw(scenario.network) if scenario.lab.network else ""
    questions = {
        exercise.id: Markup(to_html(exercise.question.render(scenario.names)))
        for exercise in scenario.lab.exercises
    }
    return filled(
        "trainee.html",
        title=folder.fields.title,
        lab=scenario.lab,
        name=result.dealt.name,
        own=own,
        share=result.share,
        picture=Markup(picture),
        questions=questions,
    )


def overview_page(folder: ClassFolder, scoring: Scoring) -> str:
    """The score distribution, the table, the known mistakes ranked, and the notices."""
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
        slips=rank_slips(scoring.results),
        notices=scoring.notices,
        code=scoring.code,
        handed_in=tally.handed_in,
        missing=list(tally.missing.items()),
        gone=[(one, one.sentence(folder.roster_file.name)) for one in scoring.results.gone],
    )


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
