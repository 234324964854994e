"""Results, worked out for the room: the same score, pages and records as by the command line."""

from __future__ import annotations

import json
from threading import Lock
from typing import TYPE_CHECKING, Final

from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.dealt import Dealt
from labkit.page.prose import as_read

if TYPE_CHECKING:
    from labkit.classroom.pages.own_results import OwnResults

_ONE_AT_A_TIME: Final = Lock()


def work_out_results(folder: ClassFolder) -> None:
    """Mark what was handed in, and write everybody's pages. Raises `ClassError`, `OSError`."""
    # Not before: a room that is opened again must not wait for what makes spreadsheets.
    from labkit.classroom.exports.sheet import write_sheets
    from labkit.classroom.marks.scoring import score
    from labkit.classroom.pages.reports import write_pages

    scoring = score(folder)
    write_sheets(scoring, folder.scores)
    write_pages(folder, scoring)


def results_page(folder: ClassFolder, item: Dealt) -> str | None:
    """The page of a workbook's results as HTML, to print; None where nothing was handed in."""
    return _written(folder, f"{item.lab}--{item.trainee}.html")


def results_shown(folder: ClassFolder, item: Dealt) -> OwnResults | None:
    """What that page says, for the page that was worked on: its formulas are set as there."""
    text = _written(folder, f"{item.lab}--{item.trainee}.json")
    if text is None:
        return None
    own: OwnResults = json.loads(text)
    for each in own["exercises"]:
        each["message"] = as_read(each["message"])
        each["working"] = as_read(each["working"], words=False)
    return own


def _written(folder: ClassFolder, name: str) -> str | None:
    """What scoring wrote. A class that was taken over from a copy has none yet: it is scored."""
    with _ONE_AT_A_TIME:
        if not folder.scores.exists():
            work_out_results(folder)
    try:
        return (folder.scores / name).read_text("utf-8")
    except FileNotFoundError:
        return None
