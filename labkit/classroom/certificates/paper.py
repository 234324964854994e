"""Certificates as pages: HTML to print, which shows what is certified and nothing else.

certificates/ID.html                  a page each
certificates/all-certificates.html    the same in one file, to print in one go
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from markupsafe import Markup
from segno import DataOverflowError

from labkit.classroom.certificates.issuer_key import IssuerKey
from labkit.classroom.certificates.issuing import Issuing, issue
from labkit.classroom.certificates.register import Issued, spoken_code
from labkit.classroom.certificates.signed_text import SignedText
from labkit.classroom.certificates.statement import Statement, spoken_day
from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.filling import filled
from labkit.classroom.marks.results import Scoring
from labkit.classroom.private_place import Place
from labkit.classroom.records.handed_on import remember
from labkit.classroom.square_code import square_code

FOLDER = "certificates"
_TOGETHER = "all-certificates.html"


@dataclass(frozen=True, slots=True)
class _Sheet:
    """One certificate on paper; without a key there is neither `text` nor `square`."""

    statement: Statement
    code: str
    text: str
    square: Markup | None
    fingerprint: str


def certificates_page(issued: Iterable[Issued], key: IssuerKey | None) -> str:
    """One page with all of these certificates, a sheet of paper each."""
    sheets = [_sheet(one.statement, one.code, key) for one in issued if one.statement]
    return filled("certificate.html", sheets=sheets, spoken=spoken_day)


def write_certificates(place: Place, issuing: Issuing, key: IssuerKey | None) -> None:
    """Write everybody's that holds, and all in one; take away the page of who has none."""
    for trainee in issuing.people:
        if one := issuing.holding.get(trainee):
            place.write(certificates_page([one], key), FOLDER, f"{trainee}.html")
        else:
            # One that was right before a correction must not stay.
            place.remove(FOLDER, f"{trainee}.html")
    if issuing.holding:
        together = certificates_page(issuing.holding.values(), key)
        place.write(together, FOLDER, _TOGETHER)
    else:
        place.remove(FOLDER, _TOGETHER)


def issue_and_write(
    folder: ClassFolder, scoring: Scoring, to: Path, by: str, key: IssuerKey | None
) -> Issuing:
    """Issue what is to be issued, and write the pages into the folder `to`.

    Raises `ClassError` and `OSError`.
    """
    remember(folder, "certificates", to)
    done = issue(folder, scoring, by)
    write_certificates(Place.of(folder.path, to), done, key)
    return done


def _sheet(statement: Statement, code: str, key: IssuerKey | None) -> _Sheet:
    if key is None:
        return _Sheet(statement, spoken_code(code), "", None, "")
    text = SignedText.made(statement, key).text
    return _Sheet(statement, spoken_code(code), text, _square(text), key.public.fingerprint)


def _square(text: str) -> Markup | None:
    try:
        return square_code(text)
    except DataOverflowError:
        return None
