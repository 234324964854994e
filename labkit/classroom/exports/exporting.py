"""Handing results on: pages for people, tables and statements for other programs.

Everything is written from the records; nothing in it can act as a formula or a link.
"""

from __future__ import annotations

import csv
from collections.abc import Iterable, Iterator
from contextlib import AbstractContextManager, contextmanager
from dataclasses import dataclass
from functools import partial
from io import TextIOWrapper
from pathlib import Path
from typing import Any, BinaryIO, Final, TextIO

import orjson

from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.errors import ClassError
from labkit.classroom.exports.sheet import harmless
from labkit.classroom.exports.statement_ids import identified
from labkit.classroom.exports.statements import statements
from labkit.classroom.filling import filled
from labkit.classroom.marks.results import Scoring
from labkit.classroom.marks.standing import Standing, standings
from labkit.classroom.private_place import Place
from labkit.classroom.progress import Progress
from labkit.classroom.records.handed_on import remember
from labkit.classroom.records.store import Records
from labkit.classroom.result import Result
from labkit.classroom.share import spoken_percent
from labkit.exchange.clock import CLOCK

_COLUMNS: Final = (
    *("sourcedId", "status", "dateLastModified", "lineItemSourcedId", "studentSourcedId"),
    *("scoreStatus", "score", "scoreDate", "comment"),
)


@dataclass(frozen=True, slots=True)
class Exported:
    """What an export wrote."""

    folder: Path
    transcripts: int
    certificates: int


def export(
    folder: ClassFolder, scoring: Scoring, to: Path, progress: Progress | None = None
) -> Exported:
    """Write everything into the folder `to`: it may be there already, older exports are replaced.

    `transcripts/` and `certificates/` hold a page a trainee, `results.csv` a row a trainee and lab,
    `statements.jsonl` an xAPI statement a line, with one that voids each that was handed on before
    and holds no more. Raises `ClassError` and `OSError`.
    """
    if to.resolve() in (folder.path.resolve(), folder.workbooks.resolve()):
        raise ClassError(f"{to} is the class's own: choose a folder beside it, or a new one.")
    place = Place.of(folder.path, to)
    remember(folder, "export", to)
    everybody = scoring.results.people()
    records = Records.of(folder)
    certificates = 0
    with (
        place.writing("statements.jsonl") as stream,
        _as_text(place.writing("results.csv")) as sheet,
    ):
        table = csv.DictWriter(sheet, _COLUMNS)
        table.writeheader()
        for done, standing in enumerate(standings(folder, scoring.results), 1):
            page = f"{standing.trainee}.html"
            place.write(transcript(folder, scoring, standing), "transcripts", page)
            if standing.passed:
                certificates += 1
                place.write(certificate(folder, scoring, standing), "certificates", page)
            else:
                # One that was right before a correction must not stay.
                place.remove("certificates", page)
            table.writerows(_result_rows(folder, standing))
            said = statements(folder, scoring.labs, standing)
            theirs = scoring.results.attempts_of(standing.trainee)
            workbooks = [one.dealt.workbook for one in theirs]
            for statement in identified(records, folder, workbooks, said):
                stream.write(orjson.dumps(statement) + b"\n")
            if progress:
                progress(done, len(everybody))
    return Exported(to, len(everybody), certificates)


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


def certificate(folder: ClassFolder, scoring: Scoring, standing: Standing) -> str:
    """A page to print. Raises `ClassError` for somebody who has not passed."""
    who = f"{standing.name} ({standing.trainee})"
    if standing.passed is None and standing.waits:
        raise ClassError(f"Whether {who} has passed is not decided yet: {standing.waits}.")
    if not standing.passed:
        raise ClassError(f"{who} has not passed: no certificate.")
    return filled(
        "certificate.html",
        fields=folder.fields,
        labs=scoring.labs,
        standing=standing,
        percent=partial(spoken_percent, pass_mark=folder.fields.pass_mark),
    )


def _result_rows(folder: ClassFolder, standing: Standing) -> Iterable[dict[str, Any]]:
    """Rows in the way of the results of 1EdTech OneRoster 1.2 in its CSV binding.

    The column names and the words for `scoreStatus` are from memory; check them against the
    standard before another program depends on them.
    """
    for result in standing.results:
        moment = result.hand_in.made_at if result.hand_in else ""
        yield {
            "sourcedId": result.dealt.workbook,
            "status": "active",
            "dateLastModified": result.since,
            "lineItemSourcedId": f"{folder.fields.id}/{result.dealt.lab}",
            "studentSourcedId": harmless(standing.trainee),
            "scoreStatus": _score_status(result),
            "score": result.earned if result.counts and result.share.marked else "",
            "scoreDate": harmless(moment[:10]),
            "comment": "; ".join(filter(None, ("late" if result.late else "", result.share.waits))),
        }


def _score_status(result: Result) -> str:
    if not result.counts:
        return "not submitted"
    if not result.awaits:
        return "fully graded"
    return "partially graded" if result.share.marked else "submitted"


@contextmanager
def _as_text(writing: AbstractContextManager[BinaryIO]) -> Iterator[TextIO]:
    with writing as stream:
        text = TextIOWrapper(stream, encoding="utf-8", newline="")
        yield text
        text.detach()
