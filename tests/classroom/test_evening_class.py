"""A class as labkit 0.1 left it at the last: every later version reads it and keeps its marks.

Three labs of nearly all kinds, practice: right answers, known mistakes, hints, several tries, a
second attempt, marks by hand, a corrected id, an exercise taken out, a corrected lab, an export, an
erasure that kept the marks, a torn file among the hand-ins.
"""

from __future__ import annotations

import json
import shutil
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import select

from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.exports.exporting import export
from labkit.classroom.marks.scoring import score
from labkit.classroom.records.schema import META, erasing
from labkit.classroom.records.store import Records
from labkit.classroom.result import Result

OLDER = Path(__file__).parents[1] / "version_0_1"
TABLES = [table for table in META.sorted_tables if table is not erasing]


@pytest.fixture
def folder(tmp_path: Path) -> ClassFolder:
    path = tmp_path / "evening"
    shutil.copytree(OLDER / "evening-class", path)
    return ClassFolder.open(path)


def told(result: Result) -> dict[str, Any]:
    return {
        "trainee": result.dealt.trainee,
        "lab": result.dealt.lab,
        "attempt": result.dealt.attempt,
        "counts": result.counts,
        "earned": result.earned,
        "possible": result.possible,
        "marks": [
            [
                *(mark.exercise, mark.earned, mark.possible, mark.verdict.slip, mark.tries),
                *(mark.hints, mark.awaits, mark.voided, mark.marked_by),
            ]
            for mark in result.marks
        ],
    }


def counts(folder: ClassFolder) -> dict[str, int]:
    records = Records.of(folder)
    return {table.name: len(list(records.rows(select(table)))) for table in TABLES}


def test_scoring_tells_the_same_marks_and_adds_no_entry(folder: ClassFolder) -> None:
    before = counts(folder)
    known = json.loads((OLDER / "evening-class-marks.json").read_text(encoding="utf-8"))
    assert [told(result) for result in score(folder).results] == known
    assert sum(1 for result in known if result["marks"]) == 15
    assert counts(folder) == before


def test_an_export_hands_on_nothing_anew(folder: ClassFolder, tmp_path: Path) -> None:
    before = counts(folder)["exported"]
    export(folder, score(folder), tmp_path / "out")
    assert counts(folder)["exported"] == before
