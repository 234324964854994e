"""A drill that is being answered: an `Answering` of its own, its answers and steps kept apart.

And which drills there are, where they were dealt with a workbook.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from labkit.answering.answering import Answering, Keeps, has_drills
from labkit.doors.installed import check_for
from labkit.doors.other_numbers import gives_away, same_numbers
from labkit.doors.page import Play
from labkit.exchange.drill_file import FileDraw, FileDrill
from labkit.exchange.journal import ANSWER, DRILL, ExerciseRecord, line_of
from labkit.exchange.task_file import TaskExercise


class Drilling:
    """One drill, and what stands for its journal: each answer is an entry of its own sort.

    No verdict, mark, count or time of the workbook reads it. `draw` tells it from other draws.
    """

    def __init__(
        self,
        exercise: TaskExercise,
        draw: str,
        journal: Keeps,
        *,
        play: Play | None = None,
        topic: Callable[[], str] = str,
        when_saved: Callable[[], None] = lambda: None,
    ) -> None:
        self.draw, self._journal = draw, journal
        self.answering = Answering(
            exercise,
            journal=self,
            record=ExerciseRecord(),
            when_saved=lambda *_: when_saved(),
            play=play,
            topic=topic,
        )

    def goes_on_in(self, journal: Keeps) -> None:
        """Its answers go into this journal from now on."""
        self._journal = journal

    def append(self, event: str, **details: Any) -> dict[str, Any]:
        """Keep an answer or a step. Raises `OSError`, or `ValueError`."""
        told = {"draw": self.draw, **details}
        # What is not fit to be kept is not fit to be checked.
        line_of(told)
        if event == ANSWER and (verdict := self.answering.verdict(details["answer"])):
            told["credit"] = verdict.credit
            if not verdict.readable:
                told["readable"] = False
        return self._journal.append(DRILL, **told)


def in_other_numbers(
    own: TaskExercise, draws: Sequence[FileDraw]
) -> list[tuple[FileDraw, FileDrill]]:
    """The drills of a practice exercise in other numbers than its own.

    Last those whose answer is right there too: what is told of a drill must not be what the trainee
    is still to find. Raises `NotInstalledError`.
    """
    if not has_drills(own["kind"]):
        return []
    check = check_for(own["kind"])
    found = [
        (draw, drill)
        for draw in draws
        for drill in draw["drills"]
        if _is_of(drill["exercise"], own) and not same_numbers(drill["exercise"], own)
    ]
    return sorted(found, key=lambda each: gives_away(check, each[1]["exercise"], own))


def _is_of(drilled: TaskExercise, own: TaskExercise) -> bool:
    return (drilled["id"], drilled["kind"]) == (own["id"], own["kind"])
