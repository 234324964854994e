"""Who handed in and who did not; what is told of files, each kind once; looking writes nothing."""

from __future__ import annotations

import json
from pathlib import Path
from typing import get_args

from set_clock import SetClock
from tiny_class import MakeRoom, Room

from labkit.classroom.handins.choosing import Notice, Reason
from labkit.classroom.handins.collecting import collect
from labkit.classroom.handins.explained import explained
from labkit.classroom.handins.retaking import retake
from labkit.classroom.handins.turnout import Turnout, handed_in
from labkit.classroom.records.schema import together
from labkit.classroom.records.store import Records


def by_id(room: Room) -> dict[str, Turnout]:
    return {one.item.trainee: one for one in handed_in(room.folder).turnout}


def test_nothing_is_dealt_and_nothing_is_made(make_room: MakeRoom) -> None:
    made = make_room()
    assert handed_in(made.folder).turnout == []
    made.deal()
    assert all(one.missing for one in handed_in(made.folder).turnout)
    assert not (made.path / "records.sqlite").exists()


def test_the_missing_are_those_that_receiving_names(room: Room) -> None:
    for trainee in ("ben", "cy"):
        room.hand_in(trainee)
        found = collect(room.folder)
        missing = [one.item for one in handed_in(room.folder).turnout if one.missing]
        assert missing == found.missing


def test_of_several_the_one_that_counts_is_told(room: Room, clock: SetClock) -> None:
    clock.set("2030-01-01T10:00:00Z")
    room.hand_in("ann", {"double": "1 m"})
    collect(room.folder)
    clock.set("2030-01-01T11:00:00Z")
    made = room.hand_in("ann")
    collect(room.folder)
    (room.path / "hand-ins" / "a copy.handin.json").write_bytes(made.read_bytes())
    collect(room.folder)
    ann = by_id(room)["ann"]
    assert ann.came_in == 2, "a copy is none of its own"
    assert ann.counts is not None
    assert ann.counts.made_at == "2030-01-01T11:00:00Z"
    reasons = [kind.reason for kind in explained(handed_in(room.folder).notices)]
    assert reasons == ["older copy", "same file twice"]


def test_late_is_told_as_the_class_decides_it(make_room: MakeRoom, clock: SetClock) -> None:
    made = make_room(deadline="2030-01-01T09:00:00Z")
    made.deal()
    clock.set("2030-01-01T10:00:00Z")
    made.hand_in("ann")
    collect(made.folder)
    assert by_id(made)["ann"].late
    assert not by_id(made)["ben"].late


def test_where_none_counts_it_came_in_all_the_same(make_room: MakeRoom, clock: SetClock) -> None:
    made = make_room(deadline="2030-01-01T09:00:00Z", late="refuse")
    made.deal()
    clock.set("2030-01-01T10:00:00Z")
    made.hand_in("ann")
    collect(made.folder)
    ann = by_id(made)["ann"]
    assert (ann.missing, ann.came_in, ann.counts, ann.late) == (False, 1, None, False)


def test_a_retake_that_was_dealt_is_what_is_missing(room: Room) -> None:
    room.hand_in("ann")
    collect(room.folder)
    retake(room.folder, room.library, ["ann"])
    ann = by_id(room)["ann"]
    assert (ann.item.attempt, ann.missing) == (2, True)


def test_who_works_with_another_has_handed_in_with_them(room: Room) -> None:
    room.hand_in("ann")
    collect(room.folder)
    ann, ben, _ = room.dealt.dealt
    pair = {"workbook": ben.workbook, "host": ann.workbook, "shared": True, "hand": False}
    said = {"entry": "1", "by": "Mira", "since": "2030-01-01T10:00:00Z"}
    Records.of(room.folder).add(together, [{**pair, **said}])
    found = by_id(room)
    assert [found[name].missing for name in ("ann", "ben", "cy")] == [False, False, True]
    assert (found["ann"].together, found["ben"].together) == (("Ben Tasker",), ("Ann Orrel",))


def test_work_in_the_room_is_told_of_who_is_missing(room: Room) -> None:
    journals = room.folder.journals / "ben"
    journals.mkdir(parents=True)
    (journals / "tiny.answers.jsonl").write_text("{}\n")
    found = by_id(room)
    assert [found[name].begun for name in ("ann", "ben", "cy")] == [False, True, False]


def test_a_damaged_file_is_told_with_its_name(room: Room, tmp_path: Path) -> None:
    made = room.hand_in("ann")
    stick = tmp_path / "cut.handin.json"
    stick.write_bytes(made.read_bytes()[:150])
    collect(room.folder, [stick])
    (damaged,) = explained(handed_in(room.folder).notices)
    assert (damaged.reason, [notice.file for notice in damaged.notices]) == (
        "damaged",
        ["cut.handin.json"],
    )


def test_every_reason_is_explained_once() -> None:
    notices = [Notice("a", reason, "b") for reason in get_args(Reason)]
    kinds = explained([*notices, *notices])
    assert {kind.reason for kind in kinds} == set(get_args(Reason))
    assert all(len(kind.notices) == 1 and kind.sentence.endswith(".") for kind in kinds)
    assert len({kind.title for kind in kinds}) == len(kinds)


def test_what_was_foreign_and_came_in_later_is_not_told(room: Room) -> None:
    room.hand_in("ann")
    record = room.path / "deal.json"
    whole = record.read_bytes()
    content = json.loads(whole)
    content["dealt"] = content["dealt"][1:]
    record.write_text(json.dumps(content))
    collect(room.folder)
    assert [notice.reason for notice in handed_in(room.folder).notices] == ["foreign"]
    record.write_bytes(whole)
    collect(room.folder)
    assert handed_in(room.folder).notices == []
