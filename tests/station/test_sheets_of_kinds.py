"""A notebook keeps one style sheet by its widget's id: kinds that share an id would lose theirs."""

from __future__ import annotations

from pathlib import Path

from at_a_desk import Desk, task_file

from labkit.lab.draw import draw
from labkit.lab.reading import read_lab

LAB = Path(__file__).parents[1] / "lab" / "data" / "small-answers.md"


def test_every_kind_has_a_sheet_of_its_own(tmp_path: Path) -> None:
    lab = read_lab(LAB)
    desk = Desk(task_file(draw(lab, "sheets"), tmp_path))
    sheets: dict[str, set[str]] = {}
    kinds: dict[str, str] = {}
    for exercise in lab.exercises:
        widget = desk.exercise(exercise.id)
        sheets.setdefault(widget._anywidget_id, set()).add(widget._css)
        kinds.setdefault(exercise.kind, widget._anywidget_id)
    assert len(kinds) > 2
    assert [len(texts) for texts in sheets.values()] == [1] * len(kinds)
