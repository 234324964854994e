"""When files or folders are not in order a trainee reads one sentence, and no answer is lost."""

from __future__ import annotations

import errno
import json
import os
from pathlib import Path
from typing import Any

import pytest
from drawn import Drawn

from labkit.exchange.formats import JOURNAL_ENDING
from labkit.exchange.journal import Journal
from labkit.exchange.task_file import TaskFileError
from labkit.station import open_workbook
from labkit.station.errors import StationError
from labkit.station.workbook import Workbook


@pytest.fixture
def task_file(tmp_path: Path, practice: list[Drawn]) -> Path:
    """The task file of a practice workbook."""
    practice[0].files.write(tmp_path)
    return tmp_path / practice[0].files.task_name


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (None, "is missing"),
        (b"", "is damaged"),
        (b"\xff\xfe\x00", "is damaged"),
        (b"[" * 100_000, "is damaged"),
        (b"[]", "is damaged"),
        (b'{"format": "something else"}', "is damaged"),
        (b'{"format": "labkit task", "format_version": 99}', "another version of labkit"),
        (b'{"format": "labkit task", "format_version": 1}', "is damaged"),
    ],
)
def test_a_task_file_out_of_order(task_file: Path, content: bytes | None, words: str) -> None:
    if content is None:
        task_file.unlink()
    else:
        task_file.write_bytes(content)
    _one_sentence(task_file, words)


@pytest.mark.parametrize("part", ["trainee", "exercises", "lab", "class", "signing_key"])
def test_a_task_file_that_lost_a_part(task_file: Path, part: str) -> None:
    task = json.loads(task_file.read_bytes())
    del task[part]
    task_file.write_text(json.dumps(task), encoding="utf-8")
    _one_sentence(task_file, "is damaged")


def test_a_folder_that_cannot_be_written(task_file: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(Journal, "append", _refuse)
    _one_sentence(task_file, "Answers cannot be saved in this folder (Read-only file system)")


def test_a_full_disk_is_told_and_nothing_claims_to_be_saved(
    task_file: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    workbook = open_workbook(str(task_file))
    widget = workbook.exercise("all-drops")
    sent: list[dict[str, Any]] = []
    monkeypatch.setattr(widget, "send", sent.append)
    before = dict(widget.saved)
    with monkeypatch.context() as full:
        full.setattr(Journal, "append", _refuse)
        _give(widget, "1", "22 m")
    refused = "Not saved: Read-only file system. Tell your instructor if this stays."
    assert sent == [{"token": "1", "failed": refused, "again": True}]
    assert widget.saved == before
    assert workbook.answered() == set()
    # The same message again, once there is room: saved, and once only.
    _give(widget, "1", "22 m")
    _give(widget, "1", "22 m")
    assert sent[1:] == [{"token": "1", "saved": True}] * 2
    assert widget.saved["answer"] == "22 m"
    assert workbook.answered() == {"all-drops"}
    journal = task_file.with_name(f"plan-the-trunk{JOURNAL_ENDING}").read_text(encoding="utf-8")
    assert journal.count('"event":"answer"') == 1


def test_a_torn_journal_gives_back_the_rest_and_says_so(task_file: Path) -> None:
    workbook = open_workbook(str(task_file))
    _give(workbook.exercise("all-drops"), "1", "22 m")
    journal = workbook.journal.path
    with journal.open("ab") as file:
        file.write(b'{"at":"2026-11-25T10:00:00Z","event":"ans')
    again = open_workbook(str(task_file))
    assert again.welcome().unreadable == 1
    assert again.exercise("all-drops").saved["answer"] == "22 m"
    _give(again.exercise("drop-current"), "2", "1 m")
    third = open_workbook(str(task_file))
    assert third.answered() == {"all-drops", "drop-current"}


@pytest.mark.parametrize(
    "message",
    [
        None,
        "answer",
        {"do": "answer", "answer": "5 m"},
        {"do": "answer", "token": 7, "answer": "5 m"},
        {"do": "delete", "token": "x"},
    ],
)
def test_messages_that_no_page_of_ours_sends_write_nothing_and_are_not_confirmed(
    task_file: Path, message: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    replies: list[dict[str, Any]] = []
    workbook = open_workbook(str(task_file))
    before = workbook.journal.path.read_bytes()
    widget = workbook.exercise("all-drops")
    monkeypatch.setattr(widget, "send", lambda content: replies.append(content))
    widget._received(None, message, None)
    assert workbook.journal.path.read_bytes() == before
    assert not any(reply.get("saved") for reply in replies)


def test_an_unknown_exercise_or_kind_gets_a_sentence(task_file: Path) -> None:
    workbook = open_workbook(str(task_file))
    with pytest.raises(StationError, match="no exercise 'nothing'"):
        workbook.exercise("nothing")
    workbook.task["exercises"][0]["kind"] = "riddle"
    with pytest.raises(StationError, match="does not know the exercise kind 'riddle'"):
        workbook.exercise("longest-distance")


def _refuse(*_arguments: Any, **_details: Any) -> None:
    raise OSError(errno.EROFS, os.strerror(errno.EROFS), "somewhere")


def _give(widget: Any, token: str, answer: Any) -> None:
    widget._received(widget, {"do": "answer", "token": token, "answer": answer}, None)


def _one_sentence(task_file: Path, words: str) -> None:
    with pytest.raises((StationError, TaskFileError)) as caught:
        Workbook.open(str(task_file))
    shown = caught.value._render_traceback_()
    assert len(shown) == 1
    assert words in shown[0]
    assert "\n" not in shown[0]
    assert shown[0].rstrip().endswith(".")
