"""The author's commands: labs."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from labkit.cli.app import app
from labkit.cli.screen import console_here, fail, say


@app.command(rich_help_panel="Writing labs")
def labs(
    folder: Annotated[
        Path | None,
        typer.Argument(
            help="A folder of labs; left out, those that come with labkit.", metavar="[FOLDER]"
        ),
    ] = None,
) -> None:
    """List the labs, and say what is wrong with a definition that cannot be read."""
    from rich.markup import escape
    from rich.table import Table

    from labkit.classroom.class_folder import lab_library, library_labs
    from labkit.lab.problems import DefinitionError

    console = console_here()
    library = folder or lab_library()
    found = library_labs(library)
    if not found:
        fail(f"There is no lab in {library}. A lab is a folder with a file 'lab.md' in it.")
    table = Table("lab", "title", "version", "exercises", "marks", "minutes", "state")
    for name, lab in found.items():
        if isinstance(lab, DefinitionError):
            found_wrong = f"{len(lab.problems)} problem(s), see below"
            table.add_row(escape(name), "", "", "", "", "", found_wrong)
            continue
        table.add_row(
            lab.id,
            escape(lab.title),
            lab.version,
            str(len(lab.exercises)),
            f"{lab.marks:g}",
            str(lab.minutes),
            "ready",
        )
    console.print(table)
    broken = [lab for lab in found.values() if isinstance(lab, DefinitionError)]
    for error in broken:
        for problem in error.problems:
            say(console, f"✗ {problem}")
    if broken:
        raise typer.Exit(1)
