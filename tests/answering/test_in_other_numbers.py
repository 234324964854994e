"""Which drills of a workbook's file are asked, and which first."""

from __future__ import annotations

from labkit.answering.drilling import in_other_numbers
from labkit.exchange.drill_file import FileDraw
from labkit.exchange.task_file import TaskExercise


def exercise(words: str, right: float, name: str = "sum", kind: str = "quantity") -> TaskExercise:
    return {
        "id": name,
        "number": 1,
        "kind": kind,
        "title": "Sum",
        "question": f"{words} m in all?",
        "marks": 1,
        "ask": {"unit": "m", "decimals": 0},
        "practice": {
            "key": {"value": right, "tolerance": 0.0, "decimals": 0, "slips": []},
            "working": words,
            "hints": [],
        },
    }


def draw(name: str, *exercises: TaskExercise) -> FileDraw:
    drills = [{"exercise": each, "texts": 0, "cautions": 0} for each in exercises]
    return {"draw": name, "picture": "", "texts": [], "cautions": [], "drills": drills}  # type: ignore[typeddict-item]


OWN = exercise("2 + 3", 5)


def asked(*draws: FileDraw) -> list[str]:
    return [each["draw"] for each, _ in in_other_numbers(OWN, draws)]


def test_ones_own_numbers_are_no_drill() -> None:
    assert asked(draw("a", exercise("2 + 3", 5)), draw("b", exercise("4 + 4", 8))) == ["b"]


def test_what_is_right_in_ones_own_numbers_too_comes_last() -> None:
    same = draw("a", exercise("1 + 4", 5))
    other = draw("b", exercise("4 + 4", 8))
    assert asked(same, other, draw("c", exercise("7 + 2", 9))) == ["b", "c", "a"]


def test_another_exercise_or_kind_is_not_taken() -> None:
    others = exercise("4 + 4", 8, name="product"), exercise("4 + 4", 8, kind="choice")
    assert asked(draw("a", *others)) == []


def test_where_a_person_marks_there_are_none() -> None:
    own = exercise("Why?", 1, kind="written")
    assert in_other_numbers(own, [draw("a", exercise("How?", 1, kind="written"))]) == []
