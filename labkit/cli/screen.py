"""What every command prints with: whole lines, progress, and errors as sentences."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, Final, NoReturn

import typer

from labkit.errors import sentences

if TYPE_CHECKING:
    from rich.console import Console

WIDE: Final = 100
"""Columns of a terminal from which on tables have room for everything."""


def own_name() -> str:
    """How this command is called here: in a clone there is no `labkit` on the path."""
    by_uv = "uv run --frozen labkit" if "UV_RUN_RECURSION_DEPTH" in os.environ else "labkit"
    return os.environ.get("LABKIT_CALLED", by_uv)


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
    for line in sentences(error):
        print(f"✗ {line}", file=sys.stderr)


def fail(sentence: str) -> NoReturn:
    print(f"✗ {sentence}", file=sys.stderr)
    raise typer.Exit(1)
