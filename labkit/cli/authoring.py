"""The author's commands: new, proof, preview, labs."""

from __future__ import annotations

import signal
import sys
from enum import StrEnum
from functools import partial
from math import ceil
from pathlib import Path
from textwrap import shorten
from typing import TYPE_CHECKING, Annotated, Final

import typer

from labkit.cli.app import app
from labkit.cli.class_day import Mode
from labkit.cli.screen import (
    WIDE,
    console_here,
    fail,
    own_name,
    plain,
    print_json,
    progress,
    say,
    typed,
)

if TYPE_CHECKING:
    from collections.abc import Mapping

    from rich.console import Console

    from labkit.lab.definition import Lab
    from labkit.lab.exercise_search import Found
    from labkit.language.problems import DefinitionError
    from labkit.proofing import Finding, Report

_MOST_FOUND: Final = 10
_MOST_NEEDS: Final = 12
_LONGEST_TASK: Final = 160


class StarterNetwork(StrEnum):
    """What a new lab is about."""

    devicenet = "devicenet"
    modbus = "modbus"
    canopen = "canopen"
    none = "none"


LabPath = Annotated[
    str,
    typer.Argument(
        help="The folder of the lab, its lab.md, or the id of a lab that comes with labkit.",
        metavar="LAB",
    ),
]


@app.command(rich_help_panel="Writing labs")
def new(
    folder: Annotated[
        Path, typer.Argument(help="A folder that is not there yet.", metavar="FOLDER")
    ],
    title: Annotated[str, typer.Option(help="What stands at the top of the workbook.")] = "",
    network: Annotated[
        StarterNetwork, typer.Option(help="Which network the lab is about, if any.")
    ] = StarterNetwork.devicenet,
) -> None:
    """Begin a lab: write a small working one to change."""
    from labkit.exchange.whole_file import write_whole
    from labkit.lab.starter import is_lab_id, nearest_lab_id, starter_lab

    lab_id = folder.absolute().name
    if not is_lab_id(lab_id):
        offer = folder.parent / nearest_lab_id(lab_id)
        fail(
            f"'{lab_id}' cannot name a lab: use small letters, digits and '-', such as "
            f"{own_name()} new {typed(offer)}"
        )
    if folder.exists() and not (folder.is_dir() and not any(folder.iterdir())):
        fail(f"{folder} is there already, and nothing is written over it. Give another folder.")
    text = starter_lab(lab_id, title or lab_id.replace("-", " ").capitalize(), network)
    folder.mkdir(parents=True, exist_ok=True)
    file = folder / "lab.md"
    write_whole(file, text.encode())
    console, place = console_here(), typed(folder)
    say(console, f"Your lab is {file}. Open it in any text editor.")
    say(console, f"What is wrong with it:        {own_name()} proof {place}")
    say(console, f"What a trainee gets to see:   {own_name()} preview {place}")


@app.command(rich_help_panel="Writing labs")
def proof(
    lab: LabPath,
    draws: Annotated[
        int, typer.Option(help="How many scenarios to draw.", min=1, max=1_000_000)
    ] = 1_000,
    jobs: Annotated[
        int, typer.Option(help="How many processes share the draws; -1 is one a core.", min=-1)
    ] = -1,
    as_json: Annotated[
        bool, typer.Option("--json", help="Print the findings as JSON, for other programs.")
    ] = False,
    every: Annotated[
        bool, typer.Option("--all", help="Show what the lab accepts too, with its reasons.")
    ] = False,
    page: Annotated[
        Path | None,
        typer.Option("--report", help="Write a page for a colleague too.", metavar="FILE.html"),
    ] = None,
) -> None:
    """Proof-read a lab over many draws: what is wrong, where, and what mends it.

    Ends with 1 while something must be mended.
    """
    from labkit.language.problems import DefinitionError
    from labkit.proofing import proof_file
    from labkit.proofing.reading import unreadable_json

    file = _lab_file(lab)
    if as_json:
        try:
            report = proof_file(file, draws, jobs=jobs)
        except DefinitionError as error:
            if page:
                _write_unreadable(error, file, page)
            print_json(unreadable_json(error), 2)
            raise typer.Exit(1) from None
        if page:
            _write_report(report, file, page)
        print_json(report.to_json(), 2)
        raise typer.Exit(0 if report.ready else 1)
    console = console_here()
    try:
        with progress(console, "Proof-reading", forks=True) as step:
            report = proof_file(file, draws, step, jobs=jobs)
    except DefinitionError as error:
        if page:
            _write_unreadable(error, file, page)
            say(console, f"The report is {page}.")
        raise
    _print_report(report, lab, console, every=every)
    if page:
        _write_report(report, file, page)
        say(console, f"The report is {page}.")
    raise typer.Exit(0 if report.ready else 1)


def _write_report(report: Report, file: Path, page: Path) -> None:
    from labkit.proofing.report_page import report_page, texts_of

    _write_page(report_page(report, texts_of(file)), page)


def _write_unreadable(error: DefinitionError, file: Path, page: Path) -> None:
    from labkit.proofing.report_page import unreadable_page

    _write_page(unreadable_page(error, file), page)


def _write_page(text: str, page: Path) -> None:
    from labkit.exchange.whole_file import write_whole

    try:
        write_whole(page, text.encode())
    except OSError as error:
        fail(f"{page} cannot be written: {error.strerror or error}. Give another file.")


def _print_report(report: Report, lab: str, console: Console, *, every: bool) -> None:
    from labkit.proofing import Severity

    for severity in Severity:
        found = report.of(severity)
        if found:
            console.print(f"\n{severity.value.capitalize()} ({len(found)})", style="bold")
        for finding in found:
            _print_finding(finding, severity.value, console)
    if report.accepted:
        console.print(f"\nAccepted ({len(report.accepted)})", style="bold")
    if report.accepted and not every:
        say(console, "The lab gives reasons for these: '--all' shows them.")
    for stands in report.accepted if every else ():
        finding = stands.finding
        say(console, f"= {finding.place}: {finding.sentence} [{finding.id}]")
        say(console, f"  Accepted in {stands.word.place}: {stands.word.because}")
    if told := report.told_costs:
        console.print("\nWhat the rules cost", style="bold")
    for cost in told:
        say(console, f"· {cost.place}: {cost.sentence}")
        say(console, f"  {cost.mend}")
    console.print()
    say(
        console,
        f"{report.drawn} scenarios drawn, {report.different} different; the rules threw away "
        f"{report.thrown_away} more.",
    )
    if report.difficulty:
        spread = report.difficulty
        say(
            console,
            f"Difficulty: {spread.low:.3g} to {spread.high:.3g}, "
            f"in the middle {spread.middle:.3g}.",
        )
    if report.wording:
        text = report.wording
        say(
            console,
            f"Text: {text.words} words, {text.words_per_sentence:.0f} a sentence, reading level "
            f"{text.grade:.0f}; mere reading takes {ceil(text.minutes)} of the "
            f"{report.lab.minutes} minutes.",
        )
    if any(finding.seed for finding in report.findings):
        again = f"{own_name()} preview {typed(lab)} --seed SEED"
        say(console, f"To see the draw of a seed: {again}")
    must, look = report.of(Severity.MUST), report.of(Severity.LOOK)
    mend = f"✗ {report.lab.id}: {len(must)} to be mended"
    fine = f"✓ {report.lab.id}: nothing must be mended"
    accepted = f", {len(report.accepted)} accepted" if report.accepted else ""
    say(console, f"{mend if must else fine}, {len(look)} to look at{accepted}.")


def _print_finding(finding: Finding, severity: str, console: Console) -> None:
    sign = {"must be mended": "✗", "look at it": "?", "note": "·"}[severity]
    say(console, f"{sign} {finding.place}: {finding.sentence} [{finding.id}]")
    say(console, f"  {finding.mend}")


@app.command(rich_help_panel="Writing labs")
def preview(
    lab: LabPath,
    seed: Annotated[
        str | None, typer.Option(help="Draw this one again; left out, a fresh one is drawn.")
    ] = None,
    mode: Annotated[Mode, typer.Option(help="As a workbook of which class.")] = Mode.practice,
    browser: Annotated[bool, typer.Option(help="Open the browser too.")] = True,
    port: Annotated[
        int | None,
        typer.Option(help="The port; 8650, or the next free one, if left out.", min=0, max=65535),
    ] = None,
    notebook: Annotated[
        bool, typer.Option("--notebook", help="Show it once, as a notebook.")
    ] = False,
) -> None:
    """See a lab in the browser while you write it: it is drawn again each time you save.

    What is wrong stands beside it. Nothing of it is kept, and it counts in no class. Stop it with
    Ctrl+C.
    """
    from labkit.preview.serving import serve_preview
    from labkit.workbook.preview import fresh_seed

    file, chosen, practice = _lab_file(lab), seed or fresh_seed(), mode is Mode.practice
    console = console_here()
    again = f"{own_name()} preview {typed(lab)} --seed {typed(chosen)}"
    say(console, f"Seed {chosen}. To see the same draw again: {again}")
    # Whoever ends this from outside leaves no folder behind either.
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(143))
    if notebook:
        _preview_notebook(file, chosen, practice=practice, browser=browser, port=port or 8899)
        return

    def said(address: str) -> None:
        say(console, f"Your own page: {address} (keep it to yourself)")
        say(console, f"Write on in {file}: each time you save it the page follows.")
        say(console, "End it with Ctrl+C.")

    serve_preview(file, chosen, said, practice=practice, port=port, browser=browser)


def _preview_notebook(file: Path, seed: str, *, practice: bool, browser: bool, port: int) -> None:
    """A lab once, as a notebook: what an author looks at before a class works in notebooks."""
    from labkit.lab.draw import draw
    from labkit.lab.reading import read_lab
    from labkit.station.server import serve
    from labkit.workbook.preview import preview_workbook

    console, scenario = console_here(), draw(read_lab(file), seed)
    if scenario.difficulty is not None:
        say(console, f"Difficulty {scenario.difficulty:g}.")
    with preview_workbook(scenario, practice=practice) as notebook:
        serve([notebook], browser=browser, port=port, say=partial(say, console))


def _lab_file(lab: str) -> Path:
    """The definition that is meant: a folder, a file, or a lab that comes with labkit."""
    from labkit.lab.library import lab_library
    from labkit.lab.reading.lineage import LAB_FILE

    path = Path(lab)
    if path.is_file():
        return path
    if (path / LAB_FILE).is_file():
        return path / LAB_FILE
    shipped = lab_library() / lab / LAB_FILE
    if len(path.parts) == 1 and shipped.is_file():
        return shipped
    return fail(
        f"There is no lab at {lab}. A lab is a folder with a file '{LAB_FILE}' in it; "
        f"'{own_name()} new {typed(lab)}' begins one."
    )


@app.command(rich_help_panel="Writing labs")
def labs(
    folder: Annotated[
        Path | None,
        typer.Argument(
            help="A folder of labs; left out, those that come with labkit.", metavar="[FOLDER]"
        ),
    ] = None,
    find: Annotated[
        str,
        typer.Option(
            help="Find exercises to take into a lab of your own: words of their title, question, "
            "kind, section or lab.",
            metavar="WORDS",
        ),
    ] = "",
) -> None:
    """List the labs, and say what is wrong with a definition that cannot be read."""
    from labkit.lab.library import lab_library
    from labkit.lab.library_labs import library_labs

    library = folder or lab_library()
    found = library_labs(library)
    if not found:
        fail(f"There is no lab in {library}. A lab is a folder with a file 'lab.md' in it.")
    if find.strip():
        _print_exercises(found, find)
    else:
        _print_labs(found)


def _print_exercises(found: Mapping[str, Lab | DefinitionError], sought: str) -> None:
    """The exercises that have these words, each with the line that takes it into another lab."""
    from labkit.lab.definition import Lab
    from labkit.lab.exercise_search import find_exercises, meant

    console = console_here()
    labs = {name: lab for name, lab in found.items() if isinstance(lab, Lab)}
    for name in found.keys() - labs.keys():
        say(console, f"! '{name}' cannot be read, so it is not searched. 'labs' says why.")
    exercises = find_exercises(labs, sought)
    if not exercises:
        near = {word: other for word, other in meant(labs, sought).items() if other}
        offers = [f"Did you mean '{other}' for '{word}'?" for word, other in near.items()]
        offer = " ".join(offers) or "Take fewer words."
        fail(f"No exercise has all of these words: {sought.strip()}. {offer}")
    for each in exercises[:_MOST_FOUND]:
        _print_exercise(console, each)
    if (more := len(exercises) - _MOST_FOUND) > 0:
        say(console, f"{more} more: add a word to see fewer.")
    say(console, "To take one: put its line below ```exercise and an id, and close it with ```.")


def _print_exercise(console: Console, found: Found) -> None:
    exercise, lab, needs = found.exercise, found.lab, found.needs
    where = f"{lab.title}, {found.heading}" if found.heading else lab.title
    say(console, f"{found.title} ({exercise.kind}, {exercise.marks:g} marks; {where})")
    say(console, f"  {shorten(found.task, _LONGEST_TASK, placeholder=' …')}")
    network = ["a network"] if needs.network else []
    functions = ["functions of a network"] if needs.functions and not needs.network else []
    things = [*sorted(needs.names), *network, *functions]
    shown = ", ".join(things[:_MOST_NEEDS])
    rest = f" and {len(things) - _MOST_NEEDS} more" if len(things) > _MOST_NEEDS else ""
    say(console, f"  With it comes: {shown or 'nothing more'}{rest}")
    console.print(f"  {found.line}", style="bold", markup=False, soft_wrap=True)
    console.print()


def _print_labs(found: Mapping[str, Lab | DefinitionError]) -> None:
    from rich.markup import escape
    from rich.table import Table

    from labkit.lab.definition import Lab, Noticed
    from labkit.language.problems import DefinitionError

    console = console_here()
    # An id is typed again, so it is never cut off; a narrow terminal goes without two columns.
    wide = console.width >= WIDE
    table = Table()
    table.add_column("lab", no_wrap=True)
    table.add_column("title")
    for head in (*["version", "exercises"] * wide, "marks", "minutes"):
        table.add_column(head, justify="right", no_wrap=True)
    table.add_column("state")
    for name, lab in found.items():
        if isinstance(lab, DefinitionError):
            found_wrong = f"{len(lab.problems)} problem(s), see below"
            table.add_row(escape(plain(name)), "", *["", ""] * wide, "", "", found_wrong)
            continue
        table.add_row(
            lab.id,
            escape(plain(lab.title)),
            *[lab.version, str(len(lab.exercises))] * wide,
            f"{lab.marks:g}",
            str(lab.minutes),
            "ready",
        )
    console.print(table)
    for lab in found.values():
        if isinstance(lab, Lab):
            for remark in lab.remarks:
                if remark.what is Noticed.caution_left_out:
                    say(console, f"! {lab.id}: {remark.place}: {remark.sentence}")
    broken = [lab for lab in found.values() if isinstance(lab, DefinitionError)]
    for error in broken:
        for problem in error.problems:
            say(console, f"✗ {problem}")
    if broken:
        raise typer.Exit(1)
