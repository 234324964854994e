"""After an answer in practice a page reads how its topic stands; an assessed one reads nothing."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any

import pytest
from desks import desk_of, entries, lab, reply, said, scenario
from set_clock import SetClock

from labkit.doors.installed import check_for
from labkit.exchange.formats import NewerVersionError
from labkit.exchange.journal import Journal
from labkit.lab.draw import Scenario, draw
from labkit.page.desk import Desk

sys.path.append(str(Path(__file__).parents[1] / "exchange"))
from exchange_schemas import wrong_in

LAB = "plan-the-trunk"
FIRST, SECOND = "longest-distance", "all-drops"
"""Both are about cable lengths."""


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    return desk_of(scenario(LAB), tmp_path)


def right_in(drawn: Scenario, exercise: str) -> Any:
    [defined] = [each for each in drawn.lab.exercises if each.id == exercise]
    made = drawn.prepare(defined)
    return check_for(defined.kind).right_answer(made.ask, made.key)


def line(desk: Desk, exercise: str, token: str, answer: Any) -> Any:
    heard = desk.hear(said(exercise, "answer", token, answer=answer))
    assert heard
    verdict = heard["saved"]["verdict"]
    return verdict and verdict.get("topic")


def drill_line(desk: Desk, exercise: str, token: str, *, right: bool = True) -> str:
    drawn = reply(desk, said(exercise, "drill", token))["drawn"]
    answer = right_in(draw(lab(LAB), drawn["id"]), exercise) if right else "1 m"
    message = {"do": "answer", "token": f"{token} a", "answer": answer}
    heard = reply(desk, said(exercise, "drill", "-", of=drawn["id"], message=message))
    return str(heard["drilled"]["saved"]["verdict"]["topic"])


def test_exercises_of_a_topic_and_drills_are_counted_together(desk: Desk, clock: SetClock) -> None:
    clock.set("2031-05-05T10:00:00Z")
    words = "Cable lengths: {} of 3 right at once, in a row."
    assert line(desk, FIRST, "1", right_in(scenario(LAB), FIRST)) == words.format(1)
    assert line(desk, SECOND, "2", right_in(scenario(LAB), SECOND)) == words.format(2)
    assert drill_line(desk, FIRST, "3", right=False) == words.format(0)
    for number in (1, 2):
        assert drill_line(desk, FIRST, f"4 {number}") == words.format(number)
    another = "Cable lengths: 3 right at once, in a row. One more on another day, and it sits."
    assert drill_line(desk, SECOND, "5") == another
    clock.set("2031-05-07T10:00:00Z")
    assert drill_line(desk, FIRST, "6") == "Cable lengths: sits."


def test_a_second_answer_to_the_same_numbers_changes_nothing(desk: Desk) -> None:
    assert line(desk, FIRST, "1", "1 m") == "Cable lengths: 0 of 3 right at once, in a row."
    right = right_in(scenario(LAB), FIRST)
    assert line(desk, FIRST, "2", right) == "Cable lengths: 0 of 3 right at once, in a row."


def test_before_anything_counts_there_is_no_line(desk: Desk) -> None:
    assert line(desk, FIRST, "1", "long") is None


def test_the_line_is_of_this_answer_and_not_there_when_it_is_opened_again(
    desk: Desk, tmp_path: Path
) -> None:
    assert line(desk, FIRST, "1", "1 m")
    again = desk_of(scenario(LAB), tmp_path)
    verdict = again.opened()["exercises"][FIRST]["saved"]["verdict"]
    assert verdict
    assert "topic" not in verdict


def test_an_assessed_workbook_says_nothing_of_topics(tmp_path: Path) -> None:
    desk = desk_of(scenario(LAB), tmp_path, practice=False)
    assert line(desk, FIRST, "1", right_in(scenario(LAB), FIRST)) is None
    assert "able lengths:" not in json.dumps(desk.opened())
    assert '"topic"' not in json.dumps(desk.opened())


def test_an_answer_is_saved_though_the_journal_cannot_be_read_back(
    desk: Desk, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for error in (OSError("gone"), NewerVersionError("newer")):

        def fails(_: Journal, error: Exception = error) -> None:
            raise error

        with monkeypatch.context() as patch:
            patch.setattr(Journal, "read", fails)
            assert line(desk, FIRST, str(error), "1 m") is None
    assert [entry["event"] for entry in entries(tmp_path)].count("answer") == 2


def test_a_drill_whose_answer_cannot_be_read_is_no_try(desk: Desk, tmp_path: Path) -> None:
    right_line = "Cable lengths: {} of 3 right at once, in a row."
    assert line(desk, FIRST, "1", right_in(scenario(LAB), FIRST)) == right_line.format(1)
    drawn = reply(desk, said(FIRST, "drill", "2"))["drawn"]
    lines = []
    for number, answer in enumerate(["long", right_in(draw(lab(LAB), drawn["id"]), FIRST)]):
        message = {"do": "answer", "token": f"3 {number}", "answer": answer}
        heard = reply(desk, said(FIRST, "drill", "-", of=drawn["id"], message=message))
        lines.append(heard["drilled"]["saved"]["verdict"]["topic"])
    assert lines == [right_line.format(1), right_line.format(2)]
    kept = [entry for entry in entries(tmp_path) if entry["event"] == "drill"]
    assert [entry.get("readable") for entry in kept] == [False, None]
    assert [wrong_in("journal-entry", entry) for entry in kept] == [[], []]
