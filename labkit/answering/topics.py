"""Practice until it sits: how somebody stands in a topic, by what their journals hold.

Pure, and outside of all marks. Only practice counts: in an assessed lab nobody is told anything.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, tzinfo
from itertools import groupby
from typing import Any, Final

from labkit.exchange.clock import read_moment
from labkit.exchange.journal import ANSWER, DRILL, HINT

RUNNING: Final = 3
"""So many right answers running. The course's own rule, with two days: no source."""
DAYS: Final = 2

Entries = Sequence[Mapping[str, Any]]
VerdictOn = Callable[[str, Any], bool | None]
"""Of an exercise in its own numbers and an answer: right or not; None where there is nothing to
count: it cannot be read, or a person marks it."""


@dataclass(frozen=True, slots=True)
class Tried:
    """The first answer to one draw of an exercise.

    `draw` tells draws apart, across workbooks and drills. `unaided` is an answer before any hint,
    given by one person. `at` is by the clock of the machine that kept the journal.
    """

    exercise: str
    draw: str
    at: datetime
    right: bool
    unaided: bool = True
    topic: str = ""


@dataclass(frozen=True, slots=True)
class Standing:
    """How somebody stands in a topic: so many right answers running, on so many days.

    `tried` is how many first answers there are at all; `since` the day on which it began to sit.
    """

    tried: int = 0
    running: int = 0
    days: int = 0
    since: date | None = None

    @property
    def begun(self) -> bool:
        """Whether anything was answered."""
        return self.tried > 0

    @property
    def sits(self) -> bool:
        """Whether it sits."""
        return self.since is not None

    @property
    def on_another_day(self) -> bool:
        """Whether one right answer on another day is all that is missing."""
        return self.running >= RUNNING and not self.sits


def standing(tried: Iterable[Tried], zone: tzinfo | None = UTC) -> Standing:
    """How somebody stands in one topic. `tried` are the first answers in it, in any order.

    The rule: a topic sits once the last answers are three or more right ones running, unaided, each
    to other numbers, and not all of one day.

    * Of several answers to one draw the first counts alone: after it the page has told what is
      right or wrong.
    * A wrong answer, or one right in part, begins the run anew, aided or not.
    * A right one that had a hint, or that two gave at one bench, counts neither way.
    * Days are those of the calendar in `zone`, the class's (None: this computer's). Whose clock it
      was is not asked: in a room it is the trainer's, on a laptop a claim, and nothing is marked by
      it. A clock that goes back makes no other day, see `first_answers`.
    * A topic that sits is practised again after the next wrong answer.
    """
    known: set[str] = set()
    now, days = Standing(), set[date]()
    for one in sorted(tried, key=lambda each: each.at):
        if one.draw in known:
            continue
        known.add(one.draw)
        now = replace(now, tried=now.tried + 1)
        if not one.right:
            days.clear()
            now = replace(now, running=0, days=0, since=None)
        elif one.unaided:
            day = one.at.astimezone(zone).date()
            days.add(day)
            running = now.running + 1
            here = running >= RUNNING and len(days) >= DAYS
            since = now.since or (day if here else None)
            now = replace(now, running=running, days=len(days), since=since)
    return now


def standings(tried: Iterable[Tried], zone: tzinfo | None = UTC) -> dict[str, Standing]:
    """How somebody stands in each topic in which they answered something."""
    with_topic = sorted((each for each in tried if each.topic), key=lambda each: each.topic)
    by_topic = groupby(with_topic, key=lambda each: each.topic)
    return {topic: standing(list(some), zone) for topic, some in by_topic}


def first_answers(
    entries: Entries, workbook: str, topics: Mapping[str, str], verdict_on: VerdictOn
) -> list[Tried]:
    """The first answer to each draw in one practice workbook, as its journal has them.

    `workbook` is its number, `topics` the topic of each exercise that has a verdict. Answers that
    cannot be read are passed over. A time that lies before an earlier entry's is taken for that
    one's: so a clock that is put back makes no other day.
    """
    found: dict[tuple[str, str], Tried] = {}
    hinted: set[str] = set()
    last = datetime.min.replace(tzinfo=UTC)
    for entry in entries:
        at = read_moment(entry.get("at"))
        last = max(last, at) if at else last
        exercise, event = entry.get("exercise"), entry.get("event")
        if not isinstance(exercise, str) or exercise not in topics:
            continue
        if event == HINT:
            hinted.add(exercise)
        draw = str(entry.get("draw", "")) if event == DRILL else workbook
        if event not in (ANSWER, DRILL) or "answer" not in entry or (exercise, draw) in found:
            continue
        right = _drilled(entry) if event == DRILL else verdict_on(exercise, entry["answer"])
        if right is None:
            continue
        alone = not entry.get("by") and (event == DRILL or exercise not in hinted)
        draw_of = f"{exercise} {draw}"
        found[exercise, draw] = Tried(exercise, draw_of, last, right, alone, topics[exercise])
    return list(found.values())


def _drilled(entry: Mapping[str, Any]) -> bool | None:
    """What a drill's entry says of its answer: the numbers are drawn no second time for it."""
    if entry.get("readable") is False:
        return None
    credit = entry.get("credit")
    return isinstance(credit, int | float) and credit >= 1


def in_words(topic: str, now: Standing) -> str:
    """How somebody stands in a topic, as they read it: "Voltage drop: 2 of 3 right at once, …"."""
    named = topic[:1].upper() + topic[1:]
    if now.sits:
        return f"{named}: sits."
    if now.on_another_day:
        return f"{named}: {RUNNING} right at once, in a row. One more on another day, and it sits."
    return f"{named}: {now.running} of {RUNNING} right at once, in a row."
