"""Whose marks a correction changes, from and to, and who crosses the pass mark by it.

A correction is looked at from before and after; a dry run makes it in a copy of the records.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Final, Self

from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.dealt import Dealt
from labkit.classroom.mark import Mark
from labkit.classroom.marks.results import Results
from labkit.classroom.marks.standing import standings
from labkit.classroom.records.store import Records
from labkit.classroom.result import Result
from labkit.classroom.share import spoken_percent

_Told = tuple[float, float, bool, bool]
_PASSED: Final = {True: "passed", False: "not passed", None: "not settled yet"}


@dataclass(frozen=True, slots=True)
class Figure:
    """What a result is worth: marks earned of the possible ones, and in %."""

    earned: float
    possible: float
    percent: float | None


@dataclass(frozen=True, slots=True)
class Change:
    """A result that is another one now, and the exercises that made it so."""

    dealt: Dealt
    before: Figure
    after: Figure
    exercises: tuple[str, ...]

    @property
    def sentence(self) -> str:
        """What changed, in words."""
        old, new, where = self.before, self.after, ", ".join(self.exercises)
        again = f", attempt {self.dealt.attempt}" if self.dealt.attempt > 1 else ""
        return (
            f"{self.dealt.name} ({self.dealt.trainee}){again}, {self.dealt.lab}: "
            f"{old.earned:g} of {old.possible:g} → {new.earned:g} of {new.possible:g} marks, "
            f"{_percents(old.percent, new.percent)} ({where})"
        )


@dataclass(frozen=True, slots=True)
class Overall:
    """The weighed result of all labs of the class in %, and whether the pass mark is reached.

    `passed` is None without a pass mark, or while something is missing or not marked.
    """

    name: str
    percent: float | None
    passed: bool | None
    pass_mark: float | None


@dataclass(frozen=True, slots=True)
class OverallChange:
    """A trainee whose result in the whole class is another one now."""

    trainee: str
    before: Overall
    after: Overall

    @property
    def crosses(self) -> bool:
        """Whether they have passed now and had not before, or the other way round."""
        return self.before.passed != self.after.passed

    @property
    def sentence(self) -> str:
        """What changed, in words."""
        told = (
            f"{self.after.name} ({self.trainee}), whole class: "
            f"{_percents(self.before.percent, self.after.percent, self.after.pass_mark)}"
        )
        if not self.crosses:
            return told
        return f"! {told}, {_PASSED[self.before.passed]} → {_PASSED[self.after.passed]}"


@dataclass(frozen=True, slots=True)
class Changes:
    """All that a correction changes. `already` says why it added no entry, where it did not."""

    results: tuple[Change, ...] = ()
    courses: tuple[OverallChange, ...] = ()
    already: str = ""

    @property
    def crossing(self) -> tuple[OverallChange, ...]:
        """Who crosses the pass mark, in either direction."""
        return tuple(course for course in self.courses if course.crosses)

    def sentences(self, labs: int) -> Iterator[str]:
        """A line for each change; of a class of one lab only who crosses the pass mark besides."""
        yield from (change.sentence for change in self.results)
        yield from (item.sentence for item in (self.courses if labs > 1 else self.crossing))


@dataclass(frozen=True, slots=True)
class Snapshot:
    """What everybody's results are at one moment."""

    results: Mapping[str, tuple[Figure, Mapping[str, _Told]]]
    courses: Mapping[str, Overall]

    @classmethod
    def of(cls, folder: ClassFolder, results: Results, only: Sequence[str] = ()) -> Self:
        """The results of a class as they are now, or those of `only` these trainees."""
        found = {
            result.dealt.workbook: (_figure(result), _by_exercise(result))
            for result in _every(results, only)
            if result.counts
        }
        return cls(found, _courses(folder, results, only))

    def until(self, folder: ClassFolder, results: Results, only: Sequence[str] = ()) -> Changes:
        """What has changed from then to now; `only` as then."""
        changes = []
        for result in _every(results, only):
            old = self.results.get(result.dealt.workbook)
            if old is None or not result.counts:
                continue
            new = _by_exercise(result)
            differing = tuple(name for name in new if new[name] != old[1].get(name))
            if differing:
                changes.append(Change(result.dealt, old[0], _figure(result), differing))
        # Only theirs: a hand-in that came in meanwhile is no work of the correction.
        whose = {change.dealt.trainee for change in changes}
        now = _courses(folder, results, only)
        courses = [
            OverallChange(trainee, before, now[trainee])
            for trainee, before in self.courses.items()
            if trainee in whose and trainee in now and before != now[trainee]
        ]
        return Changes(tuple(changes), tuple(courses))


def records_to_change(folder: ClassFolder, *, dry_run: bool) -> Records:
    """The records of a class, or for a dry run a copy of them that is gone afterwards."""
    if not dry_run:
        return Records.of(folder)
    class_id = folder.fields.id
    if not folder.has_records:
        return Records.temporary(class_id)
    return Records.of(folder).copied(class_id)


def _every(results: Results, only: Sequence[str]) -> Iterator[Result]:
    """The results of all attempts of everybody, or of `only` these."""
    if not only:
        return results.every()
    return (result for trainee in only for result in results.attempts_of(trainee))


def _courses(folder: ClassFolder, results: Results, only: Sequence[str]) -> dict[str, Overall]:
    return {
        item.trainee: Overall(item.name, item.percent, item.passed, item.pass_mark)
        for item in standings(folder, results, only)
    }


def _figure(result: Result) -> Figure:
    return Figure(result.earned, result.possible, result.percent)


def _by_exercise(result: Result) -> dict[str, _Told]:
    def told(mark: Mark) -> _Told:
        return mark.earned, mark.possible, mark.voided, mark.awaits

    return {mark.exercise: told(mark) for mark in result.marks}


def _percents(before: float | None, after: float | None, pass_mark: float | None = None) -> str:
    return f"{spoken_percent(before, pass_mark)} → {spoken_percent(after, pass_mark)} %"
