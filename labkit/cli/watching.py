"""Listening to a real network at the rig: watch."""

from __future__ import annotations

import time
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Final

import typer

from labkit.cli.app import app
from labkit.cli.screen import console_here, fail, plain, say

if TYPE_CHECKING:
    from rich.console import Console
    from rich.table import Table

    from labkit.doors.check import Agreements, Listener

_EVERY_S: Final = 0.5
_SIGNS: Final = {"agrees": "✓ agrees", "differs": "≠ differs"}
_ACKNOWLEDGES: Final = (
    "labkit sends nothing. This interface has no listen-only mode that is known here, so the "
    "adapter itself may acknowledge frames: set it to listen only by its own means."
)


@app.command(rich_help_panel="At the rig")
def watch(
    workbook: Annotated[
        Path,
        typer.Argument(
            help="A workbook (.ipynb) whose sign-off asks for a log: its plan is compared.",
            metavar="WORKBOOK",
        ),
    ],
    log: Annotated[
        Path | None, typer.Option("--from", help="A log to read instead of a live bus.")
    ] = None,
    interface: Annotated[
        str, typer.Option(help="The interface, by the name that python-can has for it.")
    ] = "socketcan",
    channel: Annotated[str, typer.Option(help="Which of its channels.")] = "can0",
    bitrate: Annotated[int, typer.Option(help="The bus's rate, bit/s.", min=1)] = 125_000,
    seconds: Annotated[
        float | None, typer.Option(help="How long; without it until Ctrl+C.", min=0)
    ] = None,
) -> None:
    """Listen to a real bus, or read its log, and hold it against the plan. It never sends."""
    from labkit.answering.real_bus import listening, pieces_of

    console = console_here()
    title, listener = _listener(workbook)
    say(console, f"The plan is that of '{title}'.")
    if log is not None:
        _watched(console, listener, _whole(listener, pieces_of(log)), log.name)
        return
    if not listener.on_can:
        fail(
            "This network is no CAN bus, and no interface to a serial line is listened to here. "
            "Let a terminal write what it receives into a file, and give that: --from FILE."
        )
    with listening(interface, channel, bitrate) as bus:
        if not bus.silent:
            say(console, _ACKNOWLEDGES)
        say(console, "Listening. Stop with Ctrl+C.")
        _watched(console, listener, bus.lines(seconds), f"{interface} {channel}")


def _listener(workbook: Path) -> tuple[str, Listener]:
    from labkit.answering.real_bus import listener_of
    from labkit.exchange.task_file import read_task, task_file_of

    if workbook.suffix != ".ipynb":
        fail(f"{workbook} is no workbook: its name ends with .ipynb.")
    found = listener_of(read_task(task_file_of(workbook)))
    if found is None:
        fail(f"No sign-off of {workbook.name} asks for a log, so there is no plan to compare with.")
    return found


def _whole(listener: Listener, pieces: Iterable[bytes]) -> Iterator[bytes]:
    """A log to its end, which the listener is told of."""
    yield from pieces
    listener.end()


def _watched(console: Console, listener: Listener, pieces: Iterable[bytes], name: str) -> None:
    """Feed all that comes; in a terminal the lines are shown as they change."""
    from rich.live import Live

    shown = 0.0
    try:
        with Live(console=console, auto_refresh=False, transient=True) as live:
            for piece in pieces:
                listener.feed(piece)
                if console.is_terminal and time.monotonic() - shown > _EVERY_S:
                    live.update(_table(listener.told(name)), refresh=True)
                    shown = time.monotonic()
    except KeyboardInterrupt:
        pass
    told = listener.told(name)
    console.print(_table(told))
    for each in told["remarks"]:
        say(console, each)
    say(console, f"{told['summary']}. Whoever signs off decides.")


def _table(told: Agreements) -> Table:
    from rich.table import Table
    from rich.text import Text

    table = Table("What", "Planned", "Heard", "Agreement", title=plain(told["name"]))
    for line in told["lines"]:
        state = _SIGNS.get(line["state"], "? cannot be told")
        words = (line["what"], line["planned"], line["heard"], state)
        # Text, not mark-up: names of devices may hold brackets.
        table.add_row(*(Text(plain(each)) for each in words))
    return table
