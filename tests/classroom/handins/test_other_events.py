"""A journal has room for events to come: they are kept and handed in, and change no mark."""

from __future__ import annotations

import json
import shutil
from pathlib import Path
from typing import Any

from laptops import answered, opened
from tiny_class import Room

from labkit.classroom.analysis.effort import time_spent
from labkit.classroom.handins.examiner import Examiner
from labkit.classroom.marks.explaining import explain
from labkit.classroom.marks.scoring import score
from labkit.exchange.hand_in import pack
from labkit.station.workbook import Workbook


def with_other_events(journal: Path) -> int:
    """Put entries of other events before, between and after those of a journal."""
    lines = journal.read_bytes().splitlines(keepends=True)
    own = [json.loads(line) for line in lines]
    token = json.dumps({"event": "token", "exercise": "plan", "answer": {"pump": "1"}}).encode()
    for place, entry in reversed(list(enumerate(own))):
        later = {"at": "2040-01-01T00:00:00Z", "exercise": "double", "answer": "1 m", "hint": 2}
        drill = json.dumps({**entry, **later, "event": "drill", "token": f"t{place}"}).encode()
        lines.insert(place + 1, drill + b"\n")
        lines.insert(place, token + b"\n")
    journal.write_bytes(b"".join(lines))
    return 2 * len(own)


def marks(room: Room) -> Any:
    """Everything that scoring says of Ann's answers, and the time that they took."""
    (result, *_) = score(room.folder).results
    text = explain(room.folder, "ann", "tiny")
    assert result.hand_in
    told = [line for line in text if "Try" in line or "Hint" in line or "marks" in line]
    facts = [(m.exercise, m.earned, m.tries, m.hints, m.answer, m.verdict) for m in result.marks]
    return facts, told, time_spent(result.hand_in.journal)


def test_they_change_no_mark_no_time_and_no_attempt_and_none_is_lost(
    room: Room, tmp_path: Path
) -> None:
    answers = {**room.right("ann"), "parity": room.option("ann", "It is odd.")}
    room.hand_in("ann", answers, hints=1)
    other = Room(tmp_path / "other", room.library)
    shutil.copytree(room.path, other.path)
    added = with_other_events(other.home("ann") / "tiny.answers.jsonl")
    made = pack(other.home("ann") / "tiny.task.json", other.path / "hand-ins")
    journal = json.loads(made.read_bytes())["journal"]
    assert len([entry for entry in journal if entry["event"] in ("drill", "token")]) == added
    assert marks(other) == marks(room)
    reader = Examiner.of(other.folder).reader
    found = [
        reader.examine(made.name, (each.path / "hand-ins" / made.name).read_bytes())
        for each in (room, other)
    ]
    assert found[0].answers == found[1].answers != ""


def test_they_take_no_time_from_an_exercise() -> None:
    journal = [opened("10:00"), answered("10:05", "1 m"), answered("10:09", "2 m")]
    drill = {**answered("10:07", "3 m"), "event": "drill"}
    assert time_spent([*journal[:2], drill, journal[2]]) == time_spent(journal)
    assert time_spent(journal).seconds == {"double": 540}


def test_the_workbook_shows_the_same_and_a_page_may_send_their_tokens(room: Room) -> None:
    file = room.home("ann") / "tiny.task.json"
    room.hand_in("ann", {"double": "1 m"}, hints=1)
    before = Workbook.open(str(file))
    shown = [before.exercise(name).saved for name in ("double", "parity", "plan")]
    with_other_events(room.home("ann") / "tiny.answers.jsonl")
    workbook = Workbook.open(str(file))
    assert workbook.answered() == {"double"}
    assert [workbook.exercise(name).saved for name in ("double", "parity", "plan")] == shown
    widget = workbook.exercise("double")
    widget._received(widget, {"do": "answer", "token": "t1", "answer": "2 m"}, [])
    assert widget.saved["answer"] == "2 m"


def test_whose_hand_did_it_is_kept_and_changes_no_mark(room: Room, tmp_path: Path) -> None:
    room.hand_in("ann", {"double": "1 m", "plan": {"pump": "1"}}, hints=1)
    other = Room(tmp_path / "other", room.library)
    shutil.copytree(room.path, other.path)
    file = other.home("ann") / "tiny.answers.jsonl"
    lines = [json.loads(line) for line in file.read_bytes().splitlines()]
    named = [{**entry, "by": "ben"} if "exercise" in entry else entry for entry in lines]
    file.write_text("".join(json.dumps(entry) + "\n" for entry in named), encoding="utf-8")
    made = pack(other.home("ann") / "tiny.task.json", other.path / "hand-ins")
    hands = [entry.get("by") for entry in json.loads(made.read_bytes())["journal"]]
    assert hands.count("ben") >= 3
    assert marks(other) == marks(room)
    workbook = Workbook.open(str(other.home("ann") / "tiny.task.json"))
    assert workbook.answered() == {"double", "plan"}
