"""What labkit writes is as its JSON Schemas say, and so is what version 0.1 wrote."""

from __future__ import annotations

import copy
import json
import shutil
from pathlib import Path
from typing import Any

import pytest
from exchange_schemas import NAMES, SCHEMAS, wrong_in
from jsonschema import Draft202012Validator

from labkit.exchange.drill_file import read_drills
from labkit.exchange.hand_in import pack
from labkit.exchange.journal import Journal
from labkit.exchange.task_file import read_task
from labkit.lab.reading import read_lab
from labkit.station.workbook import Workbook
from labkit.workbook.drill_file import DRAWS, drill_bytes

TESTS = Path(__file__).parents[1]
OLDER = TESTS / "version_0_1"
TASKS = [
    *sorted((TESTS / "golden" / "whole").glob("*/*-task.json")),
    *sorted(OLDER.rglob("*.task.json")),
]
HAND_INS = [file for file in sorted(OLDER.rglob("*.handin.json")) if file.stem != "torn.handin"]


def name_of(file: Path) -> str:
    return file.relative_to(TESTS).as_posix()


@pytest.mark.parametrize("name", NAMES)
def test_each_is_a_schema_of_our_own_name(name: str) -> None:
    Draft202012Validator.check_schema(SCHEMAS[name])
    assert SCHEMAS[name]["$schema"] == Draft202012Validator.META_SCHEMA["$id"]
    assert SCHEMAS[name]["$id"] == f"urn:labkit:{name}:1"


def test_there_are_files_to_hold_against_them() -> None:
    assert len(TASKS) >= 23
    assert len(HAND_INS) >= 30


@pytest.mark.parametrize("file", TASKS, ids=name_of)
def test_every_task_file_is_as_the_schema_says(file: Path) -> None:
    assert wrong_in("task-file", json.loads(file.read_bytes())) == []


@pytest.mark.parametrize("file", HAND_INS, ids=name_of)
def test_every_hand_in_and_its_journal_are_as_the_schema_says(file: Path) -> None:
    try:
        content = json.loads(file.read_bytes())
    except ValueError:
        assert "t11" in file.name, "one hand-in of the demo is cut off on purpose"
        return
    assert content["journal"]
    assert wrong_in("hand-in", content) == []


@pytest.fixture
def task(tmp_path: Path) -> Path:
    shutil.copytree(OLDER / "workbook", tmp_path / "home")
    return tmp_path / "home" / "plan-the-trunk.task.json"


@pytest.fixture
def made(task: Path) -> dict[str, Any]:
    """A hand-in of today: opened, answered, a hint, a drill, an event to come, handed in."""
    workbook = Workbook.open(str(task))
    widget = workbook.exercise(workbook.task["exercises"][0]["id"])
    widget._received(widget, {"do": "answer", "token": "t1", "answer": "5 m"}, [])
    widget._received(widget, {"do": "hint", "token": "t2"}, [])
    workbook.journal.append("drill", exercise="e", draw="drill-1", answer="5 m", credit=0.5)
    workbook.journal.append("token", of="anything", numbers=[1, 2])
    content: dict[str, Any] = json.loads(pack(task).read_bytes())
    return content


def test_a_hand_in_and_a_journal_of_today_are_as_the_schema_says(
    task: Path, made: dict[str, Any]
) -> None:
    assert wrong_in("hand-in", made) == []
    journal = Journal(task.with_name("plan-the-trunk.answers.jsonl")).read()
    events = [entry["event"] for entry in journal.entries]
    assert events == ["opened", "answer", "hint", "drill", "token", "handed in"]
    assert [wrong_in("journal-entry", entry) for entry in journal.entries] == [[]] * 6
    assert wrong_in("signature", made["signature"]) == []


SPOILED_TASKS: list[dict[str, Any]] = [
    {"format_version": 2},
    {"practice": "yes"},
    {"class": {"id": "c"}},
    {"trainee": {"id": 1, "name": "T"}},
    {"deadline": "tomorrow"},
    {"attempt": 1},
    {"exercises": [{"id": "e"}]},
]


@pytest.mark.parametrize("change", SPOILED_TASKS, ids=lambda change: next(iter(change)))
def test_a_spoiled_task_file_fails(task: Path, change: dict[str, Any]) -> None:
    assert wrong_in("task-file", {**read_task(task), **change})


@pytest.mark.parametrize(
    "change",
    [
        {"format": "another"},
        {"more": 1},
        {"trainee": {"id": "t01", "name": "x" * 201}},
        {"made_at": "soon"},
        {"unreadable_lines": -1},
        {"journal": [{"at": "2026-11-20T10:00:00Z"}]},
        {"signature": "0" * 63},
    ],
    ids=lambda change: next(iter(change)),
)
def test_a_spoiled_hand_in_fails(made: dict[str, Any], change: dict[str, Any]) -> None:
    assert wrong_in("hand-in", {**made, **change})


@pytest.mark.parametrize("lost", ["at", "event", "exercise", "answer"])
def test_an_answer_that_lost_a_part_fails(made: dict[str, Any], lost: str) -> None:
    entry = copy.deepcopy(made["journal"][1])
    assert wrong_in("journal-entry", entry) == []
    del entry[lost]
    assert wrong_in("journal-entry", entry)


@pytest.mark.parametrize("lab", ["plan-the-trunk", "troubleshooting", "controller-and-chassis"])
def test_the_drills_of_a_lab_are_as_the_schema_says_and_are_read(lab: str, tmp_path: Path) -> None:
    read = read_lab(TESTS.parent / "labs" / lab / "lab.md")
    data = drill_bytes(read)
    assert wrong_in("drill-file", json.loads(data)) == []
    (tmp_path / "a.drills.json").write_bytes(data)
    draws = read_drills(tmp_path / "a.drills.json", read.digest)
    assert len(draws) == DRAWS
    assert [drill["exercise"]["number"] for drill in draws[0]["drills"]] == list(
        range(1, len(read.exercises) + 1)
    )
    # Texts that are the same in all draws stand in the workbook alone; cautions always come with.
    assert draws[0]["cautions"]
    assert draws[0]["texts"] != draws[1]["texts"] or draws[0]["texts"] == []
    assert read_drills(tmp_path / "a.drills.json", "another") == []
    (tmp_path / "a.drills.json").write_bytes(data.replace(b'"marks":2', b'"marks":3', 1))
    assert read_drills(tmp_path / "a.drills.json", read.digest) == []
