"""The instructor's commands on the day: demo, deal, score."""

from __future__ import annotations

import getpass
from collections.abc import Sequence
from enum import StrEnum
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from labkit.cli.app import app
from labkit.cli.screen import WIDE, console_here, fail, own_name, progress, say, typed

if TYPE_CHECKING:
    from rich.console import Console

    from labkit.classroom.class_folder import ClassFolder
    from labkit.classroom.marks.results import Scoring

ClassPath = Annotated[
    Path, typer.Argument(help="The class folder (it holds class.yaml).", metavar="CLASS")
]


class Mode(StrEnum):
    """Whether answers are checked at once."""

    practice = "practice"
    assessed = "assessed"


@app.command(rich_help_panel="On class day")
def demo(
    folder: Annotated[
        Path, typer.Argument(help="A folder that is not there yet.", metavar="FOLDER")
    ] = Path("labkit-demo"),
    mode: Annotated[Mode, typer.Option(help="The kind of class to show.")] = Mode.practice,
    host: Annotated[
        bool,
        typer.Option("--host", help="Hold the class on this machine, its trainees at work."),
    ] = False,
    port: Annotated[int, typer.Option(help="The port of a class that is held.")] = 8642,
    no_browser: Annotated[
        bool, typer.Option("--no-browser", help="Do not open your page in the browser here.")
    ] = False,
) -> None:
    """Show the whole job: make a class of twelve invented trainees, deal, play, score."""
    from labkit.classroom.dealing.deal import deal as deal_class
    from labkit.classroom.handins.demo import LAB, make_class, play
    from labkit.classroom.records.overview import counts
    from labkit.lab.library import instructors_notebooks, lab_library

    console = console_here()
    made = make_class(folder, mode=mode.value)
    with progress(console, "Dealing") as step:
        result = deal_class(made, lab_library(), step)
    if host:
        from labkit.cli.room import hold_demo

        hold_demo(made, result.deal, port, console, browser=not no_browser)
        return
    with progress(console, "Playing the trainees") as step:
        play(made, made.lab(LAB), result.deal, step)
    _score(made, console)
    console.print()
    console.print("The records", style="bold")
    for sentence in counts(made):
        say(console, f"  {sentence}")
    first = made.workbooks / result.deal.dealt[0].trainee
    console.print()
    console.print("What to open next", style="bold")
    say(console, f"  the instructor's overview   {made.scores / 'overview.html'}")
    say(console, f"  what to teach again         {made.scores / 'debrief.html'}")
    say(console, f"  the score sheet             {made.scores / 'score-sheet.xlsx'}")
    say(console, f"  a trainee's workbook        {own_name()} open {typed(first)}")
    explain = f"{own_name()} explain {typed(made.path)} t03"
    say(console, f"  why a mark is what it is    {explain}")
    say(console, f"  the lab's text              {made.path / 'labs' / LAB / 'lab.md'}")
    say(console, f"  your notebooks, to copy     {instructors_notebooks()}")


@app.command(rich_help_panel="On class day")
def deal(
    folder: ClassPath,
    again: Annotated[
        list[str] | None,
        typer.Option(help="Deal this trainee a retake; may be given several times.", metavar="ID"),
    ] = None,
    after: Annotated[
        bool,
        typer.Option(
            "--after",
            help="Deal the test after to everybody: of the lab with 'before_and_after: yes'.",
        ),
    ] = False,
    lab: Annotated[
        str, typer.Option(help="The lab to retake; every lab of the class without it.")
    ] = "",
    late: Annotated[
        tuple[str, str] | None,
        typer.Option(
            help="Write somebody who comes late into the roster first: their id and their name.",
            metavar="ID NAME",
        ),
    ] = None,
    jobs: Annotated[int, typer.Option(help="Processes that build workbooks; -1: one a core.")] = 1,
) -> None:
    """Deal a workbook to every trainee of a class. Run it again for late trainees."""
    from labkit.classroom.class_folder import ClassFolder
    from labkit.classroom.dealing.deal import deal as deal_class
    from labkit.classroom.dealing.deal_summary import deal_summary
    from labkit.classroom.dealing.open_texts import remarks_on_secrecy
    from labkit.classroom.dealing.opening_times import remarks_on_opening
    from labkit.lab.library import lab_library

    if lab and not (again or after):
        fail("--lab says which lab is retaken: write --again ID or --after with it.")
    if sum(map(bool, (again, late, after))) > 1:
        fail("Give one of --again, --late and --after.")
    console = console_here()
    opened = ClassFolder.open(folder)
    if late:
        from labkit.classroom.people.late import add_late, cells_of

        person = add_late(opened, cells_of(opened, *late), by=getpass.getuser())
        say(console, f"{person.name} ({person.id}) is in {opened.roster_file.name} now.")
    warn(opened, console)
    with progress(console, "Dealing") as step:
        if again:
            from labkit.classroom.handins.retaking import folders_of_retakes, retake

            result = retake(opened, lab_library(), again, lab or None, step, jobs=jobs)
        elif after:
            from labkit.classroom.handins.before_and_after import deal_after

            result = deal_after(opened, lab_library(), lab, step, jobs=jobs)
        else:
            result = deal_class(opened, lab_library(), step, jobs=jobs)
    opened.open_for_hand_ins()
    say(console, f"{result.new} dealt, {result.kept} were dealt already.")
    for sentence in deal_summary(result.deal):
        say(console, sentence)
    for remark in remarks_on_secrecy(opened, result.deal, lab_library()):
        say(console, f"! {remark}")
    if again:
        for home in folders_of_retakes(opened, result.deal, again):
            say(console, f"Give out {home}.")
    elif after and opened.fields.laptops:
        say(console, f"The test after: give out 'attempt-2' from {opened.workbooks}.")
    elif opened.fields.laptops:
        say(console, f"Give each trainee their folder from {opened.workbooks}.")
    if opened.fields.laptops != opened.fields.labs:
        say(console, f"Held on this machine alone: {own_name()} host {typed(folder)}")
    for remark in remarks_on_opening(opened):
        say(console, f"! {remark}")
    shown = f"{own_name()} score {typed(folder)}"
    if opened.fields.laptops:
        say(console, f"Put what comes back into {opened.hand_ins}, then: {shown}")
    say(console, f"Keep {opened.path / 'class-secret.txt'} to yourself.")


@app.command(rich_help_panel="On class day")
def score(
    folder: ClassPath,
    jobs: Annotated[int, typer.Option(help="Processes that share the work; -1: one a core.")] = 1,
    cluster: Annotated[
        str, typer.Option(help="The address of a Dask scheduler whose workers do it.")
    ] = "",
    look_back: Annotated[
        float,
        typer.Option(
            help="Minutes to spend, after scoring, on what each step at the virtual bench told: "
            "it then stands on the trainees' pages.",
            metavar="MINUTES",
            min=0,
        ),
    ] = 0,
) -> None:
    """Score the hand-ins of a class; write the score sheet and a page for every trainee."""
    from labkit.classroom.class_folder import ClassFolder

    console = console_here()
    opened = ClassFolder.open(folder)
    warn(opened, console)
    _score(opened, console, jobs, cluster, look_back)


def warn(folder: ClassFolder, console: Console) -> None:
    """Say what the instructor should know of the place, the roster and the time to keep it."""
    from labkit.classroom.dealing.deal_record import read_deal
    from labkit.classroom.dealing.roster_changes import remarks_on_gone
    from labkit.classroom.keeping import retention_remark
    from labkit.classroom.shared_place import warnings_about

    remarks = [*warnings_about(folder.path), retention_remark(folder)]
    if folder.roster_file.exists():
        remarks += [*folder.roster_remarks, *remarks_on_gone(folder, read_deal(folder))]
    for sentence in filter(None, remarks):
        say(console, f"! {sentence}")


def _score(
    folder: ClassFolder,
    console: Console,
    jobs: int = 1,
    cluster: str = "",
    look_back: float = 0,
) -> None:
    from labkit.classroom.scored.score_and_write import score_and_write

    written = score_and_write(
        folder,
        partial(progress, console),
        lambda scoring: _print_scores(scoring, console),
        jobs=jobs,
        cluster=cluster,
        look_back=look_back,
    )
    if written.not_looked_back:
        say(
            console,
            f"{look_back:g} minutes were too short for {written.not_looked_back} answer(s) at the "
            "virtual bench: give --look-back more, or --jobs -1; 'labkit explain' tells of a "
            "single one.",
        )
    say(console, f"Score sheet: {written.csv}, {written.xlsx.name}")
    say(console, f"Overview and a page a trainee: {written.pages[0]}")
    say(console, f"What to teach again: {written.debrief}")
    if written.waiting:
        shown = f"{own_name()} mark {typed(folder.path)}"
        say(console, f"{written.waiting} result(s) wait for a mark by hand: {shown}")


def _counted(exercises: Sequence[str]) -> str:
    """The exercises in which somebody made a known mistake, after that word."""
    return f"mistake{'s' if len(exercises) > 1 else ''} in {', '.join(exercises)}"


def _print_scores(scoring: Scoring, console: Console) -> None:
    from rich.markup import escape
    from rich.table import Table

    from labkit.classroom.share import spoken_percent

    # A narrow terminal has no room for bars, and a cut one would show a wrong share.
    several, wide = len(scoring.labs) > 1, console.width >= WIDE
    table = Table()
    table.add_column("trainee", overflow="fold")
    if several:
        table.add_column("lab", no_wrap=True)
    table.add_column("marks", justify="right", no_wrap=True)
    table.add_column("%", justify="right", no_wrap=True)
    if wide:
        table.add_column("", no_wrap=True)
    table.add_column("remarks", overflow="fold")

    def add(name: str, lab: str, marks: str, percent: str, bar: str, words: str) -> None:
        table.add_row(name, *[lab] * several, marks, percent, *[bar] * wide, words)

    for result in scoring.results:
        again = f", attempt {result.dealt.attempt}" if result.attempts > 1 else ""
        name = escape(f"{result.dealt.name} ({result.dealt.trainee}){again}")
        if not result.counts:
            add(name, result.dealt.lab, "–", "–", "", "not handed in")
            continue
        mistakes = [str(mark.number) for mark in result.marks if mark.slip]
        blanks = sum(not (m.answered or m.awaits) for m in result.marks)
        share = result.share
        words = [
            *(["late"] if result.late else []),
            *([result.with_whom] if result.together else []),
            *([f"{share.waits} for you"] if share.waiting else []),
            *([f"known {_counted(mistakes)}"] if mistakes else []),
            *([f"{blanks} blank"] if blanks else []),
        ]
        bar = "█" * round(share.percent / 5) if share.percent is not None else ""
        add(
            name,
            result.dealt.lab,
            f"{share.earned:g} / {share.marked:g}" if share.marked else "–",
            spoken_percent(share.percent, scoring.results.pass_mark, 0),
            f"{bar:░<20}" if share.marked else "",
            escape(", ".join(words)),
        )
    console.print(table)
    for notice in scoring.notices:
        say(console, f"! {notice.file}: {notice.reason}. {notice.sentence}")
