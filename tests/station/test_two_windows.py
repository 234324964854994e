"""A workbook in two windows: what one saves stands in the other, and is handed in."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from at_a_desk import Desk, send, task_file

from labkit.exchange.journal import STEP
from labkit.lab.draw import draw
from labkit.lab.reading import read_lab
from labkit.station import open_workbook
from labkit.station.widgets.hand_in import HandInPanel
from labkit.station.workbook import Workbook

LABS = Path(__file__).parents[1] / "lab" / "labs"
TRUNK = Path(__file__).parents[2] / "labs" / "plan-the-trunk" / "lab.md"
QUESTION = "all-drops"
BENCH = "quiet-line"


@pytest.fixture
def file(tmp_path: Path) -> Path:
    return task_file(draw(read_lab(TRUNK), "twice"), tmp_path)


@pytest.fixture(params=["one engine", "two engines"])
def windows(request: pytest.FixtureRequest, file: Path) -> tuple[Workbook, Workbook]:
    """A second window at the same engine, and at one of its own."""
    second = open_workbook if request.param == "one engine" else Workbook.open
    return open_workbook(str(file)), second(str(file))


def done(panel: HandInPanel) -> set[str]:
    return {exercise["id"] for exercise in panel.exercises if exercise["answered"]}


def test_windows_of_one_engine_show_each_others_answers_at_once(file: Path) -> None:
    first, second = open_workbook(str(file)), open_workbook(str(file))
    widgets = [first.exercise(QUESTION), second.exercise(QUESTION)]
    panels = [first.hand_in_panel(), second.hand_in_panel()]
    for number, widget in enumerate(widgets):
        assert send(widget, do="answer", token=f"a{number}", answer=f"{number} m")["saved"]
        assert [each.saved["answer"] for each in widgets] == [f"{number} m"] * 2
        assert [done(panel) for panel in panels] == [{QUESTION}] * 2


def test_a_hand_in_shows_in_its_window_what_it_takes_along(
    windows: tuple[Workbook, Workbook],
) -> None:
    here, there = windows
    shown, panel = here.exercise(QUESTION), here.hand_in_panel()
    send(there.exercise(QUESTION), do="answer", token="a1", answer="5 m")
    panel._received(panel, {"do": "hand in", "token": "h1"}, None)
    assert '"5 m"' in panel.made["content"]
    assert shown.saved["answer"] == "5 m"
    assert done(panel) == {QUESTION}


def test_an_answer_in_one_window_is_taken_with_all_that_was_kept_in_the_other(
    tmp_path: Path,
) -> None:
    file = task_file(draw(read_lab(LABS / "find-and-wire" / "lab.md"), "twice"), tmp_path)
    here, there = Workbook.open(str(file)), Workbook.open(str(file))
    benches: list[Any] = [here.exercise(BENCH), there.exercise(BENCH)]
    send(benches[0], do="step", token="s1", step={"kind": "power off"})
    told = send(benches[1], do="step", token="s2", step={"kind": "indicators"})
    assert told["saved"]
    assert not benches[1].answering.shown_now()["view"]["state"]["power"]
    assert len(Desk(file).written(STEP)) == 2


def test_what_one_engine_keeps_itself_is_no_news_to_it(file: Path) -> None:
    workbook = open_workbook(str(file))
    widget = workbook.exercise(QUESTION)
    before = widget.answering
    for number, answer in enumerate(["5 m", 7, {"a": [1.5, None]}]):
        send(widget, do="answer", token=f"a{number}", answer=answer)
        send(widget, do="hint", token=f"h{number}")
    assert widget.answering is before


def test_a_hand_in_that_lacks_what_was_saved_later_is_told(file: Path) -> None:
    workbook = open_workbook(str(file))
    widget, panel = workbook.exercise(QUESTION), workbook.hand_in_panel()
    send(widget, do="answer", token="a1", answer="5 m")
    assert not panel.newer
    panel._received(panel, {"do": "hand in", "token": "h1"}, None)
    assert not panel.newer
    send(widget, do="answer", token="a2", answer="6 m")
    assert panel.newer
    panel._received(panel, {"do": "hand in", "token": "h2"}, None)
    assert not panel.newer
