"""The command itself; the modules beside this one add their commands to it."""

import typer

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
