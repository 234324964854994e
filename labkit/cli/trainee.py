"""The trainee's commands: open, handin."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from labkit.cli.app import app
from labkit.cli.screen import console_here, say

WorkbookPath = Annotated[
    Path,
    typer.Argument(help="The workbook (.ipynb), or the folder that it is in.", metavar="WORKBOOK"),
]


@app.command(name="open", rich_help_panel="At the trainee's laptop")
def open_(
    workbook: WorkbookPath,
    browser: Annotated[bool, typer.Option(help="Open the browser too.")] = True,
    port: Annotated[int, typer.Option(help="The port to serve on.", min=0, max=65535)] = 8899,
) -> None:
    """Open a workbook in the browser. Works without internet; stop it with Ctrl+C."""
    from labkit.station.server import serve

    serve(_notebook(workbook), browser=browser, port=port)


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

    made = pack(task_file_of(_notebook(workbook)), to)
    say(console_here(), f"Your hand-in is {made}. Give this one file to your instructor.")


def _notebook(path: Path) -> Path:
    from labkit.station.errors import StationError

    if path.is_file() and path.suffix == ".ipynb":
        return path
    found = sorted(path.glob("*.ipynb")) if path.is_dir() else []
    if len(found) == 1:
        return found[0]
    if found:
        names = ", ".join(item.name for item in found)
        raise StationError(f"{path} holds several workbooks ({names}): name one of them.")
    raise StationError(f"There is no workbook at {path}. A workbook's name ends with .ipynb.")
