"""The board: a class begun, held, marked and closed from pages in the browser."""

from __future__ import annotations

import getpass
from pathlib import Path
from typing import Annotated

import typer

from labkit.cli.app import app
from labkit.cli.screen import console_here, fail, progress, say


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


@app.command(rich_help_panel="Records of a class")
def year(
    folder: Annotated[Path, typer.Argument(help="The folder that classes lie in.")],
) -> None:
    """Show people across classes, whose certificates end when, and labs compared."""
    from labkit.board.classes import Classes
    from labkit.classroom.across.seen import result_in_words, seen
    from labkit.classroom.across.year import read_year
    from labkit.exchange.clock import CLOCK

    console, classes = console_here(), Classes(folder)
    names, today = classes.names(), CLOCK.moment().date()
    if not names:
        fail(f"No class lies in {folder}: a class is a folder with a class.yaml.")
    with progress(console, "Reading the classes") as step:
        found = read_year(names, lambda name: seen(classes.open(name)), today, step)
    for ending in found.due:
        verb = "ended" if ending.over else "ends"
        who = f"{ending.person.name} ({ending.person.id})"
        say(console, f"{ending.until}  {verb}: {ending.title}, {who}, {ending.serial}")
    for person in found.people:
        attended = "; ".join(
            " ".join(filter(None, (one.day, f"{one.title}:", result_in_words(one))))
            for one in person.classes
        )
        say(console, f"{person.id}  {person.name}  {attended}")
        if person.remark:
            say(console, f"! {person.remark}")
    for lab in found.labs:
        if lab.interval:
            chance = f"by chance {lab.interval.low:.0f} to {lab.interval.high:.0f} %"
            handed_in = f"{lab.handed_in} handed in, mean {lab.mean:.0f} % ({chance})"
            say(console, f"{lab.lab} {lab.version}, {lab.title}: {handed_in}")
    for name, told in found.wrong.items():
        for sentence in told:
            say(console, f"✗ {name}: {sentence}")
