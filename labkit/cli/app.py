"""The command itself; the modules beside this one add their commands to it."""

from typing import Annotated, Any, Final

import typer
from typer.core import TyperCommand, TyperGroup

from labkit import __version__

_WIDEST: Final = 100
"""Columns of help: a longer line is hard to read."""


class _Panels(TyperGroup):
    """Lists the commands by what they are for, as plain text: Rich takes long to load."""

    def format_commands(self, ctx: Any, formatter: Any) -> None:  # noqa: ARG002
        panels: dict[str, list[tuple[str, str]]] = {}
        for name, command in self.commands.items():
            if isinstance(command, TyperCommand):
                first, *_ = (command.help or "").split("\n\n")
                panel = str(command.rich_help_panel)
                panels.setdefault(panel, []).append((name, " ".join(first.split())))
        # The same width for all, so that what the commands do stands in one column.
        longest = max(map(len, self.commands))
        for panel, commands in panels.items():
            with formatter.section(panel):
                formatter.write_dl([(name.ljust(longest), does) for name, does in commands])


app = typer.Typer(
    cls=_Panels,
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
    rich_markup_mode=None,
    context_settings={"max_content_width": _WIDEST},
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
