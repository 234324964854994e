"""The command `labkit`. It parses, calls and prints; what it calls is loaded only when needed."""

from __future__ import annotations

import os
import shlex
import sys
import tempfile
import traceback
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from rich.console import Console

    from labkit.classroom.class_folder import ClassFolder
    from labkit.classroom.scoring import Scoring

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


class Mode(StrEnum):
    """Whether answers are checked at once."""

    practice = "practice"
    assessed = "assessed"


ClassPath = Annotated[
    Path, typer.Argument(help="The class folder (it holds class.yaml).", metavar="CLASS")
]
WorkbookPath = Annotated[
    Path,
    typer.Argument(help="The workbook (.ipynb), or the folder that it is in.", metavar="WORKBOOK"),
]


@app.command()
def demo(
    folder: Annotated[
        Path, typer.Argument(help="A folder that is not there yet.", metavar="FOLDER")
    ] = Path("labkit-demo"),
    mode: Annotated[Mode, typer.Option(help="The kind of class to show.")] = Mode.practice,
) -> None:
    """Show the whole job: make a class of twelve invented trainees, deal, play, score."""
    from labkit.classroom.class_folder import lab_library
    from labkit.classroom.dealing import deal as deal_class
    from labkit.classroom.demo import LAB, make_class, play

    console = _console()
    made = make_class(folder, mode=mode.value)
    with _progress(console, "Dealing") as step:
        result = deal_class(made, lab_library(), step)
    with _progress(console, "Playing the trainees") as step:
        play(made, made.lab(LAB), result.deal, step)
    _score(made, console)
    first = made.workbooks / result.deal.dealt[0].trainee
    console.print()
    console.print("What to open next", style="bold")
    _say(console, f"  the instructor's overview   {made.scores / 'overview.html'}")
    _say(console, f"  the score sheet             {made.scores / 'score-sheet.xlsx'}")
    _say(console, f"  a trainee's workbook        {_name()} open {shlex.quote(str(first))}")
    _say(console, f"  the lab's text              {made.path / 'labs' / LAB / 'lab.md'}")


@app.command()
def deal(folder: ClassPath) -> None:
    """Deal a workbook to every trainee of a class. Run it again for late trainees."""
    from labkit.classroom.class_folder import ClassFolder, lab_library
    from labkit.classroom.dealing import deal as deal_class

    console = _console()
    opened = ClassFolder.open(folder)
    with _progress(console, "Dealing") as step:
        result = deal_class(opened, lab_library(), step)
    opened.hand_ins.mkdir(exist_ok=True)
    _say(console, f"{result.new} dealt, {result.kept} were dealt already.")
    _say(console, f"Give each trainee their folder from {opened.workbooks}.")
    again = f"{_name()} score {shlex.quote(str(folder))}"
    _say(console, f"Put what comes back into {opened.hand_ins}, then: {again}")
    _say(console, f"Keep {opened.path / 'class-secret.txt'} to yourself.")


@app.command()
def score(folder: ClassPath) -> None:
    """Score the hand-ins of a class; write the score sheet and a page for every trainee."""
    from labkit.classroom.class_folder import ClassFolder

    _score(ClassFolder.open(folder), _console())


@app.command(name="open")
def open_(
    workbook: WorkbookPath,
    browser: Annotated[bool, typer.Option(help="Open the browser too.")] = True,
    port: Annotated[int, typer.Option(help="The port to serve on.", min=0, max=65535)] = 8899,
) -> None:
    """Open a workbook in the browser. Works without internet; stop it with Ctrl+C."""
    from labkit.station.server import serve

    raise typer.Exit(serve(_notebook(workbook), browser=browser, port=port))


@app.command()
def handin(
    workbook: WorkbookPath,
    to: Annotated[
        Path | None, typer.Option(help="The folder to put it in, such as a stick.")
    ] = None,
) -> None:
    """Make the hand-in file of a workbook (the button in the workbook does the same)."""
    from labkit.station.handin import pack, task_file_of

    made = pack(task_file_of(_notebook(workbook)), to)
    _say(_console(), f"Your hand-in is {made}. Give this one file to your instructor.")


@app.command()
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

    console = _console()
    library = folder or lab_library()
    found = library_labs(library)
    if not found:
        _fail(f"There is no lab in {library}. A lab is a folder with a file 'lab.md' in it.")
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
            _say(console, f"✗ {problem}")
    if broken:
        raise typer.Exit(1)


def main() -> None:
    """Run the command; every error becomes a sentence."""
    try:
        app()
    except KeyboardInterrupt:
        print("Stopped.", file=sys.stderr)
        sys.exit(130)
    except Exception as error:
        _tell(error)
        sys.exit(1)


def _name() -> str:
    """How this command is called here: whoever came by `uv run` has no `labkit` on the path."""
    return "uv run --frozen labkit" if "UV_RUN_RECURSION_DEPTH" in os.environ else "labkit"


def _tell(error: Exception) -> None:
    from labkit.classroom.errors import ClassError
    from labkit.lab.problems import DefinitionError
    from labkit.station.errors import StationError

    if isinstance(error, ClassError | StationError | DefinitionError):
        lines = str(error).splitlines()
    elif isinstance(error, OSError):
        lines = [f"{error.filename or 'A file'}: {error.strerror or error}."]
    else:
        lines = [_kept_report(error)]
    for line in lines:
        print(f"✗ {line}", file=sys.stderr)


def _kept_report(error: Exception) -> str:
    """Keep the details of an error of our own making in a file, and say where."""
    mistake = f"labkit made a mistake of its own ({type(error).__name__})."
    try:
        # A name that nobody can guess, readable by its owner only.
        descriptor, report = tempfile.mkstemp(prefix="labkit-error-", suffix=".txt")
        with os.fdopen(descriptor, "w", encoding="utf-8", errors="replace") as stream:
            stream.write("".join(traceback.format_exception(error)))
    except OSError:
        return f"{mistake} Its details could not be kept either: the disk may be full."
    return f"{mistake} The details are in {report}: please send them to labkit's developers."


def _fail(sentence: str) -> None:
    print(f"✗ {sentence}", file=sys.stderr)
    raise typer.Exit(1)


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


def _console() -> Console:
    from rich.console import Console

    # Output that is not a terminal keeps whole lines: paths in it can be copied.
    width = None if sys.stdout.isatty() else int(os.environ.get("COLUMNS", "120"))
    return Console(highlight=False, width=width)


def _say(console: Console, sentence: str) -> None:
    """Print a whole line as it is; a '[' in a path is no mark-up."""
    console.print(sentence, markup=False, emoji=False, soft_wrap=True)


@contextmanager
def _progress(console: Console, words: str) -> Iterator[Callable[[int, int], None]]:
    from rich.progress import (
        BarColumn,
        MofNCompleteColumn,
        Progress,
        TextColumn,
        TimeRemainingColumn,
    )

    columns = (
        TextColumn("{task.description}"),
        BarColumn(),
        MofNCompleteColumn(),
        TimeRemainingColumn(),
    )
    with Progress(*columns, console=console) as progress:
        task = progress.add_task(words, total=None)

        def step(done: int, total: int) -> None:
            progress.update(task, completed=done, total=total)

        yield step


def _score(folder: ClassFolder, console: Console) -> None:
    from labkit.classroom.reports import write_pages
    from labkit.classroom.scoring import score as score_class
    from labkit.classroom.sheet import write_sheets

    with _progress(console, "Scoring") as step:
        scoring = score_class(folder, step)
    with _progress(console, "Writing pages") as step:
        write_pages(folder, scoring, step)
    csv, xlsx = write_sheets(scoring, folder.scores)
    _print_scores(scoring, console)
    _say(console, f"Score sheet: {csv}, {xlsx.name}")
    _say(console, f"Overview and a page a trainee: {folder.scores / 'overview.html'}")


def _print_scores(scoring: Scoring, console: Console) -> None:
    from rich.markup import escape
    from rich.table import Table

    table = Table("trainee", "lab", title=None)
    table.add_column("marks", justify="right")
    table.add_column("%", justify="right")
    table.add_column("")
    table.add_column("slips")
    for result in scoring.results:
        name = escape(f"{result.dealt.name} ({result.dealt.trainee})")
        if not result.counts:
            table.add_row(name, result.dealt.lab, "–", "–", "", "not handed in")
            continue
        slips = [mark.slip for mark in result.marks if mark.slip]
        blanks = sum(not m.answered for m in result.marks)
        words = [
            *(["late"] if result.late else []),
            *slips,
            *([f"{blanks} blank"] if blanks else []),
        ]
        bar = "█" * round(result.percent / 5)
        table.add_row(
            name,
            result.dealt.lab,
            f"{result.earned:g} / {result.possible:g}",
            f"{result.percent:.0f}",
            f"{bar:░<20}",
            escape(", ".join(words)),
        )
    console.print(table)
    for notice in scoring.notices:
        _say(console, f"! {notice.file}: {notice.reason}. {notice.sentence}")
