"""What one class says of its people and its labs, to be laid beside other classes.

Read from the records as they stand; nothing is received or marked for it.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from math import fsum

from labkit.classroom.analysis.intervals import Interval, wilson
from labkit.classroom.certificates.register import Issued, Register
from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.dealing.deal_record import read_deal
from labkit.classroom.marks.results import Results
from labkit.classroom.marks.scoring import recorded
from labkit.classroom.marks.standing import Standing, standings
from labkit.classroom.records.store import Records
from labkit.classroom.result import Result
from labkit.classroom.share import spoken_percent


@dataclass(frozen=True, slots=True)
class Attendance:
    """One person in one class; `day` is the class's, as YYYY-MM-DD, "" where it says none.

    `ids_of` says whose ids those of the class are ("" for nobody's but the class's own).
    `spoken` is the percentage as people read it, "" where nothing is marked; `certificate` the last
    one that holds.
    """

    folder: str
    title: str
    day: str
    ids_of: str
    trainee: str
    name: str
    percent: float | None = None
    spoken: str = ""
    passed: bool | None = None
    waits: str = ""
    handed_in: int = 0
    labs: int = 0
    certificate: Issued | None = None


@dataclass(frozen=True, slots=True)
class LabSeen:
    """A lab in one class: how many handed it in, and the mean of their results in %.

    A result is of what is marked; one that nothing is marked of is not in the mean.
    """

    folder: str
    title: str
    day: str
    lab: str
    version: str
    practice: bool
    handed_in: int
    mean: float | None
    interval: Interval | None


@dataclass(frozen=True, slots=True)
class ClassSeen:
    """What is to be said of one class."""

    people: tuple[Attendance, ...]
    labs: tuple[LabSeen, ...]


def seen(folder: ClassFolder) -> ClassSeen:
    """What a class says as its records stand. Raises `ClassError`, `DefinitionError`."""
    if not folder.deal_file.exists():
        return ClassSeen((), ())
    if not folder.has_records:
        dealt = read_deal(folder).dealt
        return ClassSeen(tuple(_dealt(folder, *who) for who in dealt.people()), ())
    results = recorded(folder)
    return ClassSeen(tuple(_people(folder, results)), tuple(_labs(folder, list(results))))


def result_in_words(one: Attendance) -> str:
    """How somebody did in a class, such as "62.1 %, passed"."""
    if not one.handed_in:
        return "nothing handed in"
    verdict = {True: "passed", False: "not passed", None: ""}[one.passed]
    some = f"{one.handed_in} of {one.labs} labs handed in" if one.handed_in < one.labs else ""
    return ", ".join(filter(None, (one.spoken or "not marked yet", verdict, some, one.waits)))


def _dealt(folder: ClassFolder, trainee: str, name: str) -> Attendance:
    fields = folder.fields
    return Attendance(
        folder.path.name,
        fields.title,
        fields.date or "",
        fields.home_page or "",
        trainee,
        name,
        labs=len(fields.labs),
    )


def _people(folder: ClassFolder, results: Results) -> Iterator[Attendance]:
    register = Register.of(Records.of(folder))
    for standing in standings(folder, results):
        last = register.last_of(item.workbook for item in results.dealt_to(standing.trainee))
        yield _attendance(folder, standing, last if last and last.holds else None)


def _attendance(folder: ClassFolder, standing: Standing, certificate: Issued | None) -> Attendance:
    return replace(
        _dealt(folder, standing.trainee, standing.name),
        percent=standing.percent,
        spoken=_spoken(standing),
        passed=standing.passed,
        waits=standing.waits,
        handed_in=sum(result.counts for result in standing.results),
        certificate=certificate,
    )


def _spoken(standing: Standing) -> str:
    percent = standing.percent
    return "" if percent is None else f"{spoken_percent(percent, standing.pass_mark)} %"


def _labs(folder: ClassFolder, results: Sequence[Result]) -> Iterator[LabSeen]:
    fields, versions = folder.fields, read_deal(folder).labs
    for lab in fields.labs:
        # What two do together is one piece of work.
        own = [one for one in results if one.dealt.lab == lab and one.counts and not one.as_guest]
        shares = [one.percent / 100 for one in own if one.percent is not None]
        mean = fsum(shares) / len(shares) if shares else None
        yield LabSeen(
            folder=folder.path.name,
            title=fields.title,
            day=fields.date or "",
            lab=lab,
            version=versions.get(lab, {}).get("version", ""),
            practice=fields.practice(lab),
            handed_in=len(own),
            mean=None if mean is None else 100 * mean,
            interval=None if mean is None else _in_percent(wilson(mean, len(shares))),
        )


def _in_percent(share: Interval) -> Interval:
    return Interval(100 * share.low, 100 * share.high)
