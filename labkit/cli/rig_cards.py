"""Fault cards for a real training rig: cards."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from labkit.cli.app import app
from labkit.cli.printing import Paper, make_pdf
from labkit.cli.screen import console_here, fail, own_name, say, typed

if TYPE_CHECKING:
    from rich.console import Console

    from labkit.classroom.cards.dealing import CardDeal
    from labkit.lab.rig import Rig

_USUAL = Path("print")


@app.command(rich_help_panel="On class day")
def cards(
    rig: Annotated[
        Path, typer.Argument(help="The file that describes the training rig.", metavar="RIG")
    ],
    pairs: Annotated[
        int | None, typer.Option(help="How many pairs get a card each; 6 if left out.")
    ] = None,
    class_: Annotated[
        Path | None,
        typer.Option("--class", help="A class: pairs by its roster, by name.", metavar="CLASS"),
    ] = None,
    seed: Annotated[
        str | None, typer.Option(help="Which cards to draw; any word. 'cards' if left out.")
    ] = None,
    paper: Annotated[
        Paper, typer.Option(help="The paper in the printer.", case_sensitive=False)
    ] = Paper.a4,
    pdf: Annotated[
        bool, typer.Option("--pdf", help="Make PDF files too (needs Chromium).")
    ] = False,
    to: Annotated[
        Path | None,
        typer.Option(help="The folder to write to; left out, 'print' in the class, or here."),
    ] = None,
    check: Annotated[
        Path | None,
        typer.Option(
            help="What a pair measured (lines: instrument, place, value): is it the fault?",
            metavar="FILE",
        ),
    ] = None,
    card: Annotated[
        int | None, typer.Option(help="With --check: the number of the card in the rig.")
    ] = None,
) -> None:
    """Deal sealed cards with faults for a real rig; hold what was measured against them."""
    from labkit.lab.reading.rig_file import read_rig

    if (check is None) != (card is None):
        fail("'--check FILE' and '--card NUMBER' go together.")
    if pairs is not None and class_ is not None:
        fail("Give '--pairs' or '--class': the class says how many pairs there are.")
    if seed is not None and class_ is not None:
        fail("The class's own secret draws its cards: leave '--seed' out.")
    folder = to or (class_ / "print" if class_ else _USUAL)
    described, console = read_rig(rig), console_here()
    if check is not None and card is not None:
        _check(described, folder, check, card, console)
        return
    deal = _deal(described, folder, pairs, class_, seed)
    _print(deal, folder, class_, paper, console)
    if pdf:
        from labkit.classroom.cards.pages import CARDS, MEASURING, TRAINER

        make_pdf([folder / name for name in (CARDS, TRAINER, MEASURING)], console, -1)
    else:
        say(
            console,
            "Open a file in a browser and print it from there, without headers and footers.",
        )
    checked = f"{own_name()} cards {typed(rig)} --check FILE --card NUMBER"
    say(console, f"What a pair measured:  {checked}")


def _deal(
    rig: Rig, folder: Path, pairs: int | None, class_: Path | None, seed: str | None
) -> CardDeal:
    from labkit.classroom.cards.dealing import deal_again_or_anew, pairs_among, pairs_of
    from labkit.classroom.class_folder import ClassFolder

    if class_ is None:
        names = None if pairs is None else pairs_of(pairs)
        return deal_again_or_anew(rig, folder, names, seed)
    opened = ClassFolder.open(class_)
    return deal_again_or_anew(
        rig, folder, pairs_among(opened.trainees), opened.secret(make=True), secret=True
    )


def _print(
    deal: CardDeal, folder: Path, class_: Path | None, paper: Paper, console: Console
) -> None:
    from labkit.classroom.cards.pages import print_deal
    from labkit.classroom.class_folder import ClassFolder
    from labkit.classroom.private_place import Place
    from labkit.classroom.records.handed_on import remember
    from labkit.workbook.handout import PageSize

    place = Place.of(class_, folder) if class_ else Place(folder)
    printed = print_deal(deal, place, PageSize(paper.value))
    if class_:
        remember(ClassFolder.open(class_), "print", folder)
    say(console, f"Cards to fold and seal: {printed.cards} ({len(deal.cards)} cards)")
    say(console, f"Your own sheet:         {printed.trainer} (it tells the faults)")
    say(console, f"A pair's measuring sheet: {printed.measuring}")
    say(console, f"The same to fill in:    {printed.readings}")


def _check(rig: Rig, folder: Path, file: Path, number: int, console: Console) -> None:
    from labkit.classroom.cards.checking import held_against
    from labkit.classroom.cards.dealing import require_deal_of

    deal = require_deal_of(rig, folder)
    try:
        text = file.read_text(encoding="utf-8-sig")
    except UnicodeDecodeError:
        fail(f"{file} is not UTF-8 text. Save it as UTF-8, or as CSV (UTF-8).")
    for line in held_against(deal, number, text, file.name):
        say(console, line)
