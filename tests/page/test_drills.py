"""One more like this: fresh numbers, told like the exercise itself, and nothing that marks read."""

from __future__ import annotations

import json
import secrets
import sys
from pathlib import Path
from typing import Any

import pytest
from desks import LABS, desk_of, entries, lab, reply, said, scenario, task

from labkit.answering.answering import Answering
from labkit.doors.installed import check_for
from labkit.exchange.journal import DRILL, OPENED, records
from labkit.lab.draw import draw
from labkit.page.desk import Desk
from labkit.page.drill import NO_OTHER, OVER
from labkit.workbook.drills import drill_of

sys.path.append(str(Path(__file__).parents[1] / "exchange"))
from exchange_schemas import wrong_in

LAB = "plan-the-trunk"


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    return desk_of(scenario(LAB), tmp_path)


def drilled(desk: Desk, exercise: str, token: str, **more: Any) -> Any:
    return reply(desk, said(exercise, "drill", token, **more))


def first(desk: Desk) -> str:
    return next(iter(desk.opened()["exercises"]))


def right_of(exercise: str, seed: str) -> Any:
    """The right answer of a drill, and its working."""
    drawn = draw(lab(LAB), seed)
    [defined] = [each for each in drawn.lab.exercises if each.id == exercise]
    made = drawn.prepare(defined)
    return check_for(defined.kind).right_answer(made.ask, made.key)


def test_a_drill_is_told_like_the_exercise_and_counts_for_nothing(
    desk: Desk, tmp_path: Path
) -> None:
    name = first(desk)
    before = desk.opened()
    drawn = drilled(desk, name, "t1")["drawn"]
    own = desk.shown(name)
    assert own
    assert drawn["shown"]["question"] != own["question"] or drawn["picture"] != before["picture"]
    assert drawn["shown"]["id"] == name
    assert drawn["kind"] == before["exercises"][name]["kind"]
    assert drawn["shown"]["hints"] == []
    assert drawn["picture"].startswith("<svg")
    wrong = {"do": "answer", "token": "t2", "answer": "1 m"}
    heard = drilled(desk, name, "-", of=drawn["id"], message=wrong)
    assert heard["token"] == "t2"
    assert heard["drilled"]["reply"] == {"token": "t2", "saved": True}
    assert heard["drilled"]["saved"]["verdict"]["right"] is False
    answer = right_of(name, drawn["id"])
    heard = drilled(
        desk,
        name,
        "-",
        of=drawn["id"],
        message={"do": "answer", "token": "t3", "answer": answer},
    )
    told = heard["drilled"]["saved"]["verdict"]
    assert told["right"]
    assert told["working"]
    # Only the journal knows, and none of its readers counts it.
    assert desk.opened()["exercises"] == before["exercises"]
    assert records(entries(tmp_path)) == {}
    kept = [entry for entry in entries(tmp_path) if entry["event"] == DRILL]
    assert [(e["exercise"], e["draw"], e["answer"], e["credit"]) for e in kept] == [
        (name, drawn["id"], "1 m", 0.0),
        (name, drawn["id"], answer, 1.0),
    ]
    assert wrong_in("hand-in", json.loads(json.dumps(desk.handed_in()))) == []


def test_a_message_that_comes_again_does_nothing_twice(desk: Desk, tmp_path: Path) -> None:
    name = first(desk)
    drawn = drilled(desk, name, "t1")
    assert drilled(desk, name, "t1") == drawn
    message = {"do": "answer", "token": "t2", "answer": "1 m"}
    heard = [drilled(desk, name, "-", of=drawn["drawn"]["id"], message=message) for _ in "12"]
    assert heard[0] == heard[1]
    assert [entry["event"] for entry in entries(tmp_path)] == [OPENED, DRILL]
    assert drilled(desk, name, "t3")["drawn"]["id"] != drawn["drawn"]["id"]


def test_the_last_drill_of_an_exercise_is_kept_and_no_other(desk: Desk, tmp_path: Path) -> None:
    one, two, *_ = desk.opened()["exercises"]
    ids = {name: drilled(desk, name, f"new {name}")["drawn"]["id"] for name in (one, two)}
    late = drilled(desk, one, "another")["drawn"]["id"]
    message = {"do": "answer", "token": "t2", "answer": "1 m"}
    over = {"token": "t2", "failed": OVER}
    others: list[Any] = [ids[one], ids[two], "drill-0", None, [], {"a": 1}]
    for of in others:
        assert drilled(desk, one, "-", of=of, message=message) == over
    assert "drilled" in drilled(desk, one, "-", of=late, message=message)
    assert "drilled" in drilled(desk, two, "-", of=ids[two], message=message)
    again = desk_of(scenario(LAB), tmp_path)
    assert drilled(again, one, "-", of=late, message=message) == over


def test_what_a_drill_cannot_keep_is_neither_checked_nor_kept(
    desk: Desk, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    name = first(desk)
    of = drilled(desk, name, "t1")["drawn"]["id"]
    deep: Any = "x"
    for _ in range(400):
        deep = [deep]
    monkeypatch.setattr(Answering, "verdict", lambda *_: pytest.fail("it is checked"))
    for number, answer in enumerate((deep, "x" * 1_000_000, float("nan"), {"a": float("inf")})):
        message = {"do": "answer", "token": f"n{number}", "answer": answer}
        heard = drilled(desk, name, "-", of=of, message=message)
        assert "failed" in heard["drilled"]["reply"]
        assert not heard["drilled"]["saved"]["answered"]
    for message in ({"do": "hint", "token": "h"}, {"do": "drill", "token": "d"}, {"token": "e"}):
        heard = drilled(desk, name, "-", of=of, message=message)
        assert "saved" not in heard["drilled"]["reply"]
    nothing: list[Any] = [None, [], {}, {"token": 7}, {"token": "\ud800"}]
    for each in nothing:
        assert desk.hear(said(name, "drill", "-", of=of, message=each)) is None
    assert [entry["event"] for entry in entries(tmp_path)] == [OPENED]


def test_a_shut_desk_has_no_drills_and_an_assessed_one_never(tmp_path: Path) -> None:
    said_shut = [""]
    desk = desk_of(scenario(LAB), tmp_path, why_shut=lambda: said_shut[-1])
    name = first(desk)
    of = drilled(desk, name, "t1")["drawn"]["id"]
    said_shut.append("The time is over.")
    shut = "Not saved: The time is over."
    message = {"do": "answer", "token": "t3", "answer": "1 m"}
    assert drilled(desk, name, "t2") == {"token": "t2", "failed": shut}
    assert drilled(desk, name, "-", of=of, message=message) == {"token": "t3", "failed": shut}
    folder = tmp_path / "assessed"
    folder.mkdir()
    assessed = desk_of(scenario(LAB), folder, practice=False)
    assert not any(each["drills"] for each in assessed.opened()["exercises"].values())
    heard = drilled(assessed, name, "t1")
    assert heard.keys() == {"token", "failed"}


@pytest.mark.parametrize("name", sorted(LABS))
def test_every_exercise_of_every_lab_has_one_more_or_says_that_it_has_none(
    name: str, tmp_path: Path
) -> None:
    desk = desk_of(scenario(name), tmp_path)
    own = {each["id"]: each for each in task(scenario(name))["exercises"]}
    found = 0
    for exercise, now in desk.opened()["exercises"].items():
        heard = drilled(desk, exercise, "t1")
        if not now["drills"]:
            assert "drawn" not in heard
            assert now["kind"] in ("written", "sign_off", "measured")
            continue
        if "failed" in heard:
            assert heard["failed"] == NO_OTHER
            continue
        found += 1
        drawn = heard["drawn"]
        json.dumps(drawn)
        scenario_of = draw(lab(name), drawn["id"])
        [defined] = [each for each in scenario_of.lab.exercises if each.id == exercise]
        made = scenario_of.prepare(defined)
        check = check_for(now["kind"])
        one, two = defined.question, defined.working
        texts = [text.render(scenario_of.names) for text in (one, two)]
        mine = own[exercise]
        assert [made.ask, *texts] != [mine["ask"], mine["question"], mine["practice"]["working"]]
        right = {"do": "answer", "token": "t2", "answer": check.right_answer(made.ask, made.key)}
        said_back = drilled(desk, exercise, "-", of=drawn["id"], message=right)
        assert said_back["drilled"]["saved"]["verdict"]["right"], exercise
    assert found


def test_what_a_drill_tells_is_not_what_is_still_to_be_found(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    # With few options a fresh draw has the trainee's own right answer again and again.
    numbers = (str(number) for number in range(1000))
    monkeypatch.setattr(secrets, "token_hex", lambda _: next(numbers))
    name, check = "controller-and-chassis", check_for("choice")
    [own] = [each for each in task(scenario(name))["exercises"] if each["id"] == "reach"]
    for _ in range(20):
        drawn = drill_of(lab(name), own)
        assert drawn
        right = check.right_answer(drawn.exercise["ask"], drawn.exercise["practice"]["key"])
        assert not check.check(own["ask"], own["practice"]["key"], right).right


def test_a_drill_at_the_bench_is_played(tmp_path: Path) -> None:
    desk = desk_of(scenario("bring-up"), tmp_path)
    kinds = {name: each["kind"] for name, each in desk.opened()["exercises"].items()}
    [name] = [name for name, kind in kinds.items() if kind == "diagnosis"]
    of = drilled(desk, name, "t1")["drawn"]["id"]
    step = {"do": "step", "token": "t2", "step": {"kind": "power on"}}
    heard = drilled(desk, name, "-", of=of, message=step)
    assert heard["drilled"]["reply"]["reply"]["state"]["power"] is True
    shown = desk.shown(name)
    assert shown
    assert shown["view"]["state"]["log"] == []
    [kept] = [entry for entry in entries(tmp_path) if entry["event"] == DRILL]
    assert (kept["draw"], kept["step"]) == (of, {"kind": "power on"})
    assert wrong_in("journal-entry", kept) == []
