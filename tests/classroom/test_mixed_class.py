"""A class with a practice lab and an assessed one: each is dealt, received and told by its own
rules."""

from __future__ import annotations

import csv
import json
from pathlib import Path
from typing import Any

import pytest
from set_clock import SetClock
from sqlalchemy import select
from tiny_class import MakeRoom, Room
from typer.testing import CliRunner

from labkit.classroom.dealing.deal_record import read_deal
from labkit.classroom.dealing.open_texts import remarks_on_secrecy
from labkit.classroom.dealing.opening_times import remarks_on_opening
from labkit.classroom.exports.exporting import export
from labkit.classroom.handins.collecting import collect
from labkit.classroom.marks.explaining import explain
from labkit.classroom.marks.scoring import score
from labkit.classroom.records.schema import grounds
from labkit.classroom.records.store import Records
from labkit.cli import app
from labkit.desk.class_day import ClassDay
from labkit.exchange.hand_in import pack
from labkit.exchange.journal import ANSWER, OPENED, Journal
from labkit.lab.library import lab_library
from labkit.station.widgets.hand_in import HandInPanel

EXAM = "{lab: exam, mode: assessed, weight: 2, opens: 2026-11-25 13:00, deadline: OVER}"
LABS = f"[tiny, {EXAM.replace('OVER', '2026-11-25 14:30')}]"
RULES = {"time_zone": "UTC", "deadline": "2026-11-27 16:00", "late": "refuse"}


def at(clock: SetClock, time: str) -> None:
    clock.set(f"2026-11-25T{time}:00Z")


@pytest.fixture
def room(make_room: MakeRoom, clock: SetClock) -> Room:
    """Dealt in the morning: `tiny` for practice, `exam`, which has the same text, assessed."""
    made = make_room("ann,Ann Orrel", labs=LABS, **RULES)
    text = (made.library / "tiny" / "lab.md").read_text("utf-8")
    (made.library / "exam").mkdir()
    (made.library / "exam" / "lab.md").write_text(text.replace("id: tiny", "id: exam"), "utf-8")
    at(clock, "08:00")
    made.deal()
    return made


def task(room: Room, lab: str) -> dict[str, Any]:
    found: dict[str, Any] = json.loads((room.home("ann") / f"{lab}.task.json").read_bytes())
    return found


def hand_in(room: Room, lab: str, option: str = "A") -> Path:
    """Answer the second exercise and hand in, by the laptop's clock as it is set."""
    journal = Journal(room.home("ann") / f"{lab}.answers.jsonl")
    journal.append(OPENED, lab=lab)
    journal.append(ANSWER, exercise="parity", answer=option)
    (room.path / "hand-ins").mkdir(exist_ok=True)
    return pack(room.home("ann") / f"{lab}.task.json", room.path / "hand-ins")


def test_each_task_file_has_its_labs_mode_and_times(room: Room) -> None:
    tiny, exam = task(room, "tiny"), task(room, "exam")
    assert (tiny["practice"], tiny["deadline"]) == (True, "2026-11-27T16:00:00Z")
    assert "opens" not in tiny
    assert all("practice" in exercise for exercise in tiny["exercises"])
    assert (exam["practice"], exam["deadline"]) == (False, "2026-11-25T14:30:00Z")
    assert exam["opens"] == "2026-11-25T13:00:00Z"
    assert not any("practice" in exercise for exercise in exam["exercises"])
    opening = (room.home("ann") / "exam.ipynb").read_text("utf-8")
    assert "*Assessed*" in opening
    assert "*Practice*" not in opening


def test_the_record_of_the_deal_has_each_labs_mode(room: Room) -> None:
    modes = {lab: said["mode"] for lab, said in read_deal(room.folder).labs.items()}
    assert modes == {"tiny": "practice", "exam": "assessed"}


def test_what_a_lab_says_is_as_if_the_class_said_it(make_room: MakeRoom, clock: SetClock) -> None:
    at(clock, "08:00")
    room = make_room(mode="assessed", deadline="2026-11-25 14:30", time_zone="UTC")
    room.deal()
    secret = (room.path / "class-secret.txt").read_bytes()

    def files() -> dict[str, bytes]:
        found = {
            str(file.relative_to(room.path)): file.read_bytes()
            for file in sorted(room.path.rglob("*"))
            if file.is_file() and file.name != "class.yaml"
        }
        assert len(found) > 6
        return found

    by_the_class = files()
    for file in room.path.rglob("*"):
        if file.is_file() and file.name not in {"roster.csv", "class-secret.txt"}:
            file.unlink()
    item = "{lab: tiny, mode: assessed, deadline: 2026-11-25 14:30}"
    room.write_class(labs=f"[{item}]", deadline="2026-11-27", time_zone="UTC")
    room.deal()
    assert (room.path / "class-secret.txt").read_bytes() == secret
    assert files() == by_the_class


@pytest.fixture
def both_at_three(room: Room, clock: SetClock) -> Room:
    """Both are handed in at 15:00, after the deadline of the one and before that of the other."""
    at(clock, "15:00")
    hand_in(room, "tiny")
    hand_in(room, "exam")
    return room


def test_each_lab_is_late_by_its_own_deadline(both_at_three: Room) -> None:
    scoring = score(both_at_three.folder)
    found = {result.dealt.lab: (result.counts, result.late) for result in scoring.results}
    assert found == {"tiny": (True, False), "exam": (False, False)}
    (notice,) = scoring.notices
    assert notice.file == "exam--ann.handin.json"
    assert "after the deadline 25 November 2026 14:30 UTC; it does not count" in notice.sentence
    told = "\n".join(explain(both_at_three.folder, "ann"))
    assert told.count("14:30") == 1
    assert "27 November" not in told


def test_late_ones_that_count_are_marked_late_by_their_own_deadline(both_at_three: Room) -> None:
    both_at_three.write_class(labs=LABS, **{**RULES, "late": "count"})
    found = {result.dealt.lab: result for result in score(both_at_three.folder).results}
    assert {lab: (one.counts, one.late) for lab, one in found.items()} == {
        "tiny": (True, False),
        "exam": (True, True),
    }


def test_each_receipt_tells_of_its_own_deadline(both_at_three: Room) -> None:
    found = {one.dealt.lab: one for one in collect(both_at_three.folder).new}
    pages = {lab: one.page.read_text("utf-8") for lab, one in found.items()}
    assert "(late: the deadline was 25 November 2026 14:30 UTC)" in pages["exam"]
    assert "deadline" not in pages["tiny"]
    assert {lab: one.late for lab, one in found.items()} == {"tiny": False, "exam": True}


def test_one_labs_new_deadline_decides_on_that_lab_alone(both_at_three: Room) -> None:
    room = both_at_three

    def decided() -> list[tuple[str, str]]:
        names = {item.workbook: item.lab for item in read_deal(room.folder).dealt}
        rows = Records.of(room.folder).rows(select(grounds).order_by(grounds.c.id))
        return [(names[row["workbook"]], row["rules"]) for row in rows]

    score(room.folder)
    before = decided()
    assert sorted(before) == [
        ("exam", "any number of attempts; none after 2026-11-25T14:30:00Z as claimed"),
        ("tiny", "any number of attempts; none after 2026-11-27T16:00:00Z as claimed"),
    ]
    room.write_class(labs=f"[tiny, {EXAM.replace('OVER', '2026-11-25 15:00')}]", **RULES)
    assert all(result.counts for result in score(room.folder).results)
    assert decided()[len(before) :] == [
        ("exam", "any number of attempts; none after 2026-11-25T15:00:00Z as claimed")
    ]


def test_a_lab_that_left_the_class_is_settled_by_the_class(both_at_three: Room) -> None:
    both_at_three.write_class(labs="[tiny]", **RULES)
    found = {result.dealt.lab: result.counts for result in score(both_at_three.folder).results}
    assert found == {"tiny": True, "exam": True}


def test_exports_have_each_labs_days_and_weight(both_at_three: Room, tmp_path: Path) -> None:
    rules = {**RULES, "late": "count", "date": "2026-11-24"}
    both_at_three.write_class(labs=LABS, **rules)
    export(both_at_three.folder, score(both_at_three.folder), tmp_path / "out")
    with (tmp_path / "out" / "oneroster" / "lineItems.csv").open(encoding="utf-8") as stream:
        rows = {row["sourcedId"]: row for row in csv.DictReader(stream)}
    days = {lab: (row["assignDate"], row["dueDate"]) for lab, row in rows.items()}
    assert days == {
        "room-7/tiny": ("2026-11-24", "2026-11-27"),
        "room-7/exam": ("2026-11-25", "2026-11-25"),
    }
    transcript = (tmp_path / "out" / "transcripts" / "ann.html").read_text("utf-8")
    assert [transcript.count(f"weight {weight}<") for weight in (1, 2)] == [1, 1]


def test_until_a_lab_opens_dealing_says_what_no_laptop_can_keep(
    room: Room, clock: SetClock
) -> None:
    (remark,) = remarks_on_opening(room.folder)
    assert remark.startswith("'exam' opens 25 November 2026 13:00 UTC. No laptop keeps")
    for file in ("exam.ipynb", "exam.task.json"):
        assert file in remark
        assert (room.home("ann") / file).exists()
    told = CliRunner().invoke(app, ["deal", str(room.path)], env={"COLUMNS": "400"})
    assert remark in told.output
    assert "No laptop keeps" in ClassDay(str(room.path)).dealing().press().below.value
    at(clock, "13:00")
    assert remarks_on_opening(room.folder) == []


def test_only_the_assessed_lab_is_named_where_a_text_is_public(room: Room) -> None:
    deal = read_deal(room.folder)
    assert remarks_on_secrecy(room.folder, deal, lab_library()) == []
    (remark,) = remarks_on_secrecy(room.folder, deal, room.library)
    assert remark.startswith("'exam' is assessed, and its text comes with labkit")


def test_of_a_class_beside_only_what_it_practised_is_named(room: Room, tmp_path: Path) -> None:
    beside = Room(tmp_path / "beside", room.library)
    beside.path.mkdir()
    beside.write_roster("ben,Ben Tasker")
    beside.write_class(labs="[tiny, exam]", mode="assessed")
    beside.deal()
    (remark,) = remarks_on_secrecy(beside.folder, read_deal(beside.folder), lab_library())
    assert remark.startswith(f"'tiny' is assessed, and it was dealt for practice in {room.path}")


@pytest.fixture
def kin(room: Room) -> Room:
    """`more` extends `tiny`; neither is dealt yet in a class beside."""
    (room.library / "more").mkdir()
    (room.library / "more" / "lab.md").write_text(
        "---\nid: more\nversion: 1.0.0\ntitle: More\nextends: tiny\n---\n", encoding="utf-8"
    )
    for file in ("deal.json", "class-secret.txt"):
        (room.path / file).unlink()
    return room


@pytest.mark.parametrize(
    ("labs", "words"),
    [
        (
            "[tiny, {lab: more, mode: assessed}]",
            "'more' is assessed, and it extends 'tiny', which was dealt for practice in this",
        ),
        (
            "[more, {lab: tiny, mode: assessed}]",
            "'tiny' is assessed, and 'more', which extends it, was dealt for practice in this",
        ),
        ("[{lab: more, mode: assessed}, {lab: tiny, mode: assessed}]", None),
    ],
)
def test_a_lab_that_is_practised_lays_its_kin_open(kin: Room, labs: str, words: str | None) -> None:
    kin.write_class(labs=labs)
    kin.deal()
    found = remarks_on_secrecy(kin.folder, read_deal(kin.folder), lab_library())
    if words is None:
        assert found == []
        return
    (remark,) = found
    assert remark.startswith(words)


def test_the_desk_shows_each_labs_rules(room: Room) -> None:
    shown = ClassDay(str(room.path)).overview().value
    for word in ("assessed", "practice", "2026-11-25T13:00:00Z", "2026-11-25T14:30:00Z"):
        assert shown.count(word) == 1
    assert "any time" in shown
    room.write_class(labs="[tiny, exam]", **RULES)
    shown = ClassDay(str(room.path)).overview().value
    assert "opens" not in shown
    assert shown.count("2026-11-27T16:00:00Z") == 1


def test_the_panel_is_told_when_a_lab_opens(room: Room) -> None:
    for lab, opens in (("tiny", ""), ("exam", "2026-11-25T13:00:00Z")):
        file = room.home("ann") / f"{lab}.task.json"
        panel = HandInPanel(file, task(room, lab), [], catch_up=lambda: None)  # type: ignore[arg-type]
        assert panel.opens == opens
