"""The trainee's commands: open, handin."""

from __future__ import annotations

from functools import partial
from pathlib import Path
from typing import Annotated

import typer

from labkit.cli.app import app
from labkit.cli.screen import console_here, fail, say, tell

WorkbookPath = Annotated[
    Path,
    typer.Argument(
        help="The workbook (.ipynb), or the folder that it is in; with several, all of them.",
        metavar="WORKBOOK",
    ),
]


@app.command(name="open", rich_help_panel="At the trainee's laptop")
def open_(
    workbook: WorkbookPath,
    browser: Annotated[bool, typer.Option(help="Open the browser too.")] = True,
    port: Annotated[int, typer.Option(help="The port to serve on.", min=0, max=65535)] = 8899,
) -> None:
    """Open a workbook in the browser. Works without internet; stop it with Ctrl+C."""
    from labkit.station.server import serve

    tell_here = partial(say, console_here())
    notebooks = _workbooks(workbook)
    serve(notebooks, browser=browser, port=port, say=tell_here)
    tell_here(f"Closed. Your answers are in the folder {notebooks[0].resolve().parent}.")


@app.command(rich_help_panel="At the trainee's laptop")
def handin(
    workbook: WorkbookPath,
    to: Annotated[
        Path | None, typer.Option(help="The folder to put it in, such as a stick.")
    ] = None,
) -> None:
    """Make the hand-in file of a workbook (the button in the workbook does the same)."""
    from labkit.exchange.hand_in import pack
    from labkit.exchange.task_file import task_file_of

    notebooks = _workbooks(workbook)
    if len(notebooks) > 1:
        _hand_in_all(notebooks, to)
        return
    made = pack(task_file_of(notebooks[0]), to)
    say(console_here(), f"Your hand-in is {made}. Give this one file to your instructor.")


def _hand_in_all(notebooks: list[Path], to: Path | None) -> None:
    """Each workbook of a folder that has an answer; one that cannot be read holds up no other."""
    from labkit.errors import OF_THE_SYSTEM, LabkitError
    from labkit.exchange.hand_in import pack
    from labkit.exchange.task_file import task_file_of

    console = console_here()
    made, failed = 0, False
    for notebook in notebooks:
        file = task_file_of(notebook)
        try:
            if not _has_answer(file):
                say(console, f"{notebook.name} has no answer yet: it is not handed in.")
                continue
            say(console, f"Your hand-in is {pack(file, to)}.")
            made += 1
        except (LabkitError, *OF_THE_SYSTEM) as error:
            tell(error)
            failed = True
    if made:
        files = "this one file" if made == 1 else f"these {made} files"
        say(console, f"Give {files} to your instructor.")
    if failed:
        raise typer.Exit(1)
    if not made:
        fail("Nothing is handed in. To hand in a workbook as it is, name it.")


def _has_answer(task_file: Path) -> bool:
    from labkit.exchange.journal import Journal, records
    from labkit.exchange.task_file import journal_path, read_task

    read_task(task_file)
    found = records(Journal(journal_path(task_file)).read().entries)
    return any(record.answered for record in found.values())


def _workbooks(path: Path) -> list[Path]:
    """The workbook that is meant, or those of the folder."""
    from labkit.exchange.task_file import workbooks_in
    from labkit.station.errors import StationError

    if path.is_file() and path.suffix == ".ipynb":
        return [path]
    found = sorted(path.glob("*.ipynb")) if path.is_dir() else []
    if len(found) > 1:
        found = workbooks_in(path)
    if found:
        return found
    raise StationError(f"There is no workbook at {path}. A workbook's name ends with .ipynb.")
