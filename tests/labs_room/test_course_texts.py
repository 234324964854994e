"""Every lab that we ship, over some draws: its sentences are whole, and keys stay hidden."""

from __future__ import annotations

from typing import Any

import orjson
import pytest
from course_draws import NAMES, lab, scenarios

from labkit.lab.definition import Exercise
from labkit.lab.kinds import check_for
from labkit.language.expression import Prose

DRAWS = 50
KEYS = 15
SECRET = {"key", "faults", "slips", "tells", "tell", "rubric", "model", "right", "tolerance"}
SECRET |= {"nominal", "low", "high", "example"}


@pytest.mark.parametrize("name", NAMES)
def test_every_sentence_of_every_draw_can_be_written(name: str) -> None:
    for drawn in scenarios(name, DRAWS):
        for part in lab(name).body:
            texts = [part] if isinstance(part, Prose) else []
            if isinstance(part, Exercise):
                texts = [part.title, part.question, part.working]
                texts += [hint.text for hint in part.hints]
                assert part.marks >= sum(hint.costs for hint in part.hints)
            for text in texts:
                words = text.render(drawn.names)
                assert words.strip()
                assert "{{" not in words
                assert " None" not in words


@pytest.mark.parametrize("name", NAMES)
def test_what_a_slip_tells_is_a_sentence(name: str) -> None:
    for drawn in scenarios(name, KEYS):
        for exercise in lab(name).exercises:
            prepared, check = drawn.prepare(exercise), check_for(exercise.kind)
            for slip, answer in check.slip_answers(prepared.ask, prepared.key).items():
                told = check.check(prepared.ask, prepared.key, answer)
                assert told.readable, (exercise.id, slip)
                assert len(told.message) > 15, (exercise.id, slip)


@pytest.mark.parametrize("name", NAMES)
def test_what_the_trainee_sees_holds_nothing_of_the_key(name: str) -> None:
    for drawn in scenarios(name, KEYS):
        for exercise in lab(name).exercises:
            prepared = drawn.prepare(exercise)
            assert not SECRET & _fields(prepared.ask), exercise.id
            seen = orjson.dumps(prepared.ask).decode()
            for secret in _sentences(prepared.key):
                assert secret not in seen, (exercise.id, secret)
            for fault in prepared.key.get("faults", []):
                assert orjson.dumps(fault).decode() not in seen, exercise.id


def _fields(data: Any) -> set[str]:
    if isinstance(data, dict):
        return {*data} | {name for value in data.values() for name in _fields(value)}
    if isinstance(data, list):
        return {name for value in data for name in _fields(value)}
    return set()


def _sentences(key: Any) -> list[str]:
    """What a key says in sentences: explanations, model answers; a sign-off's items are for all."""
    if isinstance(key, dict):
        hidden = {name: value for name, value in key.items() if name not in ("rubric", "steps")}
        return [text for value in hidden.values() for text in _sentences(value)]
    if isinstance(key, list):
        return [text for value in key for text in _sentences(value)]
    return [key] if isinstance(key, str) and len(key) > 40 and key.endswith(".") else []
