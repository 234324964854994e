"""The commands around the records: receive, rescore, mark, explain, records, export."""

from __future__ import annotations

import getpass
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from labkit.cli.app import app
from labkit.cli.certificates import By, Keys, Reason, issuers_key_of, print_issued
from labkit.cli.class_day import ClassPath, warn
from labkit.cli.screen import console_here, fail, own_name, print_json, progress, say, typed

if TYPE_CHECKING:
    from rich.console import Console

    from labkit.classroom.class_folder import ClassFolder
    from labkit.classroom.corrections.changes import Changes
    from labkit.classroom.handins.collecting import Collected
    from labkit.classroom.marks.by_hand import ToMark

_PANEL = "Records of a class"
Jobs = Annotated[int, typer.Option(help="Processes that share the work; -1: one a core.")]


@app.command(rich_help_panel=_PANEL)
def receive(
    folder: ClassPath,
    sources: Annotated[
        list[Path] | None,
        typer.Argument(help="Folders, shares, sticks or files.", metavar="[SOURCE]..."),
    ] = None,
) -> None:
    """Take hand-ins in from anywhere, write a receipt for each, and say who is missing."""
    from labkit.classroom.class_folder import ClassFolder
    from labkit.classroom.handins.collecting import collect

    console = console_here()
    opened = ClassFolder.open(folder)
    warn(opened, console)
    with progress(console, "Receiving") as step:
        found = collect(opened, sources or (), step, by=getpass.getuser())
    _print_received(opened, found, console)
    score = f"{own_name()} score {typed(folder)}"
    say(console, f"To mark them: {score}")


def _print_received(folder: ClassFolder, found: Collected, console: Console) -> None:
    from rich.markup import escape
    from rich.table import Table

    if found.new:
        table = Table()
        # What is typed again, or told over the phone, is never cut off.
        table.add_column("receipt", no_wrap=True)
        table.add_column("trainee", overflow="fold")
        table.add_column("lab", no_wrap=True)
        table.add_column("made, it says", overflow="fold")
        table.add_column("received", overflow="fold")
        table.add_column("")
        for taken in found.new:
            table.add_row(
                taken.code,
                escape(f"{taken.dealt.name} ({taken.dealt.trainee})"),
                taken.dealt.lab,
                folder.fields.spoken(taken.made_at),
                folder.fields.spoken(taken.received_at),
                "late" if taken.late else "",
            )
        console.print(table)
        say(console, f"A page for each is in {found.new[0].page.parent}.")
    say(console, f"{len(found.new)} new, {found.known.count} received before.")
    if others := found.left_alone.count:
        say(console, f"{others} other {'file was' if others == 1 else 'files were'} left alone.")
    for notice in found.notices:
        say(console, f"! {notice.file}: {notice.reason}. {notice.sentence}")
    if found.missing:
        say(console, f"Nothing came in yet from {len(found.missing)}:")
        for item in found.missing:
            say(console, f"  {item.name} ({item.trainee}), {item.lab}")


@app.command(rich_help_panel=_PANEL)
def rescore(
    folder: ClassPath,
    reason: Reason = "",
    void: Annotated[
        str, typer.Option(help="Take this exercise out of everybody's marks.", metavar="LAB/EX")
    ] = "",
    restore: Annotated[
        str, typer.Option(help="Bring a voided exercise back.", metavar="LAB/EX")
    ] = "",
    lab: Annotated[
        tuple[str, Path] | None,
        typer.Option(help="Mark this lab by the corrected text in FOLDER.", metavar="LAB FOLDER"),
    ] = None,
    rules: Annotated[
        bool,
        typer.Option("--rules", help="Mark all labs by this labkit's rules, not the dealer's."),
    ] = False,
    dry_run: Annotated[
        bool, typer.Option("--dry-run", help="Only show what would change; write nothing.")
    ] = False,
    by: By = "",
    jobs: Jobs = 1,
) -> None:
    """Void an exercise, or mark by a corrected text or newer rules; say whose marks change."""
    from labkit.classroom.class_folder import ClassFolder
    from labkit.classroom.corrections.correcting import correct, follow_rules
    from labkit.classroom.corrections.correcting import void as void_exercise

    console = console_here()
    opened = ClassFolder.open(folder)
    if sum(map(bool, (void, restore, lab, rules))) != 1:
        fail("Give one of --void LAB/EXERCISE, --restore LAB/EXERCISE, --lab LAB FOLDER, --rules.")
    who = by or getpass.getuser()
    if lab:
        with progress(console, "Marking again") as step:
            changes = correct(
                opened,
                lab[0],
                lab[1],
                reason=reason,
                by=who,
                progress=step,
                jobs=jobs,
                dry_run=dry_run,
            )
    elif rules:
        with progress(console, "Marking again") as step:
            changes = follow_rules(
                opened, reason=reason, by=who, progress=step, jobs=jobs, dry_run=dry_run
            )
    else:
        name, exercise = _exercise(void or restore)
        changes = void_exercise(
            opened, name, exercise, reason=reason, by=who, undo=bool(restore), dry_run=dry_run
        )
    _print_changes(opened, changes, console, "" if dry_run else f" Why: {reason} ({who})")
    if not dry_run:
        # Also when nothing was added: a run that was ended may have left old pages behind.
        _write_anew(opened, console, jobs)


def _print_changes(folder: ClassFolder, changes: Changes, console: Console, why: str) -> None:
    """What changed; without a reason why, what would change."""
    if changes.already:
        say(console, f"Nothing is added: {changes.already}")
        return
    for sentence in changes.sentences(len(folder.fields.labs)):
        say(console, sentence)
    did = "changed" if why else "would change"
    say(console, f"{len(changes.results)} result(s) {did}.{why}")
    if folder.fields.pass_mark is not None:
        mark = f"the pass mark of {folder.fields.pass_mark:g} %"
        say(console, f"{len(changes.crossing)} trainee(s) {'' if why else 'would '}cross {mark}.")
    if not why:
        say(console, "This was a dry run: nothing was written.")


def _write_anew(folder: ClassFolder, console: Console, jobs: int) -> None:
    """Write the sheets and pages of a class that has some by what holds now."""
    from labkit.classroom.scored.score_and_write import write_anew

    if write_anew(folder, partial(progress, console), jobs=jobs):
        say(console, f"Sheets and pages in {folder.scores} are written anew.")


@app.command(rich_help_panel=_PANEL)
def mark(
    folder: ClassPath,
    trainee: Annotated[str, typer.Argument(help="The trainee's id.", metavar="[TRAINEE]")] = "",
    exercise: Annotated[
        str,
        typer.Argument(
            help="Which exercise, as 'labkit mark CLASS' lists it.", metavar="[LAB/EXERCISE]"
        ),
    ] = "",
    share: Annotated[
        list[str] | None,
        typer.Option(help="0 to 1 for the whole, or ITEM=0 to 1 for each item of the rubric."),
    ] = None,
    by: By = "",
    note: Annotated[str, typer.Option(help="What the trainee reads, or why.")] = "",
    not_ready: Annotated[
        bool,
        typer.Option(
            "--not-ready",
            help="Sign off what you have seen although the trainee did not say that it is ready; "
            "--note says what you saw.",
        ),
    ] = False,
    dry_run: Annotated[
        bool, typer.Option("--dry-run", help="Only show what would change; write nothing.")
    ] = False,
) -> None:
    """Give a mark or a sign-off by hand; without a trainee, list what still waits for one."""
    from labkit.classroom.class_folder import ClassFolder
    from labkit.classroom.corrections.one_mark import would_give
    from labkit.classroom.marks.by_hand import ByHand, give, to_mark

    console = console_here()
    opened = ClassFolder.open(folder)
    if not trainee:
        _print_waiting(opened, to_mark(opened), console)
        return
    if not exercise or not share:
        fail("Say which exercise and how much: labkit mark CLASS TRAINEE LAB/EXERCISE --share 0.5")
    lab, name = _exercise(exercise)
    who = by or getpass.getuser()
    if dry_run:
        hand = ByHand(opened)
        result = hand.found(trainee, lab, name)
        given, changes = would_give(
            hand, result, name, share, by=who, note=note, not_ready=not_ready
        )
        say(console, given.sentence)
        _print_changes(opened, changes, console, "")
        return
    given = give(opened, trainee, lab, name, share, by=who, note=note, not_ready=not_ready)
    say(console, given.sentence)
    say(console, f"To write sheets and pages anew: {own_name()} score {typed(folder)}")


def _print_waiting(folder: ClassFolder, found: ToMark, console: Console) -> None:
    for sentence in found.sentences(folder):
        say(console, sentence)
    for item in found.waiting:
        dealt, mark = item.result.dealt, item.mark
        again = f", attempt {dealt.attempt}" if item.result.attempts > 1 else ""
        say(
            console,
            f"{dealt.name} ({dealt.trainee}){again}: {dealt.lab}/{mark.exercise}, {mark.title}, "
            f"{mark.possible:g} marks",
        )
        if mark.answer:
            say(console, f"    {' '.join(mark.answer.split())}")
        for part in item.rubric:
            say(console, f"    --share {part['id']}=…  {part.get('text', '')}")


@app.command(rich_help_panel=_PANEL)
def explain(
    folder: ClassPath,
    trainee: Annotated[str, typer.Argument(help="The trainee's id.", metavar="TRAINEE")],
    exercise: Annotated[
        str,
        typer.Argument(help="One exercise alone; left out, all.", metavar="[LAB/EXERCISE]"),
    ] = "",
) -> None:
    """Tell how marks came about: tries, answers, verdicts, hints, corrections."""
    from labkit.classroom.class_folder import ClassFolder
    from labkit.classroom.marks.explaining import explain as explained

    console = console_here()
    for line in explained(ClassFolder.open(folder), trainee, exercise):
        say(console, line)


@app.command(rich_help_panel=_PANEL)
def records(
    folder: ClassPath,
    personal: Annotated[
        str, typer.Option(help="Print everything held of this trainee, as JSON.", metavar="ID")
    ] = "",
    erase: Annotated[
        str, typer.Option(help="Erase this trainee from the class.", metavar="ID")
    ] = "",
    same: Annotated[
        tuple[str, str] | None,
        typer.Option(help="A corrected id: what was dealt to OLD is NEW's.", metavar="OLD NEW"),
    ] = None,
    reason: Reason = "",
    by: By = "",
    remove_marks: Annotated[
        bool, typer.Option(help="Remove the marks too, instead of keeping them without a name.")
    ] = False,
    verify: Annotated[
        bool,
        typer.Option(
            "--verify", help="Tell whether every entry is as it was written, and mark again."
        ),
    ] = False,
    printed: Annotated[
        str,
        typer.Option(help="With --verify: the code on a score sheet or receipt.", metavar="CODE"),
    ] = "",
    backup: Annotated[
        Path | None, typer.Option(help="Write the whole class into this file.", metavar="FILE")
    ] = None,
    restore: Annotated[
        Path | None,
        typer.Option(help="Make CLASS, a new folder, anew from this backup.", metavar="FILE"),
    ] = None,
) -> None:
    """What the records hold, and whether it is unchanged; a person's data, erasure, new id."""
    from labkit.classroom.class_folder import ClassFolder
    from labkit.classroom.people.erasing import erase as erase_person
    from labkit.classroom.people.personal import held_of
    from labkit.classroom.people.same_person import change_id, planned_change
    from labkit.classroom.records.overview import counts

    console = console_here()
    if sum(map(bool, (personal, erase, same, verify or printed, backup, restore))) > 1:
        fail("Give one of --personal, --erase, --same, --verify, --backup and --restore.")
    if restore:
        _restore(folder, restore, console)
        return
    opened = ClassFolder.open(folder)
    if backup:
        _back_up(opened, backup, console)
        return
    if verify or printed:
        _verify(opened, printed, console)
        return
    if same:
        old, new = same
        seen, who = planned_change(opened, old, new).seen, by or getpass.getuser()
        change = change_id(opened, old, new, reason=reason, by=who, seen=seen)
        if change.in_roster:
            say(console, f"{opened.roster_file.name}: {old} is {new} now.")
        for item in change.workbooks:
            again = f", attempt {item.attempt}" if item.attempt > 1 else ""
            say(console, f"{item.name} ({new}): {item.lab}{again}, dealt to {item.origin[0]}")
        say(console, f"To write the pages anew: {own_name()} score {typed(folder)}")
        return
    if personal:
        print_json(held_of(opened, personal), 1)
        return
    if erase:
        done = erase_person(opened, erase, reason=reason, keep_marks=not remove_marks)
        kept = "kept without a name" if done.marks_kept else "removed"
        say(console, f"Erased as {done.tombstone}: {done.files} files deleted, marks {kept}.")
        for sentence in done.left_to_do:
            say(console, f"! {sentence}")
        return
    warn(opened, console)
    for sentence in counts(opened):
        say(console, sentence)


def _back_up(folder: ClassFolder, file: Path, console: Console) -> None:
    from labkit.classroom.records.backup import back_up

    done = back_up(folder, file)
    say(console, f"{done.files} files of the class are in {file}.")
    if done.code:
        say(console, f"State of the records in it: {done.code}")
    if done.left_out:
        say(console, f"! Links were left out: {', '.join(done.left_out)}.")
    say(
        console,
        "It holds names, answers and the class's secret: keep it where nobody else reads it.",
    )
    say(console, f"The way back: {own_name()} records NEW-FOLDER --restore {typed(file)}")


def _restore(folder: Path, file: Path, console: Console) -> None:
    from labkit.classroom.records.backup import restore

    done = restore(file, folder)
    say(console, f"{done.files} files are back in {folder}.")
    if done.on_server:
        say(
            console,
            "! This class has its records outside its folder ('records:' in class.yaml). "
            "records.sqlite holds the same entries: to go on with that file, take the line out.",
        )
    code = f" --printed {done.code}" if done.code else ""
    say(
        console,
        f"To see whether all is as it was: {own_name()} records {typed(folder)} --verify{code}",
    )


def _verify(folder: ClassFolder, printed: str, console: Console) -> None:
    from labkit.classroom.marks.verifying import verify

    with progress(console, "Marking again") as step:
        remarks = verify(folder, printed, step)
    for remark in remarks:
        say(console, f"{'✗' if remark.differs else '✓'} {remark.sentence}")
    if any(remark.differs for remark in remarks):
        raise typer.Exit(1)


@app.command(rich_help_panel=_PANEL)
def export(
    folder: ClassPath,
    to: Annotated[Path, typer.Option(help="The folder to write into.", metavar="FOLDER")],
    keys: Keys = None,
    by: By = "",
) -> None:
    """Write transcripts, certificates, results and statements for people and other programs."""
    from labkit.classroom.class_folder import ClassFolder
    from labkit.classroom.exports.exporting import export as export_class
    from labkit.classroom.marks.scoring import score

    console = console_here()
    opened = ClassFolder.open(folder)
    with progress(console, "Scoring") as step:
        scoring = score(opened, step)
    with progress(console, "Writing") as step:
        signing = issuers_key_of(keys)
        who = by or getpass.getuser()
        done = export_class(opened, scoring, to, step, by=who, key=signing)
    say(
        console,
        f"{done.transcripts} transcripts, {done.certificates} certificates, tables (oneroster) and "
        f"statements.jsonl are in {done.folder}.",
    )
    print_issued(opened, done.issuing, signing, console)


def _exercise(text: str) -> tuple[str, str]:
    lab, slash, exercise = text.partition("/")
    if not (lab and slash and exercise):
        fail(f"'{text}' does not name an exercise. Write LAB/EXERCISE, such as trunk/total-length.")
    return lab, exercise
