"""The room: host."""

from __future__ import annotations

import io
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from labkit.cli.app import app
from labkit.cli.screen import console_here, fail, progress, say

if TYPE_CHECKING:
    from rich.console import Console

    from labkit.classroom.class_folder import ClassFolder
    from labkit.classroom.dealt import Deal
    from labkit.room.hosting import Opened
    from labkit.room.way import Way


@app.command(rich_help_panel="On class day")
def host(
    class_folder: Annotated[
        Path | None,
        typer.Argument(help="A dealt class; not needed with --check.", metavar="CLASS"),
    ] = None,
    port: Annotated[
        int | None, typer.Option(min=1, max=65535, help="The port; 8642 if left out.")
    ] = None,
    interface: Annotated[
        str | None,
        typer.Option(
            help="The address of this machine, or the interface, that the room is opened at.",
            metavar="ADDRESS",
        ),
    ] = None,
    second: Annotated[
        Path | None,
        typer.Option(
            help="A folder on a stick or another disk: saved then means on both.",
            metavar="FOLDER",
        ),
    ] = None,
    certificate: Annotated[
        Path | None,
        typer.Option(help="A certificate (PEM): the room is opened as https.", metavar="FILE"),
    ] = None,
    key: Annotated[
        Path | None, typer.Option(help="The certificate's private key (PEM).", metavar="FILE")
    ] = None,
    check: Annotated[
        bool, typer.Option("--check", help="Try the way from a second device, without a class.")
    ] = False,
    no_browser: Annotated[
        bool, typer.Option("--no-browser", help="Do not open your page in the browser here.")
    ] = False,
) -> None:
    """Hold a class from this machine: trainees join it with any browser in the same network."""
    from labkit.classroom.class_folder import ClassFolder
    from labkit.room.certificate import Certificate
    from labkit.room.hosting import PORT
    from labkit.room.hosting import host as hold
    from labkit.room.way import chosen_way

    console, port = console_here(), PORT if port is None else port
    if check:
        _try(chosen_way(interface), port, console)
        return
    if class_folder is None:
        fail("Name the class that is held: labkit host CLASS")
    if (certificate is None) != (key is None):
        fail("Name both: --certificate FILE --key FILE")
    secured = Certificate.read(certificate, key) if certificate and key else None
    folder, way = ClassFolder.open(class_folder), chosen_way(interface)
    say(console, way.words)

    def said(opened: Opened) -> None:
        _say_opened(opened, console)
        plain = "Plain http: whoever listens in this network can read along."
        say(console, secured.remark(way.address) if secured else plain)

    copying = progress(console, "Copying to the second disk")
    hold(
        folder,
        way.address,
        port,
        said,
        browser=not no_browser,
        second=second,
        copying=copying,
        certificate=secured,
    )


def hold_demo(
    folder: ClassFolder, dealt: Deal, port: int, console: Console, *, browser: bool
) -> None:
    """Hold the demo class on this machine alone, its invented trainees at work."""
    from labkit.classroom.handins.demo import LAB, played_answers
    from labkit.classroom.join_codes import codes_on_cards
    from labkit.room.hosting import host as hold
    from labkit.room.players import play

    answers = played_answers(folder, folder.lab(LAB, dealt=True), dealt)
    # One seat stays free, to sit down at oneself.
    *working, (_, own_code) = codes_on_cards(folder, dealt.dealt).items()

    def said(opened: Opened) -> None:
        _say_opened(opened, console)
        say(console, f"Join yourself    with the characters {own_code}")
        play(opened.address, LAB, dict(working), answers)

    hold(folder, "127.0.0.1", port, said, browser=browser)


def _say_opened(opened: Opened, console: Console) -> None:
    say(console, f"Trainees open    {opened.address}")
    say(console, f"Your own page    {opened.trainers_address} (keep it to yourself)")
    for sentence in opened.remarks:
        say(console, sentence)
    say(console, "End the room with Ctrl+C. Everything that is saved stays.")


def _try(way: Way, port: int, console: Console) -> None:
    from labkit.room.way_check import SECONDS, others_to_try, try_way

    def begun() -> None:
        say(console, way.words)
        say(console, "Open this address on a second device, in the network of the trainees:")
        console.print(f"\n  {way.opened(port)}\n", style="bold", markup=False)
        _show_square(way.opened(port))
        for other in others_to_try(way):
            say(console, f"If it does not open there, try {other.opened(port)}")
        say(console, f"Waiting, at most {SECONDS} seconds. Ctrl+C ends it.")

    tried = try_way(way, port, begun)
    for sentence in tried.sentences:
        say(console, sentence)
    if not tried.reached:
        raise typer.Exit(1)


def _show_square(address: str) -> None:
    """A QR code of half blocks, white on black whatever the terminal's own colours are."""
    import segno

    if not sys.stdout.isatty() or not (sys.stdout.encoding or "").lower().startswith("utf"):
        return
    drawn = io.StringIO()
    segno.make(address, micro=False).terminal(drawn, compact=True)
    print("\n".join(f"\033[97;40m{line}\033[0m" for line in drawn.getvalue().splitlines()))
