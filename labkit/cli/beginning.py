"""Beginning a class: what the board's form does, as a command."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from labkit.cli.app import app
from labkit.cli.screen import console_here, fail, own_name, say, typed

if TYPE_CHECKING:
    from labkit.classroom.beginning import ChosenLab
    from labkit.classroom.office_list import OfficeList, Reading

_MADE = "made"


@app.command(rich_help_panel="On class day")
def begin(
    folder: Annotated[
        Path, typer.Argument(help="A folder that is not there yet.", metavar="FOLDER")
    ],
    title: Annotated[str, typer.Option(help="What the class is called.")],
    roster: Annotated[
        Path,
        typer.Option(
            help="The list of people as the office program saved it (CSV, XLSX).", metavar="FILE"
        ),
    ],
    lab: Annotated[
        list[str],
        typer.Option(
            help="A lab; may be given several times. With ':assessed' it is assessed, with "
            "':laptops' workbook files are dealt too.",
            metavar="LAB[:assessed][:laptops]",
        ),
    ],
    date: Annotated[str, typer.Option(help="The day, such as 2026-11-27.")] = "",
    place: Annotated[str, typer.Option(help="Where the class is held.")] = "",
    pass_mark: Annotated[
        str, typer.Option(help="In %; without one nobody passes or gets a certificate.")
    ] = "",
    heading: Annotated[
        int | None,
        typer.Option(help="The line of the headings; 0: the list has none.", min=0),
    ] = None,
    column: Annotated[
        list[str] | None,
        typer.Option(
            help="What is in which column (id, name, first name, last name, bench, seat), such as "
            "'id=Personalnr.'; 'id=made': labkit makes the ids.",
            metavar="WHAT=HEADING",
        ),
    ] = None,
    leave_out: Annotated[
        list[int] | None,
        typer.Option(
            help="A line that is nobody of this class, such as a total; may be given again.",
            metavar="LINE",
        ),
    ] = None,
) -> None:
    """Begin a class: its folder with class.yaml, and roster.csv from an office program's list."""
    import getpass

    from labkit.classroom.beginning import NewClass, begin_class
    from labkit.classroom.dealing.deal_record import read_deal
    from labkit.classroom.dealing.open_texts import what_stays_secret
    from labkit.classroom.office_list import read_list
    from labkit.classroom.office_people import people_in
    from labkit.lab.library import lab_library

    console = console_here()
    path = folder.absolute()
    labs = [_chosen(each) for each in lab]
    office = read_list(roster.name, roster.read_bytes())
    reading = _reading(office, heading, column or [])
    people = people_in(office, reading, left_out=leave_out or ())
    new = NewClass(path.name, title, labs, date, place, pass_mark)
    made = begin_class(path.parent, new, people, getpass.getuser())
    for remark in office.remarks:
        say(console, f"! {remark}")
    for sentence in _taken(office, reading):
        say(console, sentence)
    for person in people:
        for remark in person.remarks:
            say(console, f"! line {person.line}: {remark}")
    for sentence in what_stays_secret(made, read_deal(made), lab_library()).values():
        say(console, f"! {sentence}")
    say(console, f"{len(made.trainees)} people are in {made.path}.")
    say(console, f"Next: {own_name()} deal {typed(folder)}")


def _chosen(said: str) -> ChosenLab:
    from labkit.classroom.beginning import ChosenLab
    from labkit.lab.library import lab_library
    from labkit.lab.reading.lineage import LAB_FILE

    name, *rules = said.split(":")
    if strange := set(rules) - {"assessed", "practice", "room", "laptops"}:
        fail(f"'{said}': nothing is known of '{min(strange)}'. Write {name}:assessed:laptops.")
    if not (lab_library() / name / LAB_FILE).is_file():
        fail(f"There is no lab '{name}'. '{own_name()} labs' lists them.")
    return ChosenLab(
        name,
        "assessed" if "assessed" in rules else "practice",
        "laptops" if "laptops" in rules else "room",
    )


def _reading(office: OfficeList, heading: int | None, said: list[str]) -> Reading:
    """How the list is read: as proposed, but for what was said. What is not sure must be said."""
    from labkit.classroom.office_columns import proposed
    from labkit.classroom.office_list import FIELDS, Reading, labels

    proposal = proposed(office, heading)
    named = labels(office, proposal.reading.heading)
    columns, makes_ids = dict(proposal.reading.columns), proposal.reading.makes_ids
    told = dict(each.partition("=")[::2] for each in said)
    if strange := set(told) - set(FIELDS):
        fail(
            f"'{min(strange)}' is nothing that a column can be. Write one of: {', '.join(FIELDS)}."
        )
    if "name" in told or {"first name", "last name"} & told.keys():
        # Who says one way means that way alone.
        for other in ("name", "first name", "last name"):
            columns.pop(other, None)
    for what, label in told.items():
        columns.pop(what, None)
        if what == "id":
            makes_ids = label == _MADE
            if makes_ids:
                continue
        at = next((at for at, its in named.items() if its == label), None)
        if at is None:
            shown = ", ".join(f"'{its}'" for its in named.values())
            fail(f"There is no column '{label}'. There are {shown}.")
        columns[what] = at
    names = {"name", "first name", "last name"}
    answered = told.keys() | (names if names & told.keys() else set())
    open_questions = [
        f"{question} {_option(what)}"
        for what, question in proposal.questions.items()
        if what not in answered
    ]
    if open_questions:
        fail("\n".join(open_questions))
    return Reading(proposal.reading.heading, columns, makes_ids)


def _option(what: str) -> str:
    """How a question about a list is answered."""
    from labkit.classroom.office_columns import HEADING

    return "(--heading LINE)" if what == HEADING else f"(--column '{what}=HEADING')"


def _taken(office: OfficeList, reading: Reading) -> list[str]:
    """What was taken for what, in sentences."""
    from labkit.classroom.office_list import labels

    named = labels(office, reading.heading)
    taken = [f"{what}: '{named[at]}'" for what, at in reading.columns.items()]
    rest = [f"'{label}'" for at, label in named.items() if at not in reading.columns.values()]
    return [
        f"Taken from {office.file}: {', '.join(taken)}.",
        *(["The ids are made by labkit."] if reading.makes_ids else []),
        *([f"Not taken: {', '.join(rest)}."] if rest else []),
    ]
