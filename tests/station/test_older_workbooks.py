"""A workbook that version 0.1 dealt is opened, answered and handed in by this labkit."""

from __future__ import annotations

import shutil
from pathlib import Path
from typing import Any

import orjson

from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.corrections.correcting import follow_rules
from labkit.classroom.marks.scoring import score
from labkit.doors.installed import check_for
from labkit.exchange.hand_in import pack
from labkit.station.workbook import Workbook

OLDER = Path(__file__).parents[1] / "version_0_1"


def test_it_is_answered_rightly_handed_in_and_earns_all_marks(tmp_path: Path) -> None:
    shutil.copytree(OLDER / "workbook", tmp_path / "home")
    file = tmp_path / "home" / "plan-the-trunk.task.json"
    task: dict[str, Any] = orjson.loads(file.read_bytes())
    workbook = Workbook.open(str(file))
    for number, exercise in enumerate(task["exercises"]):
        widget = workbook.exercise(exercise["id"])
        check = check_for(exercise["kind"])
        answer = check.right_answer(exercise["ask"], exercise["practice"]["key"])
        widget._received(widget, {"do": "answer", "token": f"t{number}", "answer": answer}, [])
        assert widget.saved["verdict"]["right"], exercise["id"]
    shutil.copytree(OLDER / "demo-class", tmp_path / "class")
    made = pack(file)
    shutil.copy(made, tmp_path / "class" / "hand-ins" / "later.handin.json")
    follow_rules(ClassFolder.open(tmp_path / "class"), reason="more notations", by="R. Ops")
    (result, *_) = score(ClassFolder.open(tmp_path / "class")).results
    assert (result.dealt.trainee, result.percent) == ("t01", 100)
