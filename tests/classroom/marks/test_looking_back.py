"""What steps at the virtual bench told is said when it is asked for, and never delays a mark."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from tiny_class import MakeRoom, Room

from labkit.bench.codec import to_json
from labkit.bench.measurements import Ohms
from labkit.bench.situation import Terminal
from labkit.classroom.dealing.seeds import scenario_of
from labkit.classroom.marks.explaining import explain
from labkit.classroom.marks.looking_back import look_back, look_back_at_class
from labkit.classroom.marks.scoring import score
from labkit.classroom.pages.reports import page_name, write_pages
from labkit.doors.installed import check_for
from labkit.exchange.hand_in import pack
from labkit.exchange.journal import ANSWER, Journal
from labkit.kinds.diagnosis.look_back import looked_back
from labkit.lab.draw import Scenario

LAB = """\
---
id: tiny
version: 1.0.0
title: Two devices
draw:
  gap: {from: 5, to: 9}
network:
  family: devicenet
  rate: 125
  trunk:
    - {cable: thick, length: gap + 10}
  taps: {at: '[5, gap + 5]', drop: '[1, 1]', device: '["panel", "valves"]', current: '[0.2, 0.2]'}
  supply: {at: gap, rating: 8}
---

```exercise quiet
kind: diagnosis
title: The line is quiet
question: Find the fault.
scanner: panel
marks: 2
cases:
  - - {kind: terminator missing, end: right end}
power: no
working: Measure from CAN_H to CAN_L.
```
"""
OHMS = Ohms(Terminal("valves", 4), Terminal("valves", 2))
IN_WORDS = "resistance from valves, 4 CAN_H to valves, 2 CAN_L"


@pytest.fixture
def handed(make_room: MakeRoom) -> Room:
    """Ann has measured once and repaired; Ben has made no step; Cy has written nonsense."""
    made = make_room()
    (made.library / "tiny" / "lab.md").write_text(LAB)
    made.deal()
    right = answer_of(made, "ann")
    steps = [to_json(OHMS), *right["steps"]]
    hand_in(made, "ann", {**right, "steps": steps})
    hand_in(made, "ben", {**right, "steps": []})
    hand_in(made, "cy", {"verdict": 7, "steps": "all"})
    return made


def scenario(room: Room, trainee: str) -> Scenario:
    folder, item = room.folder, room.dealt.dealt.find(trainee, "tiny")
    assert item is not None
    return scenario_of(folder.secret(), folder.fields.id, folder.lab("tiny"), item)


def answer_of(room: Room, trainee: str) -> dict[str, Any]:
    drawn = scenario(room, trainee)
    prepared = drawn.prepare(drawn.lab.exercises[0])
    answer: dict[str, Any] = check_for("diagnosis").right_answer(prepared.ask, prepared.key)
    return answer


def hand_in(room: Room, trainee: str, answer: Any) -> None:
    Journal(room.home(trainee) / "tiny.answers.jsonl").append(
        ANSWER, exercise="quiet", answer=answer
    )
    (room.path / "hand-ins").mkdir(exist_ok=True)
    pack(room.home(trainee) / "tiny.task.json", room.path / "hand-ins")


def page_of(room: Room, trainee: str) -> str:
    return Path(room.folder.scores / f"tiny--{trainee}.html").read_text(encoding="utf-8")


@pytest.mark.parametrize("jobs", [1, 2])
def test_a_trainees_page_says_what_each_step_told_when_time_is_given(
    handed: Room, jobs: int
) -> None:
    folder = handed.folder
    scoring = score(folder)
    told, left = look_back_at_class(folder, scoring, 5, jobs=jobs)
    assert left == 0
    write_pages(folder, scoring, told=told)
    text = page_of(handed, "ann")
    assert "What each step told" in text
    assert IN_WORDS in text
    assert "120" in text, "one terminator is missing: the other one is read"
    assert "A good path from the start" in text
    for other in ("ben", "cy"):
        assert "What each step told" not in page_of(handed, other)


def test_scoring_and_its_pages_do_not_look_back_unasked(
    handed: Room, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("labkit.kinds.diagnosis.check.looked_back", lambda *_: 1 / 0)
    scoring = score(handed.folder)
    write_pages(handed.folder, scoring)
    assert "What each step told" not in page_of(handed, "ann")
    assert [result.earned for result in scoring.results] == [2, 1.6, 0]
    assert page_name(scoring.results[0]) == "tiny--ann.html"
    shown = "\n".join(explain(handed.folder, "ann"))
    assert "What each step at the bench told: name 'tiny/quiet' alone." in shown


def test_no_look_back_is_begun_when_the_time_is_over(handed: Room) -> None:
    steps = []
    found = look_back_at_class(
        handed.folder, score(handed.folder), 0, lambda done, _: steps.append(done)
    )
    # Two answers and what is not readable as one: each is counted as left.
    assert (sum(map(len, found[0].values())), found[1], steps) == (0, 3, [1, 2, 3])


def test_one_exercise_is_explained_step_by_step(handed: Room) -> None:
    score(handed.folder)
    shown = "\n".join(explain(handed.folder, "ann", "tiny/quiet"))
    assert f"     1. {IN_WORDS}" in shown
    assert "A good path from the start" in shown


def test_steps_that_are_of_no_bench_end_the_path(handed: Room) -> None:
    drawn = scenario(handed, "ann")
    right = answer_of(handed, "ann")
    for steps in ([{"kind": "dance"}], [], "all", [None]):
        assert look_back(drawn, "quiet", {**right, "steps": steps}) == []
    for step in ({"kind": "ohms", "a": "valves"}, {"kind": "unplug", "connector": "moon"}, 7):
        lines = look_back(drawn, "quiet", {**right, "steps": [to_json(OHMS), step]})
        assert lines[1].startswith(f"1. {IN_WORDS}")
        assert not lines[2].startswith("2. ") or lines[2].endswith("left.")
    nothing: Any = {}
    assert looked_back(nothing, nothing, None) == []
