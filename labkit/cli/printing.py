"""Workbooks on paper: print."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from labkit.cli.app import app
from labkit.cli.screen import console_here, fail, progress, say

if TYPE_CHECKING:
    from collections.abc import Sequence

    from rich.console import Console

    from labkit.workbook.handout import PageSize


class Paper(StrEnum):
    """The paper in the printer."""

    a4 = "A4"
    letter = "Letter"


@app.command(name="print", rich_help_panel="On class day")
def print_(
    path: Annotated[
        Path,
        typer.Argument(
            help="A dealt class, or a lab: its folder, its file, or the id of one of labkit's own.",
            metavar="CLASS-or-LAB",
        ),
    ],
    seed: Annotated[
        str | None,
        typer.Option(help="For a lab: which sample to draw; any word. 'sample' if left out."),
    ] = None,
    paper: Annotated[
        Paper, typer.Option(help="The paper in the printer.", case_sensitive=False)
    ] = Paper.a4,
    pdf: Annotated[
        bool, typer.Option("--pdf", help="Make PDF files too (needs Chromium).")
    ] = False,
    to: Annotated[
        Path | None,
        typer.Option(help="The folder to write to; left out, 'print' in the class, or here."),
    ] = None,
    jobs: Annotated[
        int, typer.Option(help="PDF files that are made at a time; -1: one a core.")
    ] = -1,
    cards: Annotated[
        bool, typer.Option("--cards", help="The cards by which trainees join the room instead.")
    ] = False,
    at: Annotated[
        str | None,
        typer.Option(help="The room's address on the cards, with a square code that opens it."),
    ] = None,
) -> None:
    """Print workbooks on paper: a handout for every trainee, and your own copy with solutions."""
    from labkit.workbook.handout import PageSize

    console, size = console_here(), PageSize(paper.value)
    if at is not None and not cards:
        fail("'--at' is the address on the cards: write '--cards' as well.")
    if cards:
        if seed is not None:
            fail("'--seed' is for a sample of a lab; cards are of a class.")
        files = _cards(path, at, to, size, console)
    else:
        files = _handouts(path, seed, to, size, console)
    if pdf:
        make_pdf(files, console, jobs)
    else:
        say(
            console,
            "Open a file in a browser and print it from there, without headers and footers.",
        )


def _cards(
    path: Path, at: str | None, to: Path | None, size: PageSize, console: Console
) -> Sequence[Path]:
    from labkit.classroom.class_folder import ClassFolder
    from labkit.classroom.exports.cards import print_cards

    page = print_cards(ClassFolder.open(path), at, to, size)
    say(console, f"Cards to cut apart:   {page} (who has somebody's card can join as them)")
    return [page]


def _handouts(
    path: Path, seed: str | None, to: Path | None, size: PageSize, console: Console
) -> Sequence[Path]:
    from labkit.classroom.class_folder import CLASS_FILE, ClassFolder
    from labkit.classroom.exports.printing import lab_file, print_class, print_lab
    from labkit.lab.library import lab_library

    if (path / CLASS_FILE).exists():
        if seed is not None:
            fail("'--seed' is for a sample of a lab; a class has the numbers that were dealt.")
        with progress(console, "Printing") as step:
            printed = print_class(ClassFolder.open(path), to, size, step)
        say(console, f"A handout a trainee:  {printed.each[0].parent} ({len(printed.each)} files)")
        say(console, f"All in one file:      {printed.together}")
    else:
        file = lab_file(path, lab_library())
        printed = print_lab(file, seed or "sample", to or Path("print"), size)
        say(console, f"A sample handout:     {printed.together}")
    say(console, f"Your own copy:        {printed.instructor} (it holds the answers)")
    return printed.files


def make_pdf(files: Sequence[Path], console: Console, jobs: int) -> None:
    from labkit.classroom.exports.pdf import find_browser, write_pdfs

    browser = find_browser()
    if browser is None:
        say(
            console,
            "No Chromium was found for PDF: open a file in a browser and print it from there.",
        )
        return
    with progress(console, "Making PDF", counted=False) as step:
        write_pdfs(browser, files, step, jobs)
    say(console, "Beside each of these lies a PDF of the same name.")
