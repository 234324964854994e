"""Results of a lab while the class still works at it, marked as scoring will mark them."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from typing import Any, Final

from labkit.classroom.class_file import ClassFields
from labkit.classroom.dealt import Dealt
from labkit.classroom.handins.choosing import Policy
from labkit.classroom.mark import Mark
from labkit.classroom.marks.marking import marks_of
from labkit.classroom.marks.results import that_counts
from labkit.classroom.result import Result
from labkit.exchange.journal import ANSWER, HANDED_IN, STEP
from labkit.lab.draw import Scenario

Entries = Sequence[Mapping[str, Any]]
_HANDED_IN_BY: Final = (ANSWER, STEP, HANDED_IN)
"""What makes a workbook one that is handed in when its time is up, or was."""


@dataclass(frozen=True, slots=True)
class _Now:
    """A workbook whose journal has this size, and whether it counts as handed in."""

    size: int
    counts: bool
    marks: tuple[Mark, ...]


class SoFar:
    """The results of a class by what its journals hold now.

    A workbook is marked anew only when its journal, of which `read` gives the entries and `size`
    the length, grew. What came in on sticks, was voided or marked by hand is not in it.
    """

    def __init__(
        self,
        rules: ClassFields,
        scenario: Callable[[Dealt], Scenario],
        read: Callable[[Dealt], Entries],
        size: Callable[[Dealt], int],
    ) -> None:
        self._rules, self._scenario, self._read, self._size = rules, scenario, read, size
        self._known: dict[str, _Now] = {}

    def results(
        self, attempts: Iterable[Sequence[Dealt]], works_in: Callable[[Dealt], Dealt]
    ) -> list[Result]:
        """The result of everybody in one lab; `attempts` has each one's workbooks in order."""
        found = []
        for own in attempts:
            results = [self._result(item, works_in(item), len(own)) for item in own]
            found.append(that_counts(results, Policy.of(self._rules, own[0].lab)))
        return found

    def _result(self, item: Dealt, work: Dealt, attempts: int) -> Result:
        now = self._now(work)
        return Result(
            item,
            None,
            now.marks if now.counts else (),
            sum(mark.possible for mark in now.marks),
            partial(self._scenario, work),
            attempts,
            worked_in=None if work is item else work,
        )

    def marks(self, work: Dealt) -> tuple[Mark, ...]:
        """The marks of a workbook as it stands."""
        return self._now(work).marks

    def _now(self, work: Dealt) -> _Now:
        # The size first: what is added meanwhile is read again.
        size = self._size(work)
        now = self._known.get(work.workbook)
        if now is None or now.size != size:
            entries = self._read(work)
            counts = any(entry["event"] in _HANDED_IN_BY for entry in entries)
            now = _Now(size, counts, marks_of(self._scenario(work), entries))
            self._known[work.workbook] = now
        return now
