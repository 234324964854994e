"""The board: a class begun, held, marked and closed from pages in the browser."""

from __future__ import annotations

import getpass
from pathlib import Path
from typing import Annotated

import typer

from labkit.cli.app import app
from labkit.cli.screen import console_here, progress, say


@app.command(rich_help_panel="On class day")
def board(
    folder: Annotated[
        Path | None,
        typer.Argument(
            help="A class, or the folder that classes lie in; 'labkit' in your documents if left "
            "out.",
            metavar="FOLDER",
        ),
    ] = None,
    port: Annotated[
        int | None,
        typer.Option(min=1, max=65535, help="The port; 8640, or the next free one, if left out."),
    ] = None,
    no_browser: Annotated[
        bool, typer.Option("--no-browser", help="Do not open the page in the browser here.")
    ] = False,
) -> None:
    """Begin, hold, mark and close classes on pages in this machine's own browser."""
    from labkit.board.serving import serve_board

    console = console_here()
    if folder is None:
        from platformdirs import user_documents_path

        folder = user_documents_path() / "labkit"

    def said(address: str) -> None:
        say(console, f"Your own page    {address} (keep it to yourself)")
        say(console, "End it, and the rooms that it holds, with Ctrl+C.")

    serve_board(folder, said, name=getpass.getuser(), port=port, browser=not no_browser)


@app.command(rich_help_panel="On class day")
def carry(
    folder: Annotated[
        Path, typer.Argument(help="A folder that is not there yet, such as one on a stick.")
    ],
) -> None:
    """Make a folder that brings its own Python and starts the board by a double click."""
    from labkit.board.carried import carry as carried

    console = console_here()
    with progress(console, "Copying") as step:
        start = carried(folder, step)
    say(console, f"Double-click {start} (on a machine of the same system and processor).")
    say(console, f"Classes lie in {folder / 'classes'}.")
