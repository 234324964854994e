"""What a class measured in an exercise, carried over to a draw that nobody was dealt."""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import Any

from labkit.classroom.analysis.ways import Path, Way
from labkit.classroom.result import Journal, Result
from labkit.doors.check import Replays
from labkit.doors.installed import check_for
from labkit.exchange.journal import records
from labkit.lab.definition import Exercise
from labkit.lab.draw import Scenario


def can_be_replayed(exercise: Exercise) -> bool:
    """Whether an exercise has steps that can be played elsewhere."""
    return isinstance(check_for(exercise.kind), Replays)


def path_on(nobodys: Scenario, exercise: Exercise, result: Result, journal: Journal) -> Path | None:
    """What somebody measured, as it is in a draw of nobody; None for who did nothing at it."""
    record = records(journal).get(exercise.id)
    if record is None:
        return None
    steps: Sequence[Any] = record.steps
    if not steps and isinstance(record.answer, dict):
        # As hand-ins of notebooks had them.
        steps = record.answer.get("steps") or ()
    check = check_for(exercise.kind)
    if not steps or not isinstance(check, Replays):
        return None
    own, other = result.scenario.prepare(exercise), nobodys.prepare(exercise)
    moves = check.carried_over(own.ask, own.key, steps, other.ask)
    found = any(mark.exercise == exercise.id and mark.verdict.right for mark in result.marks)
    return Path(tuple(json.dumps(move, sort_keys=True) for move in moves), found)


def to_replay(nobodys: Scenario, exercise: Exercise, ways: Sequence[Way]) -> dict[str, Any]:
    """What is asked of whoever plays these ways in a draw of nobody."""
    check, prepared = check_for(exercise.kind), nobodys.prepare(exercise)
    assert isinstance(check, Replays)
    moves = [[json.loads(move) for move in way.moves] for way in ways]
    return check.to_replay(prepared.ask, prepared.key, moves)
