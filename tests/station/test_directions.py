"""In practice "too large" or "too small" is told twice an exercise; then there is an example."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest
from at_a_desk import Desk, send, task_file

from labkit.answering.directions import NO_MORE, Directions
from labkit.doors.installed import check_for
from labkit.doors.verdict import Verdict
from labkit.lab.draw import Scenario, draw
from labkit.lab.reading import read_lab
from labkit.station.widgets.exercise import ExerciseWidget

LABS = Path(__file__).parents[2] / "labs"
SIDE = re.compile(r"too (large|small)|\b(below|above)\b|to the (left|right)|(left|right) of the")
ANSWERS = ["11111 m", "22222 m", "33333 m"]


def scenario(lab: str = "plan-the-trunk") -> Scenario:
    return draw(read_lab(LABS / lab / "lab.md"), "sides")


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    return Desk(task_file(scenario(), tmp_path))


class Answering:
    """Gives answers to one exercise, and reads what is said of them."""

    def __init__(self, desk: Desk, name: str) -> None:
        self.desk, self.name, self.number = desk, name, 0

    @property
    def widget(self) -> ExerciseWidget:
        return self.desk.exercise(self.name)

    def __call__(self, answer: Any) -> str:
        self.number += 1
        widget = self.widget
        send(widget, do="answer", token=f"{self.name}-{self.number}", answer=answer)
        return str(widget.saved["verdict"]["html"])


def test_the_direction_is_told_for_two_answers(desk: Desk) -> None:
    give = Answering(desk, "all-drops")
    assert "too large" in give(ANSWERS[0])
    assert give.widget.saved["example"] is None
    assert "too large" in give(ANSWERS[1])
    third = give(ANSWERS[2])
    assert not SIDE.search(third)
    assert NO_MORE in third
    assert "Go through the steps once more." in third
    assert give.widget.saved["example"]


def test_what_was_told_is_told_again_and_uses_up_none(desk: Desk) -> None:
    give = Answering(desk, "all-drops")
    for answer in ("11111 m", "11111 m", "11111,0 m", " 11.111 km"):
        assert "too large" in give(answer)
    assert "too small" in give("0 m")
    assert not SIDE.search(give("22222 m"))
    assert "too large" in give("11111 m")
    assert "too small" in give("0 m")


def test_an_answer_that_cannot_be_read_and_a_slip_use_up_none(desk: Desk) -> None:
    exercise = next(e for e in desk.workbook.task["exercises"] if e["id"] == "all-drops")
    slip = exercise["practice"]["key"]["slips"][0]
    give = Answering(desk, "all-drops")
    for answer in ("12", "long", f"{slip['value']} m", ANSWERS[0], "13", ANSWERS[1]):
        give(answer)
    assert not SIDE.search(give(ANSWERS[2]))
    told = give(f"{slip['value']} m")
    assert NO_MORE not in told
    assert slip["tell"].split()[0] in told


@pytest.mark.parametrize("restarts_after", [1, 2, 3])
def test_it_is_the_same_after_a_restart(desk: Desk, restarts_after: int) -> None:
    give = Answering(desk, "all-drops")
    told = []
    for number, answer in enumerate(ANSWERS, 1):
        told.append(give(answer))
        if number == restarts_after:
            desk.restart()
            assert give.widget.saved["verdict"]["html"] == told[-1]
            assert bool(give.widget.saved["example"]) == (number >= 2)
    assert [bool(SIDE.search(text)) for text in told] == [True, True, False]


def test_each_exercise_has_directions_of_its_own(desk: Desk) -> None:
    first, second = Answering(desk, "all-drops"), Answering(desk, "longest-distance")
    for answer in ANSWERS:
        first(answer)
    assert "too large" in second(ANSWERS[0])


def test_a_right_answer_is_told_as_ever_and_needs_no_example(desk: Desk) -> None:
    give = Answering(desk, "all-drops")
    for answer in ANSWERS:
        give(answer)
    right = desk_answer(scenario(), "all-drops")
    assert "Right" in give(right)
    assert give.widget.saved["example"] is None


def desk_answer(drawn: Scenario, name: str) -> Any:
    exercise = next(e for e in drawn.lab.exercises if e.id == name)
    prepared = drawn.prepare(exercise)
    return check_for(exercise.kind).right_answer(prepared.ask, prepared.key)


def test_an_assessed_workbook_tells_nothing(tmp_path: Path) -> None:
    give = Answering(Desk(task_file(scenario(), tmp_path, practice=False)), "all-drops")
    widget = give.widget
    send(widget, do="answer", token="t", answer="11111 m")
    assert widget.saved["verdict"] is None
    assert widget.saved["example"] is None


def test_the_example_is_of_other_numbers_and_whole(desk: Desk) -> None:
    give = Answering(desk, "all-drops")
    for answer in ANSWERS:
        give(answer)
    example = give.widget.saved["example"]
    assert example["picture"].startswith("<svg")
    own = desk.workbook.task["picture"]
    assert own
    assert example["picture"] != own["svg"]
    assert example["question"]
    assert example["working"]
    shown = re.sub(r"<[^>]+>", "", example["answer"]).strip()
    assert shown != desk_answer(scenario(), "all-drops")
    assert not check(scenario(), "all-drops", shown).right


def check(drawn: Scenario, name: str, answer: Any) -> Verdict:
    exercise = next(e for e in drawn.lab.exercises if e.id == name)
    prepared = drawn.prepare(exercise)
    return check_for(exercise.kind).check(prepared.ask, prepared.key, answer)


def test_a_task_file_of_before_still_opens_and_offers_no_example(tmp_path: Path) -> None:
    file = task_file(scenario(), tmp_path)
    task = json.loads(file.read_bytes())
    del task["example_pictures"]
    for exercise in task["exercises"]:
        del exercise["practice"]["example"]
    file.write_text(json.dumps(task), encoding="utf-8")
    give = Answering(Desk(file), "all-drops")
    told = [give(answer) for answer in ANSWERS]
    assert [bool(SIDE.search(text)) for text in told] == [True, True, False]
    assert give.widget.saved["example"] is None


def test_supply_position_stops_telling_the_side_but_not_the_rule(desk: Desk) -> None:
    give = Answering(desk, "supply")
    told = [give(answer) for answer in ("0 m", "0.5 m", "1 m")]
    assert [bool(SIDE.search(text)) for text in told] == [True, True, False]
    assert "over the limit of" in told[2]


def test_a_table_tells_each_cell_without_its_side(tmp_path: Path) -> None:
    drawn = scenario("network-power")
    desk = Desk(task_file(drawn, tmp_path))
    exercise = next(
        e
        for e in desk.workbook.task["exercises"]
        if e["kind"] == "table" and e["practice"]["example"]
    )
    cells = [c for row in exercise["ask"]["rows"] for c in row if c.get("write") == "number"]
    give = Answering(desk, exercise["id"])
    # One cell after the other: what stood there before tells nothing new.
    told = [give({cells[0]["name"]: text}) for text in ("91111", "92222")]
    told.append(give({cells[0]["name"]: "92222", cells[1]["name"]: "93333"}))
    told.append(give({cells[0]["name"]: "91111"}))
    assert [bool(SIDE.search(text)) for text in told] == [True, True, False, True]
    example = give.widget.saved["example"]["answer"]
    assert example.count("<tr>") == len(exercise["ask"]["rows"]) + 1
    assert "<strong>" in example


def test_directions_count_what_is_new() -> None:
    directions = Directions()
    one = Verdict(0.0, "a too large, b too small", directions=("a", "b"), without_direction="no")
    two = Verdict(0.0, "b too small", directions=("b",), without_direction="no")
    three = Verdict(0.0, "c too large", directions=("c",), without_direction="no")
    four = Verdict(0.0, "a, d too large", directions=("a", "d"), without_direction="no")
    for verdict in (Verdict(0.0, "nothing"), one, two, Verdict(1.0, "right")):
        directions.take(verdict)
        assert directions.message(verdict) == verdict.message
    assert not directions.used_up
    for verdict in (three, four):
        directions.take(verdict)
    assert directions.used_up
    assert directions.message(three) == "c too large"
    assert directions.message(four) == f"no\n{NO_MORE}"
    assert directions.message(two) == "b too small"
