"""Handing results on: pages for people, tables and statements for other programs.

Everything is written from the records; nothing in it can act as a formula or a link.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from pathlib import Path

import orjson

from labkit.classroom.certificates.issuer_key import IssuerKey
from labkit.classroom.certificates.issuing import Issuing, issue
from labkit.classroom.certificates.paper import write_certificates
from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.errors import ClassError
from labkit.classroom.exports.roster_bundle import writing_bundle
from labkit.classroom.exports.statement_ids import identified
from labkit.classroom.exports.statements import statements
from labkit.classroom.filling import filled
from labkit.classroom.marks.results import Scoring
from labkit.classroom.marks.standing import Standing, standings
from labkit.classroom.private_place import Place
from labkit.classroom.progress import Progress
from labkit.classroom.records.handed_on import remember
from labkit.classroom.records.store import Records
from labkit.classroom.share import spoken_percent
from labkit.exchange.clock import CLOCK


@dataclass(frozen=True, slots=True)
class Exported:
    """What an export wrote."""

    folder: Path
    transcripts: int
    issuing: Issuing

    @property
    def certificates(self) -> int:
        """How many certificates there are."""
        return len(self.issuing.holding)


def export(
    folder: ClassFolder,
    scoring: Scoring,
    to: Path,
    progress: Progress | None = None,
    *,
    by: str = "",
    key: IssuerKey | None = None,
) -> Exported:
    """Write everything into the folder `to`: it may be there already, older exports are replaced.

    Certificates are issued, in the name of `by`, and signed with the issuer's `key`, if any.
    `transcripts/` and `certificates/` hold a page a trainee, `oneroster/` results and people as
    tables for other programs (`roster_bundle`), `statements.jsonl` an xAPI statement a line, with
    one that voids each that was handed on before and holds no more. Raises `ClassError` and
    `OSError`.
    """
    if to.resolve() in (folder.path.resolve(), folder.workbooks.resolve()):
        raise ClassError(f"{to} is the class's own: choose a folder beside it, or a new one.")
    place = Place.of(folder.path, to)
    remember(folder, "export", to)
    everybody = scoring.results.people()
    records = Records.of(folder)
    issuing = issue(folder, scoring, by)
    write_certificates(place, issuing, key)
    with (
        place.writing("statements.jsonl") as stream,
        writing_bundle(place, folder, scoring.labs) as add_to_bundle,
    ):
        # Earlier versions wrote it here.
        place.remove("results.csv")
        for done, standing in enumerate(standings(folder, scoring.results), 1):
            page = f"{standing.trainee}.html"
            place.write(transcript(folder, scoring, standing), "transcripts", page)
            add_to_bundle(standing)
            said = statements(folder, scoring.labs, standing)
            theirs = scoring.results.attempts_of(standing.trainee)
            workbooks = [one.dealt.workbook for one in theirs]
            for statement in identified(records, folder, workbooks, said):
                stream.write(orjson.dumps(statement) + b"\n")
            if progress:
                progress(done, len(everybody))
    return Exported(to, len(everybody), issuing)


def transcript(folder: ClassFolder, scoring: Scoring, standing: Standing) -> str:
    """A page with everything that counted for a trainee, exercise by exercise."""
    return filled(
        "transcript.html",
        fields=folder.fields,
        labs=scoring.labs,
        standing=standing,
        weight=folder.fields.weight,
        spoken=folder.fields.spoken,
        percent=partial(spoken_percent, pass_mark=folder.fields.pass_mark),
        written=folder.fields.spoken(CLOCK.now()),
    )
