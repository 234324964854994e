"""How far somebody is in a workbook, by what its journal holds: pure, an entry at a time."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Final

from labkit.doors.verdict import Verdict

_NOTHING_SAID: Final = Verdict(0.0, "", readable=False)


@dataclass(frozen=True, slots=True)
class Asked:
    """An exercise of a workbook, as the board names it."""

    id: str
    number: int
    title: str
    marks: float


@dataclass(frozen=True, slots=True)
class Happened:
    """An entry of a journal.

    `exercise` is "" for one that is of no exercise. An answer has its `answer`, as text, and what
    the check says of it; a hint, a step at a bench and a drill have neither.
    """

    at: datetime
    exercise: str = ""
    answer: str | None = None
    verdict: Verdict | None = None
    handed_in: bool = False


@dataclass(slots=True)
class AtExercise:
    """What somebody did at one exercise."""

    tries: int = 0
    seconds: float = 0.0
    """That went by before each of its entries."""
    wrong: set[str] = field(default_factory=set)
    """Different wrong answers since the last right one."""
    wrong_last: int = 0
    """The number of the entry that was the last of them."""
    verdict: Verdict | None = None
    """On the last answer."""

    @property
    def answered(self) -> bool:
        """Whether there is an answer."""
        return self.tries > 0

    @property
    def right(self) -> bool:
        """Whether the last answer is right."""
        return self.verdict is not None and self.verdict.right


class Progress:
    """Where somebody is in a workbook. `practice` says whether they are told what is right."""

    def __init__(self, exercises: Sequence[Asked], *, practice: bool) -> None:
        self.exercises, self._practice = exercises, practice
        self.last: datetime | None = None
        """When the last entry was made."""
        self.at: Asked | None = None
        """The exercise in which something happened last."""
        self.handed_in = False
        """Whether it was handed in, and nothing happened since."""
        self.last_right = 0
        """The number of the entry that was the last right answer, whichever exercise it is of."""
        self._entries = 0
        self._done = {each.id: AtExercise() for each in exercises}
        self._named = {each.id: each for each in exercises}

    def take(self, entry: Happened) -> None:
        """Take the next entry in."""
        self._entries += 1
        since, self.last = self.last or entry.at, max(entry.at, self.last or entry.at)
        if entry.handed_in:
            self.handed_in = True
        if entry.exercise not in self._named:
            return
        self.handed_in = False
        self.at, here = self._named[entry.exercise], self._done[entry.exercise]
        here.seconds += max(0.0, (entry.at - since).total_seconds())
        if entry.answer is not None:
            self._answered(here, entry.answer, entry.verdict or _NOTHING_SAID)

    def _answered(self, here: AtExercise, answer: str, verdict: Verdict) -> None:
        here.tries += 1
        here.verdict = verdict
        if verdict.right:
            here.wrong.clear()
            self.last_right = self._entries
        elif verdict.readable and not verdict.awaits:
            here.wrong.add(answer)
            here.wrong_last = self._entries

    def of(self, exercise: Asked) -> AtExercise:
        """What was done at an exercise."""
        return self._done[exercise.id]

    def is_through(self, exercise: Asked) -> bool:
        """Whether they have left an exercise behind: it is right, or answered and they went on.

        In an assessed lab nobody is told: an answer that can be read is meant to do.
        """
        here = self.of(exercise)
        if here.verdict is None:
            return False
        if here.right or here.verdict.awaits or self.at is not exercise:
            return True
        return here.verdict.readable and not self._practice

    @property
    def faces(self) -> Asked | None:
        """The exercise that they must be at by now; None once there is no open one."""
        if self.at and not self.is_through(self.at):
            return self.at
        after = self.at.number if self.at else 0
        behind = sorted(self.exercises, key=lambda each: (each.number <= after, each.number))
        return next((each for each in behind if not self.is_through(each)), None)

    @property
    def answered(self) -> int:
        """How many exercises have an answer."""
        return sum(here.answered for here in self._done.values())

    @property
    def share_right(self) -> float | None:
        """The share that is right of what was answered and can be checked; None where nothing can.

        In practice exercises count, in an assessed lab their marks.
        """
        checked = [
            (each.marks, here.verdict)
            for each in self.exercises
            if (here := self.of(each)).verdict and not here.verdict.awaits
        ]
        if not checked:
            return None
        if self._practice:
            return sum(verdict.right for _, verdict in checked) / len(checked)
        possible = sum(marks for marks, _ in checked)
        earned = sum(marks * verdict.credit for marks, verdict in checked)
        return earned / possible if possible else None
