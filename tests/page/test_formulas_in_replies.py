"""Whatever a desk sends as HTML has its formulas set and its trade words marked, in all labs."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from desks import LABS, desk_of, reply, said, scenario

from labkit.doors.installed import check_for
from labkit.lab.definition import Exercise
from labkit.lab.draw import Scenario
from labkit.page.prose import as_read

HTML = re.compile(r"\s*<(?:p|ul|ol|table|blockquote|h\d|pre|math|span)\b")
SET = re.compile(r"<math>.*?</math>|<span role=\"button\"[^>]*>|</span>")
ENOUGH = {"plan-the-trunk": "N<", "network-power": "4.57"}
"""Formulas that only hints and verdicts have: they must have been come by."""


def texts(value: Any) -> Iterator[str]:
    if isinstance(value, dict):
        value = list(value.values())
    if isinstance(value, list):
        for each in value:
            yield from texts(each)
    elif isinstance(value, str) and HTML.match(value):
        yield value


def answers_of(drawn: Scenario, exercise: Exercise) -> list[Any]:
    """All known mistakes, what cannot be read, and a right answer in the end."""
    prepared, check = drawn.prepare(exercise), check_for(exercise.kind)
    wrong = check.slip_answers(prepared.ask, prepared.key).values()
    return [*wrong, "no number", {}, check.right_answer(prepared.ask, prepared.key)]


@pytest.mark.parametrize("name", sorted(LABS))
def test_no_formula_is_left_as_it_was_typed(name: str, tmp_path: Path) -> None:
    drawn = scenario(name)
    desk = desk_of(drawn, tmp_path)
    sent: list[Any] = []
    for exercise in drawn.lab.exercises:
        sent.append(desk.shown(exercise.id))
        for number, _ in enumerate(exercise.hints):
            sent.append(desk.hear(said(exercise.id, "hint", f"h{number} {exercise.id}")))
        for number, answer in enumerate(answers_of(drawn, exercise)):
            token = f"a{number} {exercise.id}"
            sent.append(desk.hear(said(exercise.id, "answer", token, answer=answer)))
    sent.append(desk.opened())
    found = list(texts(sent))
    assert len(found) > 3 * len(drawn.lab.exercises)
    for text in found:
        assert as_read(SET.sub("", text)).count("<math>") == 0, text
    assert ENOUGH.get(name, "") in " ".join(texts([each for each in sent if "saved" in each]))


def test_a_drill_is_told_as_the_exercise_is(tmp_path: Path) -> None:
    drawn = scenario("plan-the-trunk")
    desk = desk_of(drawn, tmp_path)
    told = []
    for exercise in drawn.lab.exercises:
        drill = reply(desk, said(exercise.id, "drill", f"d {exercise.id}")).get("drawn")
        if not drill:
            continue
        told.append(drill["shown"]["question"])
        answer = {"do": "answer", "token": f"w {exercise.id}", "answer": "1 m"}
        more = said(exercise.id, "drill", "", of=drill["id"], message=answer)
        told.append(reply(desk, more)["drilled"]["saved"]["verdict"]["html"])
    assert any("data-word" in text for text in told[::2])
    assert any("data-word" in text for text in told[1::2])
    for text in told:
        assert as_read(SET.sub("", text)).count("<math>") == 0
