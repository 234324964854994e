"""The first answers in workbooks of a class, as its topics count them."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

from labkit.answering.topics import Entries, Tried, first_answers
from labkit.classroom.dealt import Dealt
from labkit.classroom.verdicts import verdict_on
from labkit.lab.definition import Lab
from labkit.lab.draw import Scenario


class FirstAnswers:
    """The first answers in workbooks; each is held against its check once."""

    def __init__(self, scenario: Callable[[Dealt], Scenario]) -> None:
        self._scenario = scenario
        self._known: dict[tuple[str, str, str], bool | None] = {}

    def of(self, item: Dealt, lab: Lab, entries: Entries) -> list[Tried]:
        """The first answer to each draw in one workbook, as a journal of it has them."""
        drawn: list[Scenario] = []
        exercises = {each.id: each for each in lab.exercises}

        def verdict(exercise: str, answer: Any) -> bool | None:
            key = item.workbook, exercise, json.dumps(answer, sort_keys=True)
            if key not in self._known:
                if not drawn:
                    drawn.append(self._scenario(item))
                told = verdict_on(drawn[0], exercises[exercise], answer)
                counts = told.readable and not told.awaits
                self._known[key] = told.right if counts else None
            return self._known[key]

        topics = {name: each.topic for name, each in exercises.items()}
        return first_answers(entries, item.workbook, topics, verdict)
