"""The morning's warm-up: what went wrong on the last day of practice, asked again in new numbers.

Pure, and nothing of it is stored: the questions follow from the journals, so they stay the same all
day, and so does what was done of them.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, tzinfo
from typing import Final, TypedDict

from labkit.answering.topics import Tried

MOST: Final = 5
"""So many questions."""


@dataclass(frozen=True, slots=True)
class Question:
    """An exercise of a lab that is asked again.

    `right` says how its first answer of today went; None before there is one.
    """

    lab: str
    exercise: str
    right: bool | None


@dataclass(frozen=True, slots=True)
class WarmUp:
    """The questions of a morning, from the mistakes of `day`."""

    day: date
    questions: tuple[Question, ...]


class Asked(TypedDict):
    """A question of a warm-up, as a page lists it."""

    lab: str
    lab_title: str
    exercise: str
    title: str
    right: bool | None


class WarmUpShown(TypedDict):
    """A warm-up as a page shows it; `day` is that of the mistakes."""

    day: str
    yesterday: bool
    questions: list[Asked]


def warm_up_shown(
    found: WarmUp, now: datetime, zone: tzinfo | None, titles: Callable[[Question], tuple[str, str]]
) -> WarmUpShown:
    """A warm-up for a page; `titles` gives those of a question's lab and exercise."""
    return {
        "day": found.day.isoformat(),
        "yesterday": (now.astimezone(zone).date() - found.day).days == 1,
        "questions": [_asked(one, *titles(one)) for one in found.questions],
    }


def _asked(one: Question, lab_title: str, title: str) -> Asked:
    return {
        "lab": one.lab,
        "lab_title": lab_title,
        "exercise": one.exercise,
        "title": title,
        "right": one.right,
    }


def warm_up(
    tried: Mapping[str, Sequence[Tried]], now: datetime, zone: tzinfo | None, most: int = MOST
) -> WarmUp | None:
    """The warm-up of somebody whose first answers are `tried`, by lab; None where there is none.

    The day is the last one before today on which they answered anything; a mistake is a first
    answer to some numbers that was not right. Each topic comes once before any comes twice, what
    went wrong later before what did earlier, an exercise once. Days are those of the calendar in
    `zone` (None: this computer's).
    """
    today = now.astimezone(zone).date()
    every = [(lab, one) for lab, some in tried.items() for one in some]
    days = {_day(one, zone) for _, one in every}
    day = max((each for each in days if each < today), default=None)
    if day is None:
        return None
    wrong = [(lab, one) for lab, one in every if _day(one, zone) == day and not one.right]
    of_today = {
        (lab, one.exercise): one.right
        for lab, one in _latest_first(every)
        if _day(one, zone) == today
    }
    asked = tuple(Question(*place, of_today.get(place)) for place in _in_turn(wrong)[:most])
    return WarmUp(day, asked) if asked else None


def _day(one: Tried, zone: tzinfo | None) -> date:
    return one.at.astimezone(zone).date()


def _latest_first(some: Sequence[tuple[str, Tried]]) -> Iterator[tuple[str, Tried]]:
    """Of two in the same second the one that stands later in its journal."""
    in_order = sorted(some, key=lambda pair: pair[1].at)
    return reversed(in_order)


def _in_turn(wrong: Sequence[tuple[str, Tried]]) -> list[tuple[str, str]]:
    """The exercises, by lab and id: the latest first, but every topic once before any twice."""
    latest: dict[tuple[str, str], str] = {}
    for lab, one in _latest_first(wrong):
        latest.setdefault((lab, one.exercise), one.topic)
    before: Counter[object] = Counter()
    turns: dict[tuple[str, str], int] = {}
    for place, topic in latest.items():
        about = topic or place
        turns[place] = before[about]
        before[about] += 1
    return sorted(turns, key=lambda place: turns[place])
