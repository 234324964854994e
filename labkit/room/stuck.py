"""Who needs the trainer, and why: entries and a moment in, sentences out.

Somebody is *stuck* after three different wrong answers in one exercise and none right since, or
when their page is open and there was no entry for longer than twice the time that the exercise
takes in this class, and more than four minutes. *Away* is something else: no page is open.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime, timedelta
from statistics import median
from typing import Final

from labkit.room.progress import Asked, Progress

WRONG_ANSWERS: Final = 3
TIMES_AS_LONG: Final = 2
LEAST: Final = timedelta(minutes=4)
FEW_TIMES: Final = 5
"""With fewer times of an exercise the class has no median."""
_WORDS: Final = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine")
_MORE_WORDS: Final = ("ten", "eleven", "twelve")


def times(
    exercises: Sequence[Asked], minutes: float, of_class: Iterable[Progress], now: datetime
) -> dict[str, timedelta]:
    """How long each exercise of a lab takes in this class.

    That is the median of all who came to it; there is one once half of them are through. Until
    then, and while there are few times, it is the exercise's share of the lab's minutes by its
    marks, or more, where half of them are at it for longer already.
    """
    through: dict[str, list[float]] = {each.id: [] for each in exercises}
    at_it: dict[str, list[float]] = {each.id: [] for each in exercises}
    for progress in of_class:
        for each in exercises:
            if progress.is_through(each):
                through[each.id].append(progress.of(each).seconds)
        if faced := progress.faces:
            silent = now - (progress.last or now)
            at_it[faced.id].append(progress.of(faced).seconds + silent.total_seconds())
    marks = sum(each.marks for each in exercises) or 1
    return {
        each.id: _takes(through[each.id], at_it[each.id], 60 * minutes * each.marks / marks)
        for each in exercises
    }


def _takes(through: list[float], at_it: list[float], share: float) -> timedelta:
    """In seconds: the times of those who are through, and how long others are at it by now."""
    known = _median(through, at_it) if len(through) >= FEW_TIMES else None
    if known is None and len(through) + len(at_it) >= FEW_TIMES:
        known = max(share, median([*through, *at_it]))
    return timedelta(seconds=share if known is None else known)


def _median(through: list[float], at_it: list[float]) -> float | None:
    """The time within which half of all are through, by the product-limit estimate (Kaplan, Meier).

    Who is at it counts only up to how long they are by now. None while that says nothing yet.
    """
    still, left = 1.0, len(through) + len(at_it)
    for seconds, is_through in sorted([*((s, 1) for s in through), *((s, 0) for s in at_it)]):
        still *= 1 - is_through / left
        if still <= 0.5:
            return seconds
        left -= 1
    return None


def why_stuck(
    progress: Progress,
    now: datetime,
    here_since: datetime,
    takes: Mapping[str, timedelta],
) -> list[str]:
    """Why somebody whose page is open since then is stuck; nothing where they are not.

    `takes` is how long each exercise takes in this class. What was handed in is done.
    """
    if progress.handed_in:
        return []
    return [*_wrong(progress), *_silent(progress, now, here_since, takes)]


def _wrong(progress: Progress) -> list[str]:
    return [
        f"{in_words(count)} different wrong answers in “{each.title}”"
        for each in progress.exercises
        if (count := len(progress.of(each).wrong)) >= WRONG_ANSWERS
        and progress.of(each).wrong_last > progress.last_right
    ]


def _silent(
    progress: Progress, now: datetime, here_since: datetime, takes: Mapping[str, timedelta]
) -> list[str]:
    faced = progress.faces
    if faced is None:
        return []
    silent = now - max(progress.last or here_since, here_since)
    if silent <= max(LEAST, TIMES_AS_LONG * takes[faced.id]):
        return []
    return [f"nothing for {in_minutes(silent)}"]


def in_minutes(time: timedelta) -> str:
    """A time in whole minutes, as one says it."""
    minutes = int(time.total_seconds() // 60)
    return f"{in_words(minutes)} minute{'' if minutes == 1 else 's'}"


def in_words(number: int) -> str:
    """A small number as a word."""
    words = (*_WORDS, *_MORE_WORDS)
    return words[number] if number < len(words) else str(number)
