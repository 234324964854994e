"""Classes of 14 that never were: seeded, invented, at work at a lab of eleven exercises.

No class was observed for it. Each exercise has a median time about its share of the lab's minutes
by marks, log-normal (sigma 0.25): authors do not know what it takes. A person has a pace,
log-normal (sigma 0.15), two of 14 are slow readers (1.4 times that) and two are fast (0.7 times);
an exercise takes somebody its median times their pace times chance, log-normal (sigma 0.3). That
time is cut into gaps before the entries: an answer is wrong with a chance of 0.3, before every
other further try a hint is opened, and half of the time something is done at a bench before the
first answer.

Five are planted who stop in one exercise, in silence or with three different wrong answers, until
somebody comes to them six minutes after it is true. Whoever else meets the definition by the true
median meets it by chance; all that is told of anybody else is a false alarm.
"""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from typing import Final

from labkit.doors.verdict import Verdict
from labkit.room.progress import Asked, Happened, Progress
from labkit.room.stuck import times, why_stuck

MINUTES: Final = 75
_WRONG_ANSWERS: Final = 3
_TIMES_AS_LONG: Final = 2
_LEAST: Final = timedelta(minutes=4)
"""What it is to be stuck, as it was agreed, whatever the board thinks."""
FOUND_WITHIN: Final = timedelta(minutes=2)
_MARKS: Final = (2, 3, 4, 4, 6, 3, 5, 8, 4, 6, 5)
_PACES: Final = (1.4, 1.4, 0.7, 0.7, *10 * (1.0,))
_PLANTED: Final = 5
_HELD_UP: Final = timedelta(minutes=6)
_LOOK: Final = timedelta(seconds=20)
_BEGIN: Final = datetime(2026, 11, 30, 8, 0, tzinfo=UTC)
_END: Final = _BEGIN + timedelta(minutes=MINUTES)
_RIGHT, _WRONG = Verdict(1.0, ""), Verdict(0.0, "")

EXERCISES: Final = tuple(
    Asked(f"e{number}", number, f"Exercise {number}", marks)
    for number, marks in enumerate(_MARKS, 1)
)


@dataclass(frozen=True)
class Span:
    """From when until when something is so."""

    begin: datetime
    end: datetime

    def meets(self, other: Span) -> bool:
        """Whether both are so at one moment."""
        return self.begin < other.end and other.begin < self.end


@dataclass
class Person:
    """What somebody does, when they are stuck, and when the board says so."""

    entries: list[Happened]
    planted: list[Span] = field(default_factory=list)
    by_chance: list[Span] = field(default_factory=list)
    alarms: list[Span] = field(default_factory=list)


@dataclass
class Outcome:
    """What became of a class: cases planted, those found in time, and what was told of others."""

    planted: int = 0
    found: int = 0
    by_chance: int = 0
    false: int = 0

    def adds(self, person: Person) -> None:
        """Count one person in; what becomes true too late to be found is left out."""
        for case in person.planted:
            if case.begin + FOUND_WITHIN > _END:
                continue
            soon = Span(case.begin, case.begin + FOUND_WITHIN)
            self.planted += 1
            self.found += any(alarm.meets(soon) for alarm in person.alarms)
        for alarm in person.alarms:
            if any(alarm.meets(case) for case in person.planted):
                continue
            chance = any(alarm.meets(case) for case in person.by_chance)
            self.by_chance += chance
            self.false += not chance


class SimulatedClass:
    """One class and its lesson."""

    def __init__(self, seed: str) -> None:
        self._chance = random.Random(seed)
        share = 60 * MINUTES / sum(_MARKS)
        self._medians = {each.id: share * each.marks * self._about(0.25) for each in EXERCISES}
        planted = self._chance.sample(range(len(_PACES)), _PLANTED)
        self.people = [
            self._at_work(pace * self._about(0.15), number in planted)
            for number, pace in enumerate(_PACES)
        ]

    def _about(self, sigma: float) -> float:
        return self._chance.lognormvariate(0, sigma)

    def _at_work(self, pace: float, planted: bool) -> Person:
        person, now = Person([Happened(_BEGIN)]), _BEGIN
        stops_at = self._chance.choice(EXERCISES[:8]).id if planted else ""
        in_silence = self._chance.random() < 0.5
        for exercise in EXERCISES:
            seconds = self._medians[exercise.id] * pace * self._about(0.3)
            stops = exercise.id == stops_at
            if stops and in_silence:
                now = self._in_silence(person, exercise, now)
            now = self._answered(person, exercise, now, seconds, stops=stops and not in_silence)
        return person

    def _limit(self, exercise: Asked) -> timedelta:
        """How long a silence is one, by the definition and the true median."""
        return max(_LEAST, _TIMES_AS_LONG * timedelta(seconds=self._medians[exercise.id]))

    def _in_silence(self, person: Person, exercise: Asked, now: datetime) -> datetime:
        true = now + self._limit(exercise)
        end = true + _HELD_UP
        person.planted.append(Span(true, end))
        # Somebody comes; what they do then is an entry.
        person.entries.append(Happened(end, exercise.id))
        return end

    def _answered(
        self, person: Person, exercise: Asked, now: datetime, seconds: float, *, stops: bool
    ) -> datetime:
        wrong = _WRONG_ANSWERS if stops else self._wrong_tries()
        what = ["bench"] * self._chance.randint(0, 1)
        for number in range(wrong + 1):
            what += ["hint"] * (number > 0 and number % 2 == 0) + ["answer"]
        cuts = [self._about(0.3) for _ in what]
        given = 0
        for one, cut in zip(what, cuts, strict=True):
            gap = timedelta(seconds=seconds * cut / sum(cuts))
            if gap > self._limit(exercise):
                person.by_chance.append(Span(now + self._limit(exercise), now + gap))
            now += gap
            given += one == "answer"
            verdict = _RIGHT if given > wrong else _WRONG
            answer = (f"{given} m", verdict) if one == "answer" else ()
            person.entries.append(Happened(now, exercise.id, *answer))
            if one == "answer" and given == _WRONG_ANSWERS <= wrong:
                (person.planted if stops else person.by_chance).append(Span(now, now + _HELD_UP))
                now += _HELD_UP
        return now

    def _wrong_tries(self) -> int:
        wrong = 0
        while self._chance.random() < 0.3:
            wrong += 1
        return wrong

    def held(self) -> Outcome:
        """The lesson from beginning to end, looked at every twenty seconds as the board is."""
        for person, told in zip(self.people, zip(*self._looks(), strict=True), strict=True):
            person.alarms = _spans(told)
        outcome = Outcome()
        for person in self.people:
            outcome.adds(person)
        return outcome

    def _looks(self) -> Iterator[list[bool]]:
        progresses = [Progress(EXERCISES, practice=True) for _ in self.people]
        waiting = [person.entries[::-1] for person in self.people]
        now = _BEGIN
        while now < _END:
            for progress, entries in zip(progresses, waiting, strict=True):
                while entries and entries[-1].at <= now:
                    progress.take(entries.pop())
            takes = times(EXERCISES, MINUTES, progresses, now)
            yield [bool(why_stuck(each, now, _BEGIN, takes)) for each in progresses]
            now += _LOOK


def _spans(told: tuple[bool, ...]) -> list[Span]:
    """From when until when it was told without a break."""
    spans, begin = [], None
    for number, yes in enumerate((*told, False)):
        now = _BEGIN + number * _LOOK
        if yes and begin is None:
            begin = now
        elif not yes and begin is not None:
            spans.append(Span(begin, now))
            begin = None
    return spans
