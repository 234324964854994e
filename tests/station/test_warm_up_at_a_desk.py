"""The morning's warm-up in the notebook: from the journals of one folder, outside all marks."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from at_a_desk import Desk, send, task_file
from set_clock import SetClock

from labkit.doors.installed import check_for
from labkit.exchange.drill_file import draws_digest, drills_path
from labkit.exchange.hand_in import pack
from labkit.exchange.journal import DRILL, records
from labkit.lab.draw import Scenario, draw
from labkit.lab.reading import read_lab
from labkit.station.warm_up import NONE_LEFT
from labkit.station.widgets.warm_up import WarmUpBox
from labkit.station.widgets.welcome import Welcome
from labkit.workbook.drill_file import DRAWS

LABS = Path(__file__).parents[2] / "labs"
MONDAY, TUESDAY = "2031-05-05T10:00:00Z", "2031-05-06T08:00:00Z"


@pytest.fixture(scope="module")
def trunk() -> Scenario:
    return draw(read_lab(LABS / "plan-the-trunk" / "lab.md"), "warm")


@pytest.fixture(scope="module")
def timing() -> Scenario:
    return draw(read_lab(LABS / "timing" / "lab.md"), "warm")


def answers(desk: Desk, name: str, answer: Any) -> None:
    send(desk.exercise(name), do="answer", token=name, answer=answer)


def offered(desk: Desk) -> WarmUpBox:
    box = desk.workbook.welcome()
    assert isinstance(box, WarmUpBox)
    return box


def asks(box: WarmUpBox, number: int) -> dict[str, Any]:
    box._received(box.panel, {"do": "ask", "question": number, "token": "t"}, [])
    asked: dict[str, Any] = box.panel.asked
    return asked


def right(box: WarmUpBox) -> Any:
    """The right answer of the exercise that is asked."""
    assert box.exercise is not None
    answering = box.exercise.answering
    exercise = answering._exercise
    check = check_for(exercise["kind"])
    return check.right_answer(exercise["ask"], exercise["practice"]["key"])


def titles(box: WarmUpBox) -> list[tuple[str, bool | None]]:
    return [(each["exercise"], each["right"]) for each in box.panel.shown["questions"]]


@pytest.fixture
def desk(trunk: Scenario, tmp_path: Path, clock: SetClock) -> Desk:
    """On Monday two were wrong and one was right; now it is Tuesday."""
    clock.set(MONDAY)
    desk = Desk(task_file(trunk, tmp_path))
    [own] = [each for each in trunk.lab.exercises if each.id == "weighted-length"]
    made = trunk.prepare(own)
    answers(desk, "longest-distance", "1 m")
    answers(desk, "all-drops", "1 m")
    answers(desk, own.id, check_for(own.kind).right_answer(made.ask, made.key))
    assert isinstance(desk.workbook.welcome(), Welcome)
    clock.set(TUESDAY)
    desk.restart()
    return desk


def test_yesterdays_mistakes_are_asked_in_other_numbers(desk: Desk, trunk: Scenario) -> None:
    box = offered(desk)
    assert box.panel.shown["yesterday"] is True
    assert titles(box) == [("all-drops", None), ("longest-distance", None)]
    asked = asks(box, 0)
    assert (asked["at"], asked["of"], asked["lab_title"]) == (1, 2, trunk.lab.title)
    assert "Caution" in asked["cautions"][0]
    assert asked["picture"].startswith("<svg")
    assert box.exercise is not None
    own = desk.exercise("all-drops")
    assert box.exercise.shown["id"] == "all-drops"
    assert box.exercise.shown["view"] == own.shown["view"]
    assert box.exercise.workbook != own.workbook
    send(box.exercise, do="answer", token="w", answer=right(box))
    assert box.exercise.saved["verdict"]["right"]
    assert titles(box) == [("all-drops", True), ("longest-distance", None)]
    # What is right with these numbers is wrong with one's own.
    task = next(e for e in desk.workbook.task["exercises"] if e["id"] == "all-drops")
    check = check_for(task["kind"])
    assert not check.check(task["ask"], task["practice"]["key"], right(box)).right


def test_it_stands_outside_the_marks_and_in_the_hand_in(desk: Desk) -> None:
    before = records(desk.workbook.journal.read().entries)
    box = offered(desk)
    asks(box, 0)
    assert box.exercise is not None
    send(box.exercise, do="answer", token="w", answer="2 m")
    [entry] = desk.written(DRILL)
    assert (entry["draw"], entry["credit"]) == ("warm-up-1", 0.0)
    assert records(desk.workbook.journal.read().entries) == before
    assert '"warm-up-1"' in pack(desk.file).read_text("utf-8")


def test_it_is_the_same_after_a_restart_and_goes_on_in_new_numbers(desk: Desk) -> None:
    box = offered(desk)
    asks(box, 1)
    assert box.exercise is not None
    send(box.exercise, do="answer", token="w", answer="2 m")
    desk.restart()
    box = offered(desk)
    assert titles(box) == [("all-drops", None), ("longest-distance", False)]
    for number in range(2, DRAWS + 1):
        asks(box, 1)
        assert box.exercise is not None
        send(box.exercise, do="answer", token=f"w{number}", answer=right(box))
    assert [each["draw"] for each in desk.written(DRILL)] == [
        f"warm-up-{number}" for number in range(1, DRAWS + 1)
    ]
    assert asks(box, 1)["failed"] == NONE_LEFT
    assert box.exercise is None


def test_what_has_no_numbers_left_is_asked_no_more(desk: Desk, clock: SetClock) -> None:
    box = offered(desk)
    for number in range(DRAWS):
        asks(box, 0)
        assert box.exercise is not None
        send(box.exercise, do="answer", token=f"w{number}", answer="2 m")
    clock.set("2031-05-07T08:00:00Z")
    desk.restart()
    # Tuesday's mistakes were all of that one; Monday's other one was not asked again yet.
    box = offered(desk)
    assert titles(box) == [("longest-distance", None)]
    assert (box.panel.shown["day"], box.panel.shown["yesterday"]) == ("2031-05-05", False)


def test_a_day_of_right_answers_alone_offers_none(
    desk: Desk, trunk: Scenario, clock: SetClock
) -> None:
    """Monday's mistakes are not asked once Tuesday was the last day, though what was right on it
    has no other numbers in the file."""
    name = next(
        each.id
        for each in trunk.lab.exercises
        if each.kind == "quantity"
        and each.id not in ("longest-distance", "all-drops", "weighted-length")
    )
    file = drills_path(desk.file)
    drills = json.loads(file.read_bytes())
    for drawn in drills["draws"]:
        drawn["drills"] = [each for each in drawn["drills"] if each["exercise"]["id"] != name]
    drills["sha256"] = draws_digest(drills["draws"])
    file.write_text(json.dumps(drills), encoding="utf-8")
    [own] = [each for each in trunk.lab.exercises if each.id == name]
    made = trunk.prepare(own)
    answers(desk, name, check_for(own.kind).right_answer(made.ask, made.key))
    clock.set("2031-05-07T08:00:00Z")
    desk.restart()
    assert isinstance(desk.workbook.welcome(), Welcome)


def test_a_question_can_be_put_away(desk: Desk) -> None:
    box = offered(desk)
    asks(box, 0)
    box._received(box.panel, {"do": "put away", "token": "p"}, [])
    assert box.exercise is None
    assert len(box.children) == 2
    assert box.panel.asked == {"token": "p"}


@pytest.mark.parametrize("number", [-1, 2, True, "0", None])
def test_any_json_may_come(desk: Desk, number: Any) -> None:
    box = offered(desk)
    assert asks(box, number) == {}
    box._received(box.panel, ["ask"], [])
    assert box.exercise is None


def beside(desk: Desk, scenario: Scenario, **changed: Any) -> Path:
    """Another workbook in the folder of this one; what of its task is changed."""
    file = task_file(
        scenario, desk.file.parent / "elsewhere", practice=changed.get("practice", True)
    )
    task = {**json.loads(file.read_bytes()), "workbook": "other", **changed}
    file.write_text(json.dumps(task), encoding="utf-8")
    notebook = json.loads(file.with_name(f"{scenario.lab.id}.ipynb").read_bytes())
    notebook["metadata"]["labkit"]["workbook"] = "other"
    for each in file.parent.iterdir():
        each.rename(desk.file.parent / each.name)
    here = desk.file.parent / file.name
    here.with_name(f"{scenario.lab.id}.ipynb").write_text(json.dumps(notebook), encoding="utf-8")
    return here


def wrong_on_monday(file: Path, scenario: Scenario, name: str, clock: SetClock) -> None:
    [own] = [each for each in scenario.lab.exercises if each.id == name]
    made = scenario.prepare(own)
    wrong = next(iter(check_for(own.kind).slip_answers(made.ask, made.key).values()))
    clock.set(MONDAY)
    answers(Desk(file), name, wrong)
    clock.set(TUESDAY)


def first_number(scenario: Scenario) -> str:
    return next(each.id for each in scenario.lab.exercises if each.kind == "quantity")


@pytest.fixture
def elsewhere(desk: Desk) -> None:
    (desk.file.parent / "elsewhere").mkdir()


@pytest.mark.usefixtures("elsewhere")
def test_other_workbooks_of_the_folder_are_asked_about_too(
    desk: Desk, timing: Scenario, clock: SetClock
) -> None:
    name = first_number(timing)
    other = beside(desk, timing)
    wrong_on_monday(other, timing, name, clock)
    box = offered(desk)
    assert {each["lab"] for each in box.panel.shown["questions"]} == {"desk", "other"}
    place = [each["exercise"] for each in box.panel.shown["questions"]].index(name)
    assert asks(box, place)["lab_title"] == timing.lab.title
    assert box.exercise is not None
    send(box.exercise, do="answer", token="w", answer=right(box))
    # What was done is in the journal of the workbook that it is of.
    assert desk.written(DRILL) == []
    assert [each["exercise"] for each in Desk(other).written(DRILL)] == [name]


@pytest.mark.usefixtures("elsewhere")
@pytest.mark.parametrize(
    "changed",
    [
        {"practice": False},
        {"trainee": {"id": "t02", "name": "Ilo Dane"}},
        {"class": {"id": "another", "title": "Another"}},
    ],
)
def test_what_is_assessed_or_anothers_is_left_out(
    desk: Desk, timing: Scenario, clock: SetClock, changed: dict[str, Any]
) -> None:
    name = first_number(timing)
    wrong_on_monday(beside(desk, timing, **changed), timing, name, clock)
    assert {each["lab"] for each in offered(desk).panel.shown["questions"]} == {"desk"}


def test_an_assessed_workbook_offers_none_and_gets_no_file(
    trunk: Scenario, tmp_path: Path, clock: SetClock
) -> None:
    clock.set(MONDAY)
    file = task_file(trunk, tmp_path, practice=False)
    assert not drills_path(file).exists()
    answers(Desk(file), "all-drops", "1 m")
    clock.set(TUESDAY)
    # Not even where somebody puts the practice file there.
    (tmp_path / "practice").mkdir()
    drills_path(task_file(trunk, tmp_path / "practice")).rename(drills_path(file))
    assert isinstance(Desk(file).workbook.welcome(), Welcome)


@pytest.mark.parametrize("content", [None, b"", b"[]", b'{"format": "labkit drills"}', b"{" * 9999])
def test_without_a_sound_file_the_workbook_opens_as_before(
    desk: Desk, content: bytes | None
) -> None:
    file = drills_path(desk.file)
    assert file.exists()
    file.unlink()
    if content is not None:
        file.write_bytes(content)
    assert isinstance(desk.workbook.welcome(), Welcome)


@pytest.mark.parametrize("broken", [{}, {"value": "long"}, {"value": None, "unit": []}])
def test_a_file_whose_keys_fit_no_exercise_is_not_used(desk: Desk, broken: dict[str, Any]) -> None:
    file = drills_path(desk.file)
    drills = json.loads(file.read_bytes())
    for drawn in drills["draws"]:
        for drill in drawn["drills"]:
            drill["exercise"]["practice"]["key"] = broken
    file.write_text(json.dumps(drills), encoding="utf-8")
    assert isinstance(desk.workbook.welcome(), Welcome)


def test_a_file_of_another_edition_of_the_lab_is_not_used(desk: Desk) -> None:
    file = drills_path(desk.file)
    drills = json.loads(file.read_bytes())
    file.write_text(json.dumps({**drills, "lab": "0" * 64}), encoding="utf-8")
    assert isinstance(desk.workbook.welcome(), Welcome)


def test_a_step_alone_is_no_answer(desk: Desk) -> None:
    desk.workbook.journal.append(DRILL, exercise="all-drops", draw="warm-up-1", token="s", step={})
    box = offered(desk)
    asks(box, 0)
    assert box.exercise is not None
    assert box.exercise.workbook.endswith(":warm-up-1")
