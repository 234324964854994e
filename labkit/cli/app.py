"""The command itself; the modules beside this one add their commands to it."""

from typing import Annotated

import typer

from labkit import __version__

app = typer.Typer(
    name="labkit",
    help=(
        "Labs for technical training: deal every trainee a workbook with numbers of their own, "
        "score what they hand in by real calculation.\n\n"
        "Begin with 'labkit demo'. Exit codes: 0 done, 1 something is wrong and said so, "
        "2 the command was not understood."
    ),
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode="rich",
)


def _tell_version(wanted: bool) -> None:
    if wanted:
        print(f"labkit {__version__}")
        raise typer.Exit


@app.callback()
def _options(
    version: Annotated[
        bool,
        typer.Option(
            "--version", help="Tell which labkit this is.", callback=_tell_version, is_eager=True
        ),
    ] = False,
) -> None:
    """What stands before the command's name."""
