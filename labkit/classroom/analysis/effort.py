"""Time on task, tries and hints, from the answer journals.

The journal knows when something was answered, not when somebody read or thought. The time between
two entries is booked on the exercise of the later one. It goes by the laptop's own clock, which the
trainee can set: it is good for a median over a class and proves nothing of anybody.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from statistics import median, quantiles
from typing import Any, Final

from labkit.classroom.analysis.table import MarkTable
from labkit.classroom.mark import Mark
from labkit.exchange.journal import ANSWER, EVENTS, HINT

PAUSE: Final = 15 * 60
"""Seconds; a longer gap between two entries is a pause: counted, but booked on no exercise. Common
practice, no source: a break, a fire drill and a talk with the trainer all look alike here."""


@dataclass(frozen=True, slots=True)
class TimeSpent:
    """Seconds by exercise, and how many gaps were taken for pauses."""

    seconds: Mapping[str, float]
    pauses: int


@dataclass(frozen=True, slots=True)
class EffortFigures:
    """One exercise. Times in minutes over the `timed` trainees who have any: the median, and the
    middle half of the class. Tries and hints over those who answered."""

    exercise: str
    number: int
    title: str
    timed: int
    median_minutes: float | None
    middle_half: tuple[float, float] | None
    answered: int
    tries: int
    more_than_one_try: int
    hints: int
    took_hints: int
    hint_cost: float


def time_spent(journal: Iterable[Mapping[str, Any]], pause: float = PAUSE) -> TimeSpent:
    """The time that a journal books on each exercise.

    An entry without a readable time, or of an event that is not known, is passed over; a clock
    that was set back gives no time.
    """
    seconds: dict[str, float] = defaultdict(float)
    pauses, before = 0, None
    for entry in journal:
        at = _moment(entry.get("at"))
        if at is None or entry.get("event") not in EVENTS:
            continue
        gap = (at - before).total_seconds() if before else 0.0
        before = at
        exercise = entry.get("exercise")
        if entry.get("event") not in (ANSWER, HINT) or not isinstance(exercise, str):
            # Opening again ends an absence, handing in ends a look back: no exercise had that time.
            continue
        if gap > pause:
            pauses += 1
        elif gap > 0:
            seconds[exercise] += gap
    return TimeSpent(dict(seconds), pauses)


def times(table: MarkTable, pause: float = PAUSE) -> list[TimeSpent]:
    """The time that each hand-in's journal books; the journals are read one after the other."""
    found = (result.hand_in for result in table.results)
    return [time_spent(hand_in.journal, pause) for hand_in in found if hand_in]


def effort_figures(table: MarkTable, spent: Sequence[TimeSpent]) -> tuple[EffortFigures, ...]:
    """Time, tries and hints of every exercise, in the order of the lab."""
    figures = []
    for exercise, number, title in zip(table.exercises, table.numbers, table.titles, strict=True):
        marks = [m for r in table.results for m in r.marks if m.exercise == exercise]
        minutes = sorted(one.seconds[exercise] / 60 for one in spent if exercise in one.seconds)
        figures.append(_figures(exercise, number, title, marks, minutes))
    return tuple(figures)


def median_minutes(spent: Iterable[TimeSpent]) -> float | None:
    """The median over the class of the time that a trainee's exercises took together."""
    minutes = [sum(one.seconds.values()) / 60 for one in spent if one.seconds]
    return median(minutes) if minutes else None


def _figures(
    exercise: str, number: int, title: str, marks: list[Mark], minutes: list[float]
) -> EffortFigures:
    return EffortFigures(
        exercise=exercise,
        number=number,
        title=title,
        timed=len(minutes),
        median_minutes=median(minutes) if minutes else None,
        middle_half=_middle_half(minutes),
        answered=sum(mark.answered for mark in marks),
        tries=sum(mark.tries for mark in marks),
        more_than_one_try=sum(mark.tries > 1 for mark in marks),
        hints=sum(mark.hints for mark in marks),
        took_hints=sum(mark.hints > 0 for mark in marks),
        hint_cost=sum(mark.hint_cost for mark in marks),
    )


def _middle_half(minutes: list[float]) -> tuple[float, float] | None:
    if len(minutes) < 4:
        return None
    low, _, high = quantiles(minutes, n=4, method="inclusive")
    return low, high


def _moment(text: Any) -> datetime | None:
    if not isinstance(text, str):
        return None
    try:
        at = datetime.fromisoformat(text)
    except ValueError:
        return None
    return at if at.tzinfo else None
