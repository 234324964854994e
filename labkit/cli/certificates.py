"""Certificates: who gets one, issuing and withdrawing; checking one; the issuer's key."""

from __future__ import annotations

import getpass
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from labkit.cli.app import app
from labkit.cli.class_day import ClassPath
from labkit.cli.screen import console_here, fail, own_name, progress, say

if TYPE_CHECKING:
    from rich.console import Console

    from labkit.classroom.certificates.issuer_key import IssuerKey, PublicKey
    from labkit.classroom.certificates.issuing import Issuing
    from labkit.classroom.class_folder import ClassFolder
    from labkit.classroom.marks.results import Scoring

_PANEL = "Certificates"
Reason = Annotated[str, typer.Option(help="Why; it stays in the records.")]
By = Annotated[str, typer.Option(help="Who does it; left out, the name you are logged in with.")]
Keys = Annotated[
    Path | None,
    typer.Option(help="The folder with the issuer's key; left out, your own.", metavar="FOLDER"),
]


@app.command(rich_help_panel=_PANEL)
def certificates(
    folder: ClassPath,
    issue: Annotated[
        bool, typer.Option("--issue", help="Issue them, and write the pages to print.")
    ] = False,
    to: Annotated[
        Path | None,
        typer.Option(help="With --issue: the folder to write to; left out, the class."),
    ] = None,
    withdraw: Annotated[
        str,
        typer.Option(help="Withdraw the certificate with this serial number.", metavar="SERIAL"),
    ] = "",
    reason: Reason = "",
    keys: Keys = None,
    by: By = "",
) -> None:
    """Who gets a certificate, who does not and why; issues them, or withdraws one."""
    from labkit.classroom.certificates.issuing import decided
    from labkit.classroom.certificates.register import withdraw as withdraw_it
    from labkit.classroom.class_folder import ClassFolder
    from labkit.classroom.marks.scoring import score

    console = console_here()
    opened = ClassFolder.open(folder)
    if withdraw and issue:
        fail("Give one of --issue and --withdraw.")
    if withdraw:
        found = withdraw_it(opened, withdraw, reason=reason, by=by or getpass.getuser())
        say(console, f"Withdrawn: {found.serial}. Ask for the paper back, where it was given out.")
        return
    with progress(console, "Scoring") as step:
        scoring = score(opened, step)
    if issue:
        _issue(opened, scoring, to, keys, by, console)
        return
    words = {
        "same": "has",
        "new": "gets one",
        "changed": "gets a new one instead of",
        "ends": "is withdrawn:",
        "none": "none.",
    }
    for one in decided(opened, scoring):
        serial = one.before.serial if one.before and one.what != "none" else ""
        said = " ".join(filter(None, (words[one.what], serial, one.why)))
        say(console, f"{one.name} ({one.trainee}): {said}")
    say(console, "Nothing was issued: --issue does.")


def _issue(
    opened: ClassFolder,
    scoring: Scoring,
    to: Path | None,
    keys: Path | None,
    by: str,
    console: Console,
) -> None:
    from labkit.classroom.certificates.paper import issue_and_write

    signing = issuers_key_of(keys)
    target = to or opened.path
    done = issue_and_write(opened, scoring, target, by or getpass.getuser(), signing)
    say(console, f"Their pages are in {target / 'certificates'}.")
    print_issued(opened, done, signing, console)


def issuers_key_of(keys: Path | None) -> IssuerKey | None:
    """The issuer's key on this machine, if there is one."""
    from labkit.classroom.certificates.issuer_key import issuers_key, keys_folder

    return issuers_key(keys or keys_folder())


def print_issued(
    folder: ClassFolder, done: Issuing, key: IssuerKey | None, console: Console
) -> None:
    """What was issued, and what the certificates lack."""
    for sentence in done.sentences:
        say(console, sentence)
    if folder.fields.pass_mark is None:
        say(console, "No certificates without a pass mark: write 'pass_mark: 60' in class.yaml.")
    elif not folder.fields.issuer:
        say(console, "! They name no issuer: write 'issuer: …' in class.yaml.")
    if done.holding and key is None:
        say(
            console,
            "! They are not signed, as no issuer's key is here. Make it once "
            f"({own_name()} key --make), or bring in that of your other machine "
            f"({own_name()} key --import FILE), and do this once more.",
        )


@app.command(rich_help_panel=_PANEL)
def verify(
    what: Annotated[
        str,
        typer.Argument(
            help="A certificate's page or its text as a file, what its square holds, its check "
            "code; - reads it from the input.",
            metavar="FILE-or-TEXT",
        ),
    ],
    key: Annotated[
        list[Path] | None,
        typer.Option(help="The issuer's public key; left out, your own.", metavar="FILE"),
    ] = None,
    class_: Annotated[
        Path | None,
        typer.Option("--class", help="The class that issued it: its register.", metavar="CLASS"),
    ] = None,
    keys: Keys = None,
) -> None:
    """Tell whether a certificate is genuine, and holds: no network and no class needed."""
    from labkit.classroom.certificates.checking import check, text_of
    from labkit.classroom.class_folder import ClassFolder

    console = console_here()
    said = sys.stdin.read() if what == "-" else what
    if what != "-" and _is_file(what):
        said = text_of(Path(what))
    register = ClassFolder.open(class_) if class_ else None
    bad = False
    for remark in check(said, _public_keys(key, keys), register):
        say(console, f"{'✗' if remark.differs else '·'} {remark.sentence}")
        bad = bad or remark.differs
    if bad:
        raise typer.Exit(1)


def _is_file(what: str) -> bool:
    try:
        return Path(what).is_file()
    except (OSError, ValueError):
        # A long text is no name of a file.
        return False


def _public_keys(files: list[Path] | None, keys: Path | None) -> list[PublicKey]:
    from labkit.classroom.certificates.issuer_key import PublicKey

    if files:
        return [PublicKey.read(file) for file in files]
    own = issuers_key_of(keys)
    return [own.public] if own else []


@app.command(rich_help_panel=_PANEL)
def key(
    make: Annotated[
        bool, typer.Option("--make", help="Make the issuer's key: once, for all classes.")
    ] = False,
    public: Annotated[
        Path | None,
        typer.Option(help="Write the public key, to be given to anybody.", metavar="FILE"),
    ] = None,
    export: Annotated[
        Path | None,
        typer.Option(help="Write the secret key, for another machine of yours.", metavar="FILE"),
    ] = None,
    import_: Annotated[
        Path | None,
        typer.Option("--import", help="Take over the key of your other machine.", metavar="FILE"),
    ] = None,
    keys: Keys = None,
) -> None:
    """The issuer's key, with which certificates are signed; without more, which one is here."""
    from labkit.classroom.certificates import issuer_key

    console = console_here()
    if sum(map(bool, (make, public, export, import_))) > 1:
        fail("Give one of --make, --public, --export and --import.")
    place = keys or issuer_key.keys_folder()
    if make:
        made = issuer_key.make_key(place)
        say(console, f"The key {made.public.fingerprint} is in {place}.")
        say(
            console,
            "Whoever has that folder issues certificates in your name. No class's backup holds "
            f"it: keep a copy of your own ({own_name()} key --export FILE).",
        )
        return
    if import_:
        brought = issuer_key.bring_in_key(import_, place)
        say(console, f"The key {brought.public.fingerprint} is in {place}.")
        say(console, f"Delete {import_} if it lies where others can read it.")
        return
    here = issuer_key.issuers_key(place)
    if here is None:
        fail(f"No issuer's key is in {place}. {own_name()} key --make makes one.")
    if public:
        issuer_key.write_public_key(here.public, public)
        say(console, f"The public key {here.public.fingerprint} is in {public}.")
        say(
            console,
            "Give it to whoever checks your certificates, and let them compare the fingerprint "
            "with you by another way.",
        )
    elif export:
        issuer_key.write_key(here, export)
        say(console, f"The secret key {here.public.fingerprint} is in {export}, and not locked.")
        say(
            console,
            "Whoever has that file issues certificates in your name: carry it yourself, and "
            "delete it once it is brought in.",
        )
    else:
        say(console, f"The key {here.public.fingerprint} is in {place}.")
