"""How somebody stands in the topics of their workbook, for a host that knows no other of theirs."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from contextlib import suppress
from datetime import tzinfo
from typing import Any

from labkit.answering.topics import Entries, Tried, first_answers, in_words, standings
from labkit.doors.installed import check_for
from labkit.errors import LabkitError
from labkit.exchange.task_file import Task


class OwnTopics:
    """The topics of one practice workbook; `read` gives what its journal holds by now.

    Days are this computer's, unless there is a `zone`. An assessed workbook has none to tell of.
    """

    def __init__(self, task: Task, read: Callable[[], Entries], zone: tzinfo | None = None) -> None:
        self._read, self._zone, self._number = read, zone, task["workbook"]
        self._exercises = {each["id"]: each for each in task["exercises"] if "practice" in each}
        self._topics = {
            name: each["practice"].get("topic", "") for name, each in self._exercises.items()
        }
        self._known: dict[tuple[str, str], bool | None] = {}

    def line(self, exercise: str) -> str:
        """How they stand in the topic of an exercise; "" where it has none.

        Never an error: what was answered is saved, whatever becomes of this line.
        """
        topic = self._topics.get(exercise, "")
        if not topic:
            return ""
        # A trainee waits for it: what is about other things is not held against its check.
        about = {name: each for name, each in self._topics.items() if each == topic}
        with suppress(LabkitError, OSError):
            now = standings(self._tried(about), self._zone).get(topic)
            return in_words(topic, now) if now else ""
        return ""

    def tried(self) -> list[Tried]:
        """The first answers in this workbook and in its drills. Raises `OSError`, or a
        `LabkitError`."""
        return self._tried(self._topics)

    def _tried(self, topics: Mapping[str, str]) -> list[Tried]:
        return first_answers(self._read(), self._number, topics, self._verdict_on)

    def _verdict_on(self, exercise: str, answer: Any) -> bool | None:
        key = exercise, json.dumps(answer, sort_keys=True)
        if key not in self._known:
            own = self._exercises[exercise]
            told = check_for(own["kind"]).check(own["ask"], own["practice"]["key"], answer)
            self._known[key] = told.right if told.readable and not told.awaits else None
        return self._known[key]
