"""The score sheet a row a person: all labs beside each other, and how they stand in the class."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Literal

from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.marks.results import Results
from labkit.classroom.marks.standing import Standing
from labkit.classroom.result import Result
from labkit.classroom.share import reached, spoken_percent

State = Literal["not handed in", "to be marked", "marked"]


@dataclass(frozen=True, slots=True)
class Cell:
    """One person in one lab. `percent` is of what is marked, as people read it: "" where nothing
    is; `waits` says what waits for a person's mark."""

    lab: str
    state: State
    percent: str
    waits: str
    late: bool
    attempt: int
    attempts: int
    together: str


@dataclass(frozen=True, slots=True)
class Row:
    """One person in the whole class.

    `percent` has every lab at its weight, one that was not handed in as 0; it is "" as long as
    nothing of theirs is marked. `passed` is None while it is open or without a pass mark; `below`
    says that what is marked does not reach it. `open` says in words why nobody can tell yet.
    """

    id: str
    name: str
    cells: tuple[Cell, ...]
    percent: str
    passed: bool | None
    below: bool
    open: str

    @property
    def attempts(self) -> int:
        """The most workbooks that they were dealt of one lab."""
        return max((cell.attempts for cell in self.cells), default=1)

    @property
    def together(self) -> str:
        """With whom they worked, at whichever lab."""
        return ", ".join(dict.fromkeys(cell.together for cell in self.cells if cell.together))

    @property
    def late(self) -> int:
        """How many of their hand-ins are late."""
        return sum(cell.late for cell in self.cells)


def score_rows(folder: ClassFolder, results: Results) -> Iterator[Row]:
    """Everybody who was dealt something of the class's labs, in the order of the deal."""
    for theirs in results.of_everybody():
        if row := score_row(folder, theirs):
            yield row


def score_row(folder: ClassFolder, results: Iterable[Result]) -> Row | None:
    """One person by the results of theirs that count; None where they have no lab of the class."""
    theirs = tuple(result for result in results if result.dealt.lab in folder.fields.labs)
    return _row(Standing.of(folder.fields, theirs)) if theirs else None


def _row(standing: Standing) -> Row:
    some = any(result.counts and result.percent is not None for result in standing.results)
    percent, pass_mark = standing.percent if some else None, standing.pass_mark
    return Row(
        standing.trainee,
        standing.name,
        tuple(_cell(result, pass_mark) for result in standing.results),
        "" if percent is None else spoken_percent(percent, pass_mark),
        standing.passed,
        percent is not None and pass_mark is not None and not reached(percent, pass_mark),
        _open(standing),
    )


def _cell(result: Result, pass_mark: float | None) -> Cell:
    known = result.counts and result.percent is not None
    return Cell(
        result.dealt.lab,
        _state(result),
        spoken_percent(result.percent, pass_mark) if known else "",
        result.share.waits if result.counts else "",
        result.late,
        result.dealt.attempt,
        result.attempts,
        " and ".join(result.together.values()),
    )


def _state(result: Result) -> State:
    if not result.counts:
        return "not handed in"
    return "to be marked" if result.awaits else "marked"


def _open(standing: Standing) -> str:
    if standing.passed is not None:
        return ""
    missing = sum(not result.counts for result in standing.results)
    labs = "lab is" if missing == 1 else "labs are"
    told = f"{missing} {labs} not handed in" if missing else ""
    return ", ".join(filter(None, (told, standing.waits)))
