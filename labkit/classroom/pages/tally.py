"""What is said of all results of a class together, counted in one turn through them."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Self

from labkit.classroom.mark import Mark
from labkit.classroom.result import Result
from labkit.classroom.share import Share


@dataclass(slots=True)
class ExerciseTally:
    """One exercise over the class. Marks that are voided or awaited count in nothing."""

    lab: str
    number: int
    title: str
    gained: float = 0.0
    possible: float = 0.0
    blank: int = 0

    @property
    def earned(self) -> float:
        """The share of its marks that was earned, in %."""
        return 100 * self.gained / self.possible


@dataclass(slots=True)
class Tally:
    """The counts: `percents` of who handed in and has a mark; `exercises` by lab and number.

    `share` is of all hand-ins together. `missing` has, by person, the labs of which they still owe
    hand-ins.
    """

    handed_in: int = 0
    share: Share = field(default_factory=lambda: Share(0.0, 0.0))
    percents: list[float] = field(default_factory=list)
    exercises: dict[tuple[str, int], ExerciseTally] = field(default_factory=dict)
    missing: dict[str, list[str]] = field(default_factory=dict)

    @classmethod
    def of(cls, results: Iterable[Result]) -> Self:
        """The counts over some results."""
        tally = cls()
        for result in results:
            if result.counts:
                tally._count(result)
            else:
                person = f"{result.dealt.name} ({result.dealt.trainee})"
                tally.missing.setdefault(person, []).append(result.dealt.lab)
            # What two worked at together is one piece of work, and the mark of each.
            for mark in () if result.as_guest else result.marks:
                tally._add(result.dealt.lab, mark)
        return tally

    def _count(self, result: Result) -> None:
        share = result.share
        self.handed_in += 1
        if not result.as_guest:
            self.share = Share.total([self.share, share])
        if share.percent is not None:
            self.percents.append(share.percent)

    def _add(self, lab: str, mark: Mark) -> None:
        item = self.exercises.setdefault(
            (lab, mark.number), ExerciseTally(lab, mark.number, mark.title)
        )
        if not (mark.voided or mark.awaits):
            item.gained += mark.earned
            item.possible += mark.possible
            item.blank += not mark.answered
