"""A message that is sent again, after a restart too, is confirmed and never done twice."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from at_a_desk import Desk, send, task_file

from labkit.answering.answering import PASSED_BY
from labkit.exchange.journal import ANSWER, HINT, STEP, Journal, records
from labkit.lab.draw import draw
from labkit.lab.reading import read_lab

LABS = Path(__file__).parents[1] / "lab" / "labs"
TRUNK = Path(__file__).parents[2] / "labs" / "plan-the-trunk" / "lab.md"
QUESTION = "all-drops"
BENCH = "quiet-line"


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    return Desk(task_file(draw(read_lab(TRUNK), "again"), tmp_path))


@pytest.fixture
def bench(tmp_path: Path) -> Desk:
    return Desk(task_file(draw(read_lab(LABS / "find-and-wire" / "lab.md"), "again"), tmp_path))


@pytest.mark.parametrize("restarts", [False, True])
def test_an_answer_counts_once(desk: Desk, restarts: bool) -> None:
    message = {"do": "answer", "token": "a1", "answer": "5 m"}
    assert send(desk.exercise(QUESTION), **message) == {"token": "a1", "saved": True}
    if restarts:
        desk.restart()
    widget = desk.exercise(QUESTION)
    assert send(widget, **message) == {"token": "a1", "saved": True}
    assert widget.saved["token"] == "a1"
    assert widget.saved["answer"] == "5 m"
    assert [entry["token"] for entry in desk.written(ANSWER)] == ["a1"]
    assert send(widget, do="answer", token="a2", answer="5 m")["saved"]
    assert records(desk.workbook.journal.read().entries)[QUESTION].tries == 2


def test_an_answer_that_is_sent_again_after_another_stays_the_earlier_one(desk: Desk) -> None:
    widget = desk.exercise(QUESTION)
    send(widget, do="answer", token="a1", answer="5 m")
    send(widget, do="answer", token="a2", answer="6 m")
    send(widget, do="answer", token="a1", answer="5 m")
    assert [entry["answer"] for entry in desk.written(ANSWER)] == ["5 m", "6 m"]
    assert widget.saved["answer"] == "6 m"


@pytest.mark.parametrize("restarts", [False, True])
def test_an_answer_that_comes_after_the_one_in_its_place_is_too_late(
    desk: Desk, restarts: bool
) -> None:
    send(desk.exercise(QUESTION), do="answer", token="page.10", answer="6 m")
    if restarts:
        desk.restart()
    widget = desk.exercise(QUESTION)
    late = send(widget, do="answer", token="page.9", answer="5 m")
    assert late == {"token": "page.9", "failed": f"Not saved: {PASSED_BY}"}
    # What was kept is confirmed; other pages have numbers of their own, and not all have some.
    assert send(widget, do="answer", token="page.10", answer="6 m")["saved"]
    for token in ("other.2", "page", "page.x", "2"):
        assert send(widget, do="answer", token=token, answer="7 m")["saved"], token
    assert send(widget, do="answer", token="page.11", answer="8 m")["saved"]
    assert [entry["answer"] for entry in desk.written(ANSWER)] == ["6 m", *4 * ["7 m"], "8 m"]


def test_what_the_disk_does_not_take_may_come_again_and_what_is_no_message_not(
    desk: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    widget = desk.exercise(QUESTION)
    message = {"do": "answer", "token": "a1", "answer": "5 m"}
    with monkeypatch.context() as patch:
        patch.setattr("os.fsync", full)
        failed = send(widget, **message)
    assert failed == {
        "token": "a1",
        "failed": "Not saved: No space left on device. Tell your instructor if this stays.",
        "again": True,
    }
    assert send(widget, **message) == {"token": "a1", "saved": True}
    assert [entry["token"] for entry in desk.written(ANSWER)] == ["a1"]
    assert "again" not in send(widget, do="dance", token="a2")


@pytest.mark.parametrize("restarts", [False, True])
def test_a_hint_is_taken_once(desk: Desk, restarts: bool) -> None:
    name = next(e["id"] for e in desk.workbook.task["exercises"] if e["practice"]["hints"])
    send(desk.exercise(name), do="hint", token="h1")
    # An exercise of several hints would show the next one, and charge for it.
    desk.workbook.task["exercises"] = [
        {**e, "practice": {**e["practice"], "hints": 2 * e["practice"]["hints"]}}
        for e in desk.workbook.task["exercises"]
    ]
    task = desk.workbook.task
    if restarts:
        desk.restart()
        desk.workbook.task = task
    widget = desk.exercise(name)
    assert send(widget, do="hint", token="h1")["saved"]
    assert len(widget.saved["hints"]) == 1
    assert [(e["hint"], e["token"]) for e in desk.written(HINT)] == [(1, "h1")]
    send(widget, do="hint", token="h2")
    assert len(widget.saved["hints"]) == 2


@pytest.mark.parametrize("restarts", [False, True])
def test_a_bench_gives_the_same_reading_again_without_a_second_step(
    bench: Desk, restarts: bool
) -> None:
    widget = bench.exercise(BENCH)
    page: Any = widget.answering.page
    scanner = page.front.setup.scanner
    steps = [
        {"kind": "power off"},
        {"kind": "ohms", "a": f"{scanner}/4", "b": f"{scanner}/2"},
        {"kind": "power on"},
        {"kind": "indicators"},
    ]
    for number, step in enumerate(steps, 1):
        first = send(widget, do="step", token=f"s{number}", step=step)
        if restarts:
            bench.restart()
            widget = bench.exercise(BENCH)
        again = send(widget, do="step", token=f"s{number}", step=step)
        assert again == first
        assert len(bench.written(STEP)) == number
        assert len(widget.shown["view"]["steps"]) == number


def test_a_step_that_others_followed_is_not_done_again(bench: Desk) -> None:
    widget = bench.exercise(BENCH)
    send(widget, do="step", token="s1", step={"kind": "power off"})
    send(widget, do="step", token="s2", step={"kind": "power on"})
    bench.restart()
    widget = bench.exercise(BENCH)
    told = send(widget, do="step", token="s1", step={"kind": "power off"})
    assert "done already" in told["failed"]
    assert widget.shown["view"]["state"]["power"]
    assert len(bench.written(STEP)) == 2


def test_a_test_of_the_wiring_is_told_again(bench: Desk) -> None:
    ask = next(e for e in bench.workbook.task["exercises"] if e["kind"] == "wiring")
    widget = bench.exercise(ask["id"])
    step = {"kind": "test", "answer": {}}
    first = send(widget, do="step", token="w1", step=step)
    assert first["reply"]
    bench.restart()
    assert send(bench.exercise(ask["id"]), do="step", token="w1", step=step) == first
    assert len(bench.written(STEP)) == 1


def test_a_message_without_a_token_is_not_taken(desk: Desk) -> None:
    widget = desk.exercise(QUESTION)
    for token in ("", None, 3):
        assert send(widget, do="answer", token=token, answer="5 m") == {}
    assert desk.written(ANSWER) == []


def test_a_journal_without_tokens_and_one_with_any_are_read(tmp_path: Path) -> None:
    journal = Journal(tmp_path / "old.answers.jsonl")
    journal.append(ANSWER, exercise="e", answer="5 m")
    journal.append(ANSWER, exercise="e", answer="5 m")
    journal.append(HINT, exercise="e", hint=1, token=["no", "text"])
    journal.append(ANSWER, exercise="e", answer="6 m", token="a1")
    found = records(journal.read().entries)["e"]
    assert (found.tries, found.hints, found.tokens) == (3, 1, frozenset({"a1"}))
