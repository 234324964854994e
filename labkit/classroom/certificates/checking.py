"""Whether a certificate is as it was issued: by its signature, and by the issuer's register.

A signature shows that whoever has the key signed these words, and that they are unchanged. Whose
key it is nobody can see in it: that is as sure as the way the public key came to you. Whether a
certificate was replaced or withdrawn since stands in the register of its class alone.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from datetime import date
from html.parser import HTMLParser
from pathlib import Path
from typing import Final

from labkit.classroom.certificates.issuer_key import PublicKey, spoken_fingerprint
from labkit.classroom.certificates.register import (
    Issued,
    Register,
    read_code,
    read_serial,
    told_end,
)
from labkit.classroom.certificates.signed_text import SignedText, codes_in
from labkit.classroom.certificates.statement import Statement, spoken_day
from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.errors import ClassError
from labkit.classroom.records.store import Records
from labkit.classroom.remark import Remark
from labkit.exchange.clock import CLOCK

_LONGEST: Final = 30_000_000
_ONLY_THE_REGISTER: Final = (
    "Whether it was replaced or withdrawn since, only the issuer's register tells."
)


def text_of(file: Path) -> str:
    """What stands in a file that somebody was given. Raises `ClassError`."""
    try:
        with file.open("rb") as stream:
            data = stream.read(_LONGEST)
    except OSError as error:
        raise ClassError(f"{file} cannot be read ({error.strerror}).") from error
    if data.startswith(b"%PDF"):
        raise ClassError(
            f"{file} is a PDF, which labkit does not read. Open it, copy all of its text, save "
            "that as a text file and give this one; or read the square code with a camera."
        )
    return data.decode("utf-8", errors="replace")


def check(
    said: str, keys: Sequence[PublicKey], folder: ClassFolder | None = None
) -> Iterator[Remark]:
    """What can be said of a certificate: a page, its text, what its square holds, or a short code.

    A remark `differs` where it is not genuine, not known, or holds no more. `folder` is the class
    that issued it, where that is at hand. Raises `ClassError` for what holds nothing of the kind.
    """
    codes = list(dict.fromkeys(codes_in(said)))
    register = Register.of(Records.of(folder)) if folder else None
    if not codes:
        yield from _by_register(said, register)
        return
    # Of several on one page nobody can tell which words are whose.
    paper = _words(said) if len(codes) == 1 else ""
    for code in codes:
        yield from _signed(code, keys, register, paper)


def _signed(
    code: str, keys: Sequence[PublicKey], register: Register | None, paper: str
) -> Iterator[Remark]:
    signed = SignedText.read(code)
    if signed is None:
        yield Remark(
            "Not genuine: the code is not as labkit writes one. Something in it was altered, left "
            "out or misread: read the square once more.",
            differs=True,
        )
        return
    named = [key for key in keys if signed.names(key)]
    if not named:
        yield _unknown_key(signed, keys)
        return
    if not any(signed.is_of(key) for key in named):
        yield Remark(
            f"Not genuine: the code was altered since it was signed with the key "
            f"{named[0].fingerprint}, or it never was. Nothing in it can be believed.",
            differs=True,
        )
        return
    statement = signed.statement
    if statement is None:
        yield Remark(
            "The signature is genuine, and what it is of is no certificate that this labkit "
            "knows: a newer one may.",
            differs=True,
        )
        return
    yield Remark(f"Genuine: signed with the key {named[0].fingerprint}, and unchanged since.")
    yield from _said(statement)
    yield from _on_paper(statement, paper)
    yield from _in_time(statement)
    if register is None:
        yield Remark(_ONLY_THE_REGISTER)
        return
    yield from _as_registered(statement, register)


def _unknown_key(signed: SignedText, keys: Sequence[PublicKey]) -> Remark:
    own = ", ".join(key.fingerprint for key in keys)
    return Remark(
        f"Not known: it says it was signed with a key that begins {spoken_fingerprint(signed.key)}"
        f", and that key is not here{f' (here: {own})' if own else ''}. Ask the issuer for their "
        "public key, by a way that you trust, and give it: --key FILE.",
        differs=True,
    )


def _said(statement: Statement) -> Iterator[Remark]:
    """What is certified, in words, to be compared with the paper."""
    yield Remark(
        f"It says: {statement.name} has completed '{statement.title}' and passed with "
        f"{statement.passed_with}. Serial number {statement.serial}."
    )
    labs = "; ".join(f"{lab.title}, version {lab.version}" for lab in statement.labs)
    where = f"{statement.place}, " if statement.place else ""
    yield Remark(f"{where}{spoken_day(statement.day)}. Labs: {labs}.")
    if statement.competences:
        yield Remark(f"Competences: {'; '.join(statement.competences)}.")
    issued = f"Issued on {spoken_day(statement.issued)}"
    if statement.issuer:
        yield Remark(
            f"{issued}. As the issuer it names '{statement.issuer}': this is as sure as the way by "
            "which the key came to you."
        )
    else:
        yield Remark(f"{issued}. It names no issuer.")


def _on_paper(statement: Statement, paper: str) -> Iterator[Remark]:
    """Whether all that is certified stands in the words around the code, if there are any."""
    if not paper:
        yield Remark("Compare this with the paper: only what stands here was signed.")
        return
    missing = [
        f"{what} ('{words}')" for what, words in statement.shown() if not _stands_in(words, paper)
    ]
    if missing:
        yield Remark(
            f"Altered: the page does not show what was signed. Missing there: "
            f"{', '.join(missing)}.",
            differs=True,
        )
        return
    yield Remark("All of it stands on the page. Whatever else is written there was not signed.")


def _in_time(statement: Statement) -> Iterator[Remark]:
    if not statement.until:
        yield Remark("It is valid without an end.")
    elif statement.over(_today()):
        yield Remark(f"Expired: it was valid until {spoken_day(statement.until)}.", differs=True)
    else:
        yield Remark(f"It is valid until {spoken_day(statement.until)}, that day included.")


def _as_registered(statement: Statement, register: Register) -> Iterator[Remark]:
    found = register.find(statement.serial)
    if found is None:
        yield Remark(
            f"The register of this class does not know the serial number {statement.serial}: is it "
            "of another class, or issued from a copy of this one?",
            differs=True,
        )
        return
    if found.statement and found.statement != statement:
        yield Remark(
            f"The register of this class has {found.serial} with other words: compare both.",
            differs=True,
        )
    yield _standing(found)


def _by_register(said: str, register: Register | None) -> Iterator[Remark]:
    """What the register alone tells of a serial number or a short code."""
    if not (read_code(said) or read_serial(said)):
        raise ClassError(
            "There is no code of a certificate in that. Give the page, its text, what the square "
            "holds (it begins with LABKIT1:), or the check code with --class CLASS."
        )
    if register is None:
        raise ClassError(
            "A check code or a serial number says nothing by itself: the register of its class "
            "knows it. Add --class CLASS, or ask the issuer."
        )
    found = register.find(said)
    if found is None:
        yield Remark("The register of this class does not know it.", differs=True)
        return
    yield Remark(f"The register knows it: {found.serial}, issued by {found.by}.")
    if found.statement:
        yield from _said(found.statement)
        yield from _on_paper(found.statement, "")
        yield from _in_time(found.statement)
    else:
        yield Remark("Whom it was issued to was erased.")
    yield _standing(found)


def _standing(found: Issued) -> Remark:
    if found.end:
        return Remark(f"It holds no more: {told_end(found.end)}", differs=True)
    return Remark("By the register it holds: it was neither replaced nor withdrawn.")


def _today() -> date:
    return CLOCK.moment().astimezone().date()


class _Visible(HTMLParser):
    """The words of a page that people see."""

    def __init__(self) -> None:
        super().__init__()
        self.words: list[str] = []
        self._hidden = 0

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:  # noqa: ARG002
        self._hidden += tag in ("style", "script", "title")

    def handle_endtag(self, tag: str) -> None:
        self._hidden -= tag in ("style", "script", "title")

    def handle_data(self, data: str) -> None:
        if not self._hidden:
            self.words.append(data)


def _words(said: str) -> str:
    """The words that stand around a code; "" where there is nothing but the code."""
    text = said
    if "<html" in said[:1000].lower():
        page = _Visible()
        page.feed(said)
        page.close()
        text = " ".join(page.words)
    for code in codes_in(text):
        text = text.replace(code, " ")
    return _plain(text)


def _plain(text: str) -> str:
    return " ".join(text.split())


def _stands_in(words: str, paper: str) -> bool:
    """Whether some words stand in a text, not inside of longer ones."""
    return re.search(rf"(?<!\w){re.escape(_plain(words))}(?!\w)", paper) is not None
