"""What every command prints with: whole lines, progress, and errors as sentences."""

from __future__ import annotations

import io
import json
import os
import re
import shlex
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Final, NoReturn

import typer

from labkit.errors import sentences

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


def plain(sentence: str) -> str:
    """Without the characters that steer a terminal or turn the way of reading."""
    return "".join(char for char in sentence if char.isprintable())


def say(console: Console, sentence: str) -> None:
    """Print a whole line as it is; a '[' in a path is no mark-up.

    What trainees wrote may hold characters that steer a terminal: they are left out.
    """
    console.print(plain(sentence), markup=False, emoji=False, soft_wrap=True)


@contextmanager
def progress(
    console: Console, words: str, *, counted: bool = True, forks: bool = False
) -> Iterator[Callable[[int, int], None]]:
    """Tell how far some work is: in whole things that it is counted in, or in per cent.

    For work that forks no thread stands beside it: what is told changes at its steps alone.
    """
    from rich.progress import (
        BarColumn,
        MofNCompleteColumn,
        Progress,
        TaskProgressColumn,
        TextColumn,
        TimeRemainingColumn,
    )

    columns = (
        TextColumn("{task.description}"),
        BarColumn(),
        MofNCompleteColumn() if counted else TaskProgressColumn(),
        TimeRemainingColumn(),
    )
    # The rate is that of the whole run: one long page is no reason to know it no more.
    with Progress(
        *columns, console=console, speed_estimate_period=3600, auto_refresh=not forks
    ) as progress:
        task = progress.add_task(words, total=None)

        def step(done: int, total: int) -> None:
            progress.update(task, completed=done, total=total, refresh=forks)

        yield step


def tell(error: Exception) -> None:
    for line in sentences(error):
        print(f"✗ {plain(line)}", file=sys.stderr)


def fail(sentence: str) -> NoReturn:
    lines = "\n".join(plain(line) for line in sentence.split("\n"))
    print(f"✗ {lines}", file=sys.stderr)
    raise typer.Exit(1)
