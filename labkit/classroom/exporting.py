"""Handing results on: pages for people, tables and statements for other programs.

Everything is written from the records; nothing in it can act as a formula or a link.
"""

from __future__ import annotations

import csv
import os
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final, TextIO

import orjson

from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.errors import ClassError
from labkit.classroom.pages import filled
from labkit.classroom.progress import Progress
from labkit.classroom.results import Result, Results, Scoring
from labkit.classroom.sheet import harmless
from labkit.classroom.statements import statements
from labkit.station.handin import write_whole
from labkit.station.journal import now

_COLUMNS: Final = (
    *("sourcedId", "status", "dateLastModified", "lineItemSourcedId", "studentSourcedId"),
    *("scoreStatus", "score", "scoreDate", "comment"),
)


@dataclass(frozen=True, slots=True)
class Standing:
    """How a trainee stands in the whole class: their results, a lab each.

    `percent` weighs the labs as class.yaml says; a lab that was not handed in counts 0.
    """

    trainee: str
    name: str
    results: tuple[Result, ...]
    percent: float
    pass_mark: float | None

    @property
    def complete(self) -> bool:
        """Whether every lab is handed in and nothing waits for a person's mark."""
        return all(result.counts and not result.awaits for result in self.results)

    @property
    def passed(self) -> bool | None:
        """Whether the pass mark is reached; None without one, or while something is missing."""
        if self.pass_mark is None or not self.complete:
            return None
        # What people read is rounded to a tenth: 59.96 % is shown, and counts, as 60 %.
        return round(self.percent, 1) >= self.pass_mark


@dataclass(frozen=True, slots=True)
class Exported:
    """What an export wrote."""

    folder: Path
    transcripts: int
    certificates: int


def standings(folder: ClassFolder, results: Results) -> Iterator[Standing]:
    """How each trainee stands, in the order of the deal."""
    labs = folder.fields.labs
    for trainee, name in results.people():
        found = tuple(result for result in results.of(trainee) if result.dealt.lab in labs)
        if found:
            yield _standing(folder, trainee, name, found)


def export(
    folder: ClassFolder, scoring: Scoring, to: Path, progress: Progress | None = None
) -> Exported:
    """Write everything into the folder `to`: it may be there already, older exports are replaced.

    `transcripts/` and `certificates/` hold a page a trainee, `results.csv` a row a trainee and lab,
    `statements.jsonl` an xAPI statement a line. Raises `ClassError` and `OSError`.
    """
    if to.resolve() in (folder.path.resolve(), folder.workbooks.resolve()):
        raise ClassError(f"{to} is the class's own: choose a folder beside it, or a new one.")
    to.mkdir(parents=True, exist_ok=True)
    everybody = scoring.results.people()
    certificates = 0
    with (
        _replacing(to / "statements.jsonl") as stream,
        _replacing(to / "results.csv") as sheet,
    ):
        table = csv.DictWriter(sheet, _COLUMNS)
        table.writeheader()
        for done, standing in enumerate(standings(folder, scoring.results), 1):
            _write_page(to / "transcripts", standing, transcript(folder, scoring, standing))
            page = to / "certificates" / f"{standing.trainee}.html"
            if standing.passed:
                certificates += 1
                _write_page(page.parent, standing, certificate(folder, scoring, standing))
            else:
                # One that was right before a correction must not stay.
                page.unlink(missing_ok=True)
            table.writerows(_result_rows(folder, standing))
            for statement in statements(folder, standing.results):
                stream.write(orjson.dumps(statement).decode() + "\n")
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
        written=folder.fields.spoken(now()),
    )


def certificate(folder: ClassFolder, scoring: Scoring, standing: Standing) -> str:
    """A page to print. Raises `ClassError` for somebody who has not passed."""
    if not standing.passed:
        raise ClassError(f"{standing.name} ({standing.trainee}) has not passed: no certificate.")
    return filled("certificate.html", fields=folder.fields, labs=scoring.labs, standing=standing)


def _standing(
    folder: ClassFolder, trainee: str, name: str, results: tuple[Result, ...]
) -> Standing:
    weights = [folder.fields.weight(result.dealt.lab) for result in results]
    weighed = sum(weight * result.percent for weight, result in zip(weights, results, strict=True))
    return Standing(trainee, name, results, weighed / sum(weights), folder.fields.pass_mark)


def _write_page(place: Path, standing: Standing, text: str) -> None:
    place.mkdir(exist_ok=True)
    write_whole(place / f"{standing.trainee}.html", text.encode())


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
            "dateLastModified": result.hand_in.received_at if result.hand_in else "",
            "lineItemSourcedId": f"{folder.fields.id}/{result.dealt.lab}",
            "studentSourcedId": harmless(standing.trainee),
            "scoreStatus": _score_status(result),
            "score": result.earned if result.counts else "",
            "scoreDate": harmless(moment[:10]),
            "comment": "late" if result.late else "",
        }


def _score_status(result: Result) -> str:
    if not result.counts:
        return "not submitted"
    return "partially graded" if result.awaits else "fully graded"


@contextmanager
def _replacing(target: Path) -> Iterator[TextIO]:
    """Write a file line by line beside the old one, and put it in its place when it is whole."""
    part = target.with_name(f".{target.name}.part")
    with part.open("w", encoding="utf-8", newline="") as stream:
        yield stream
        stream.flush()
        os.fsync(stream.fileno())
    part.replace(target)
