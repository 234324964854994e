"""What every command prints with: whole lines, progress, and errors as sentences."""

from __future__ import annotations

import io
import json
import os
import re
import shlex
import sys
import tempfile
import traceback
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Final, NoReturn

import typer

if TYPE_CHECKING:
    from rich.console import Console

WIDE: Final = 100
"""Columns of a terminal from which on tables have room for everything."""


def own_name() -> str:
    """How this command is called here: in a clone there is no `labkit` on the path."""
    if "LABKIT_CALLED" in os.environ:
        return os.environ["LABKIT_CALLED"]
    if "UV_RUN_RECURSION_DEPTH" in os.environ:
        return "uv run --frozen labkit"
    as_module = Path(sys.argv[0]).name == "__main__.py"
    return f"{Path(sys.executable).stem} -m labkit" if as_module else "labkit"


def typed(word: object, *, windows: bool = os.name == "nt") -> str:
    """A path or a word as it can be pasted into the command line of this computer."""
    text = str(word)
    if not windows:
        return shlex.quote(text)
    # Both command lines there take double quotes, and no file's name holds one.
    return text if re.fullmatch(r"[\w.:\\/+=-]+", text) else f'"{text}"'


def print_json(data: object, indent: int) -> None:
    """Print JSON; where the output cannot take every letter, with letters written as escapes."""
    narrow = not (sys.stdout.encoding or "").lower().startswith("utf")
    print(json.dumps(data, ensure_ascii=narrow, indent=indent))


def take_any_letter() -> None:
    """What a pipe's encoding does not have is printed as '?', instead of ending the command."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="replace")


def console_here() -> Console:
    from rich.console import Console

    # Output that is not a terminal keeps whole lines: paths in it can be copied.
    width = None if sys.stdout.isatty() else int(os.environ.get("COLUMNS", "120"))
    return Console(highlight=False, width=width)


def say(console: Console, sentence: str) -> None:
    """Print a whole line as it is; a '[' in a path is no mark-up.

    What trainees wrote may hold characters that steer a terminal: they are left out.
    """
    plain = "".join(char for char in sentence if char.isprintable())
    console.print(plain, markup=False, emoji=False, soft_wrap=True)


@contextmanager
def progress(console: Console, words: str) -> Iterator[Callable[[int, int], None]]:
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


def tell(error: Exception) -> None:
    from labkit.classroom.errors import ClassError, in_words
    from labkit.language.problems import DefinitionError
    from labkit.station.errors import StationError

    if isinstance(error, ClassError | StationError | DefinitionError):
        lines = str(error).splitlines()
    elif isinstance(error, ModuleNotFoundError) and _part(error.name) != "labkit":
        lines = [_not_installed(_part(error.name))]
    elif isinstance(error, OSError):
        lines = [in_words(error)]
    else:
        lines = [_kept_report(error)]
    for line in lines:
        print(f"✗ {line}", file=sys.stderr)


def _part(module: str | None) -> str:
    return (module or "labkit").partition(".")[0]


def _not_installed(package: str) -> str:
    """Which of labkit's extras the missing package comes with."""
    extra = "notebook" if package.startswith("jupyter") else "trainer"
    return (
        f"This command needs more than is installed here: '{package}' is not there. "
        # Double quotes can be pasted everywhere, in both command lines of Windows too.
        f'Do this once, then try again: pip install "labkit[{extra}]"'
    )


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


def fail(sentence: str) -> NoReturn:
    print(f"✗ {sentence}", file=sys.stderr)
    raise typer.Exit(1)
