"""How trainees stand in the whole class: its labs weighed together and held against the pass mark.

One lab of several is never held against the pass mark, which is the course's.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Self

from labkit.classroom.class_file import ClassFields
from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.marks.results import Results
from labkit.classroom.result import Result
from labkit.classroom.share import Share


@dataclass(frozen=True, slots=True)
class Standing:
    """How a trainee stands: their results, a lab each, and `share` with each lab at its weight.

    A lab that was not handed in counts 0; one of which everything was voided counts not at all.
    """

    trainee: str
    name: str
    results: tuple[Result, ...]
    share: Share
    pass_mark: float | None

    @classmethod
    def of(cls, fields: ClassFields, results: tuple[Result, ...]) -> Self:
        """From one trainee's results, at least one."""
        shares = (
            result.share.scaled(fields.weight(result.dealt.lab) / result.possible)
            for result in results
            if result.possible
        )
        dealt = results[0].dealt
        return cls(dealt.trainee, dealt.name, results, Share.total(shares), fields.pass_mark)

    @property
    def percent(self) -> float | None:
        """The weighed share of what is marked, in %; None where nothing is."""
        return self.share.percent

    @property
    def handed_in(self) -> bool:
        """Whether there is a hand-in that counts for every lab."""
        return all(result.counts for result in self.results)

    @property
    def complete(self) -> bool:
        """Whether every lab is handed in and nothing waits for a person's mark."""
        return self.handed_in and not self.waits

    @property
    def waits(self) -> str:
        """The marks that wait, in words; "" when none does."""
        return Share.total(result.share for result in self.results).waits

    @property
    def passed(self) -> bool | None:
        """Whether the pass mark is reached; None without one, while a lab is not handed in, and
        while marks that wait may change it."""
        if self.pass_mark is None or not self.handed_in:
            return None
        return self.share.reaches(self.pass_mark)


@dataclass(frozen=True, slots=True)
class Course:
    """The class as a whole, over everybody who handed in every lab: their results in % as far as
    there are any, how many of them reached the pass mark, and for how many it is open yet."""

    labs: int
    pass_mark: float | None
    handed_in: int
    percents: tuple[float, ...]
    reached: int
    undecided: int
    waits: str

    @classmethod
    def of(cls, fields: ClassFields, results: Iterable[Result]) -> Self:
        """From all results that count, in any order."""
        by_trainee: dict[str, list[Result]] = {}
        for result in results:
            if result.dealt.lab in fields.labs:
                by_trainee.setdefault(result.dealt.trainee, []).append(result)
        found = [
            Standing.of(fields, tuple(theirs))
            for theirs in by_trainee.values()
            if len(theirs) == len(fields.labs)
        ]
        passed = [one.passed for one in found]
        return cls(
            len(fields.labs),
            fields.pass_mark,
            len(found),
            tuple(one.percent for one in found if one.percent is not None),
            passed.count(True),
            passed.count(None),
            Share.total(result.share for one in found for result in one.results).waits,
        )


def standings(folder: ClassFolder, results: Results) -> Iterator[Standing]:
    """How each trainee stands, in the order of the deal."""
    fields = folder.fields
    for theirs in results.of_each():
        found = tuple(result for result in theirs if result.dealt.lab in fields.labs)
        if found:
            yield Standing.of(fields, found)
