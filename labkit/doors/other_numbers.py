"""An exercise in other numbers than a trainee's own: is it another one, and what does it tell."""

from __future__ import annotations

import json
from typing import Any

from labkit.doors.check import Check
from labkit.exchange.task_file import TaskExercise


def same_numbers(drawn: TaskExercise, own: TaskExercise) -> bool:
    """Whether two draws of a practice exercise are one and the same to who answers them."""
    # Numbers may stand in the text before it or in the picture alone: the working has them too.
    one, two = (
        (each["question"], each["practice"]["working"], _leaves(each["ask"]))
        for each in (drawn, own)
    )
    return one == two


def _leaves(value: Any) -> list[str]:
    """What a JSON value holds, in order: options that are only shuffled hold the same."""
    if isinstance(value, dict | list | tuple):
        within = value.values() if isinstance(value, dict) else value
        return sorted(leaf for each in within for leaf in _leaves(each))
    return [json.dumps(value)]


def gives_away(check: Check, drawn: TaskExercise, own: TaskExercise) -> bool:
    """Whether the right answer of one draw is right in one's own too, where it is still sought."""
    right = check.right_answer(drawn["ask"], drawn["practice"]["key"])
    return check.check(own["ask"], own["practice"]["key"], right).right
