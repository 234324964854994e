"""Results, worked out for the room: the same score, pages and records as by the command line."""

from __future__ import annotations

from threading import Lock
from typing import Final

from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.dealt import Dealt

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
    """The page of a workbook's results as HTML; None where nothing of it was handed in.

    A class that was taken over from a copy has no pages yet: they are worked out first.
    """
    with _ONE_AT_A_TIME:
        if not folder.scores.exists():
            work_out_results(folder)
    try:
        return (folder.scores / f"{item.lab}--{item.trainee}.html").read_text("utf-8")
    except FileNotFoundError:
        return None
