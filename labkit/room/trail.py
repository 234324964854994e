"""A workbook's journal as the board follows it: what was written, and what checks say of it.

Lines are heard when they are on the disk; checks run later, in whichever thread keeps up, once for
each answer. Nothing is stored: a room that is opened again reads the journal.
"""

from __future__ import annotations

import json
from collections import deque
from collections.abc import Iterable, Mapping
from typing import Any, Final

from labkit.classroom.verdicts import verdict_on
from labkit.exchange.clock import read_moment
from labkit.exchange.journal import ANSWER, DRILL, HANDED_IN, OF_EXERCISES
from labkit.lab.draw import Scenario
from labkit.room.progress import Asked, Happened, Progress

_AT_AN_EXERCISE: Final = (*OF_EXERCISES, DRILL)


class Trail:
    """What happened in one workbook, as its journal tells; `progress` is what that comes to."""

    def __init__(
        self, scenario: Scenario, entries: Iterable[Mapping[str, Any]], *, practice: bool
    ) -> None:
        self.scenario = scenario
        self._exercises = {each.id: each for each in scenario.lab.exercises}
        asked = [
            Asked(each.id, number, each.title.render(scenario.names), each.marks)
            for number, each in enumerate(scenario.lab.exercises, 1)
        ]
        self.minutes = scenario.lab.minutes
        self.progress = Progress(asked, practice=practice)
        self._waiting: deque[Mapping[str, Any]] = deque(entries)
        self._tokens: set[str] = set()

    def hears(self, line: bytes) -> None:
        """A line that is in the journal by now. It may come from any thread."""
        self._waiting.append(json.loads(line))

    def keep_up(self) -> None:
        """Take in what was heard since, and run its checks. Only one thread at a time may."""
        while self._waiting:
            entry = self._waiting.popleft()
            if not self._is_known(entry) and (happened := self._happened(entry)):
                self.progress.take(happened)

    def _is_known(self, entry: Mapping[str, Any]) -> bool:
        """A message that stands there twice, as a disk that failed may leave it, was done once."""
        token = entry.get("token")
        if not isinstance(token, str) or entry.get("event") not in OF_EXERCISES:
            return False
        key = f"{entry.get('exercise')}/{token}"
        known = key in self._tokens
        self._tokens.add(key)
        return known

    def _happened(self, entry: Mapping[str, Any]) -> Happened | None:
        at, event = read_moment(entry.get("at")), entry["event"]
        if at is None:
            return None
        exercise = str(entry.get("exercise", "")) if event in _AT_AN_EXERCISE else ""
        asked = self._exercises.get(exercise)
        if event == ANSWER and asked and "answer" in entry:
            answer = entry["answer"]
            verdict = verdict_on(self.scenario, asked, answer)
            return Happened(at, exercise, _as_text(answer), verdict)
        return Happened(at, exercise, handed_in=event == HANDED_IN)


def _as_text(answer: Any) -> str:
    """What tells different answers apart: spaces and capitals do not."""
    return "".join(json.dumps(answer, sort_keys=True).casefold().split())
