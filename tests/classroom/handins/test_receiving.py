"""A hand-in is data: whatever is wrong with one is said, and costs nobody else a mark."""

from __future__ import annotations

import copy
import json
import os
import pickle
import random
import shutil
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from set_clock import SetClock
from tiny_class import MakeRoom, Room

from labkit.classroom.handins.choosing import Notice
from labkit.classroom.handins.examiner import Examiner
from labkit.classroom.handins.intake import files_in
from labkit.classroom.handins.receiving import MAX_BYTES
from labkit.classroom.handins.settling import _know, settle
from labkit.classroom.marks.crew import Crew
from labkit.classroom.marks.results import Results
from labkit.classroom.marks.scoring import mark_files, score
from labkit.classroom.records.store import Records
from labkit.classroom.result import Result
from labkit.exchange.hand_in import signed_text
from labkit.exchange.signing import sign

SETTINGS = settings(
    deadline=None,
    max_examples=60,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)


@dataclass(frozen=True)
class Received:
    """What some files hold, by records that begin empty."""

    hand_ins: tuple[Result, ...]
    notices: tuple[Notice, ...]


def received(room: Room, files: list[Path] | None = None) -> Received:
    examiner, records = Examiner.of(room.folder), Records.temporary()
    _know(records, examiner.deal)
    given = files_in(*(files if files is not None else [room.path / "hand-ins"]))
    notices = mark_files(examiner, records, given, Crew())
    notices += settle(records, examiner.deal, room.folder.fields)
    found = tuple(result for result in Results(examiner, records) if result.counts)
    return Received(found, tuple(notices))


def reasons(room: Room) -> dict[str, str]:
    return {notice.file: notice.reason for notice in received(room).notices}


def resigned(room: Room, trainee: str, content: dict[str, Any]) -> bytes:
    """What a trainee who knows how to sign can make of a hand-in: they have their own key."""
    task = json.loads((room.home(trainee) / "tiny.task.json").read_bytes())
    signature = sign(task["signing_key"], signed_text(content))
    return json.dumps({**content, "signature": signature}, ensure_ascii=False).encode()


@pytest.fixture
def handed(room: Room) -> Room:
    """All three have handed in right answers."""
    for trainee in ("ann", "ben", "cy"):
        room.hand_in(trainee)
    return room


def file_of(room: Room, trainee: str) -> Path:
    return room.path / "hand-ins" / f"tiny--{trainee}.handin.json"


def only_ann_suffers(room: Room, reason: str) -> None:
    """Ann's file has the reason, and the others their full marks."""
    assert reasons(room) == {"tiny--ann.handin.json": reason}
    assert [result.earned for result in score(room.folder).results] == [0, 8, 8]


def test_whole_hand_ins_count_without_a_word(handed: Room) -> None:
    found = received(handed)
    assert found.notices == ()
    assert sorted(item.dealt.trainee for item in found.hand_ins) == ["ann", "ben", "cy"]


DAMAGE = {
    "empty": b"",
    "binary": bytes(range(256)) * 20,
    "text": b"my answers are 4 m",
    "list": b"[]",
    "null": b"null",
    "deep": b"[" * 100_000,
    "deep and closed": b"[" * 900 + b"]" * 900,
    "not a number": b'{"format": NaN}',
    "utf-16": '{"format": "labkit hand-in"}'.encode("utf-16"),
    "pickle": pickle.dumps({"format": "labkit hand-in"}),
    "too long": b'{"format": "' + b"x" * MAX_BYTES + b'"}',
    "no fields": b'{"format": "labkit hand-in", "format_version": 1}',
    "no version": b'{"format": "labkit hand-in"}',
}


@pytest.mark.parametrize("name", DAMAGE)
def test_a_damaged_file_is_listed_and_harms_no_other(handed: Room, name: str) -> None:
    file_of(handed, "ann").write_bytes(DAMAGE[name])
    only_ann_suffers(handed, "damaged")


@pytest.mark.parametrize("share", [0.01, 0.3, 0.6, 0.999])
def test_a_file_that_was_cut_off_is_damaged(handed: Room, share: float) -> None:
    file = file_of(handed, "ann")
    file.write_bytes(file.read_bytes()[: int(len(file.read_bytes()) * share)])
    only_ann_suffers(handed, "damaged")


def leaves(value: Any, path: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    items = value.items() if isinstance(value, dict) else enumerate(value)
    for key, item in items:
        if isinstance(item, dict | list) and item:
            yield from leaves(item, (*path, key))
        else:
            yield (*path, key)


OTHER_VALUES = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(-5, 5),
    st.floats(allow_nan=False, allow_infinity=False),
    st.text(max_size=8),
    st.just("0" * 64),
    st.lists(st.integers(), max_size=2),
    st.dictionaries(st.text(max_size=3), st.integers(), max_size=2),
)


@SETTINGS
@given(data=st.data())
def test_any_field_that_is_changed_is_refused(handed: Room, data: st.DataObject) -> None:
    content = json.loads(file_of(handed, "ann").read_bytes())
    path = data.draw(st.sampled_from(list(leaves(content))))
    spoilt = copy.deepcopy(content)
    place = spoilt
    for step in path[:-1]:
        place = place[step]
    other = data.draw(OTHER_VALUES)
    # 1 and 1.0 and true are equal in Python, not in JSON.
    if json.dumps(place[path[-1]]) == json.dumps(other):
        return
    place[path[-1]] = other
    file = handed.path / "changed.json"
    file.write_text(json.dumps(spoilt))
    found = received(handed, [file])
    assert found.hand_ins == ()
    assert found.notices[0].reason in ("tampered", "foreign", "damaged")


def test_a_field_taken_out_put_in_or_moved_is_refused(handed: Room) -> None:
    content = json.loads(file_of(handed, "ann").read_bytes())
    file = handed.path / "changed.json"
    for name in content:
        file.write_text(json.dumps({key: content[key] for key in content if key != name}))
        assert received(handed, [file]).hand_ins == ()
    file.write_text(json.dumps({**content, "marks": 8}))
    assert received(handed, [file]).hand_ins == ()
    answers = [*content["journal"][:1], *reversed(content["journal"][1:])]
    file.write_text(json.dumps({**content, "journal": answers}))
    assert received(handed, [file]).notices[0].reason == "tampered"
    file.write_text(json.dumps(dict(reversed(content.items())), indent=4))
    assert len(received(handed, [file]).hand_ins) == 1, "order of keys and spaces is not content"


def test_a_field_written_twice_cannot_smuggle_another_value_in(handed: Room) -> None:
    file = file_of(handed, "ann")
    text = file.read_text()
    file.write_text(text.replace('"journal":', '"journal": [], "journal":', 1))
    assert len(received(handed).hand_ins) == 3
    file.write_text(text[: text.rindex("}")] + ', "journal": []}')
    only_ann_suffers(handed, "tampered")


def test_answers_of_a_neighbour_do_not_pass_as_ones_own(handed: Room) -> None:
    ann, ben = (json.loads(file_of(handed, name).read_bytes()) for name in ("ann", "ben"))
    key = json.loads((handed.home("ann") / "tiny.task.json").read_bytes())["signing_key"]
    forged = {**ann, "workbook": ben["workbook"], "trainee": ben["trainee"]}
    forged["signature"] = sign(key, signed_text(forged))
    file_of(handed, "ann").write_text(json.dumps(forged))
    only_ann_suffers(handed, "tampered")


@pytest.mark.parametrize(
    ("change", "reason"),
    [
        ({"trainee": {"id": "ben", "name": "Ben"}}, "tampered"),
        ({"lab": {"id": "other", "version": "1", "digest": "x"}}, "tampered"),
        ({"class": "room-8"}, "foreign"),
        ({"workbook": "0" * 16}, "foreign"),
        ({"format": "another tool"}, "foreign"),
        ({"format_version": 2, "more": 1}, "foreign"),
        ({"made_at": "2026-99-99T99:99:99Z"}, "damaged"),
        ({"made_at": "2026-1-1T1:1:1Z"}, "damaged"),
        ({"made_at": "٢٠٢٦-01-01T00:00:00Z"}, "damaged"),
        ({"unreadable_lines": -1}, "damaged"),
        ({"unreadable_lines": True}, "damaged"),
        ({"journal": [["answer"]]}, "damaged"),
        ({"journal": [{}] * 50_001}, "damaged"),
        ({"trainee": {"id": "ann", "name": "x" * 201}}, "damaged"),
    ],
)
def test_a_well_signed_lie_is_refused_too(
    handed: Room, change: dict[str, Any], reason: str
) -> None:
    content = {**json.loads(file_of(handed, "ann").read_bytes()), **change}
    file_of(handed, "ann").write_bytes(resigned(handed, "ann", content))
    only_ann_suffers(handed, reason)


def test_a_well_signed_hand_in_of_another_version_of_the_lab_is_foreign(handed: Room) -> None:
    content = json.loads(file_of(handed, "ann").read_bytes())
    content["lab"]["digest"] = "0" * 64
    file_of(handed, "ann").write_bytes(resigned(handed, "ann", content))
    only_ann_suffers(handed, "foreign")


def test_a_well_signed_answer_nested_without_end_is_only_damaged(handed: Room) -> None:
    content = json.loads(file_of(handed, "ann").read_bytes())
    content["journal"] = [{"event": "answer", "answer": "HERE"}]
    deep = "[" * 990 + "]" * 990
    text = resigned(handed, "ann", content).decode().replace('"HERE"', deep)
    file_of(handed, "ann").write_text(text)
    only_ann_suffers(handed, "damaged")


def test_the_same_file_twice_counts_once(handed: Room) -> None:
    shutil.copy(file_of(handed, "ann"), handed.path / "hand-ins" / "copy.json")
    assert list(reasons(handed).values()) == ["same file twice"]
    assert [result.earned for result in score(handed.folder).results] == [8, 8, 8]


def test_of_two_hand_ins_the_later_one_counts(room: Room, clock: SetClock) -> None:
    clock.set("2030-11-20T10:00:00Z")
    early = room.hand_in("ann", {"parity": "a"})
    early.rename(early.with_name("z-early.json"))
    clock.set("2030-11-20T10:00:01Z")
    room.hand_in("ann")
    assert reasons(room) == {"z-early.json": "older copy"}
    assert score(room.folder).results[0].earned == 8


def test_late_hand_ins_count_or_not_as_the_class_says(room: Room, clock: SetClock) -> None:
    clock.set("2030-11-20T10:00:00Z")
    in_time = room.hand_in("ann")
    in_time.rename(in_time.with_name("in-time.json"))
    clock.set("2030-11-20T10:00:01Z")
    room.hand_in("ann", {"double": "1 m"})
    room.hand_in("ben")
    room.write_class(deadline="2030-11-20 10:00:00+00:00", late="count")
    counted = score(room.folder)
    assert [result.late for result in counted.results] == [True, True, False]
    assert [result.earned for result in counted.results] == [4, 8, 0]
    room.write_class(deadline="2030-11-20 10:00:00+00:00", late="refuse")
    refused = score(room.folder)
    # Ann's hand-in in time is not lost because she handed in once more.
    assert [result.earned for result in refused.results] == [8, 0, 0]
    late = [notice for notice in refused.notices if notice.reason == "late"]
    assert [notice.file[:9] for notice in late] == ["tiny--ann", "tiny--ben"]
    assert all("does not count" in notice.sentence for notice in late)


def test_a_damaged_journal_is_said_and_the_rest_counts(room: Room) -> None:
    journal = room.home("ann") / "tiny.answers.jsonl"
    journal.write_bytes(b'{"event": "answer", "exer\n\xff\xfe\n')
    room.hand_in("ann")
    assert reasons(room) == {"tiny--ann.handin.json": "journal damaged"}
    assert score(room.folder).results[0].earned == 8


def test_the_order_of_the_files_does_not_matter(handed: Room, clock: SetClock) -> None:
    folder = handed.path / "hand-ins"
    for name in ("one", "two"):
        (folder / name).mkdir()
        shutil.copy(file_of(handed, "ann"), folder / name / "same.json")
        (folder / name / "other.json").write_text("{" if name == "one" else '{"format": 1}')
    clock.set("2030-01-01T00:00:00Z")
    handed.hand_in("ben", {"double": "1 m"})
    (folder / "bad.json").write_text("{")
    files = list(folder.rglob("*"))
    results = []
    for seed in range(6):
        random.Random(seed).shuffle(files)
        results.append(received(handed, files))
    assert all(result == results[0] for result in results)


def test_a_program_in_the_folder_is_never_run(handed: Room, tmp_path: Path) -> None:
    trap = tmp_path / "sprung"
    folder = handed.path / "hand-ins"

    class Bomb:
        def __reduce__(self) -> tuple[Any, ...]:
            return (os.mkdir, (str(trap),))

    code = f"import os; os.mkdir({str(trap)!r})"
    for name in ("a.py", "conftest.py", "__init__.py", "orjson.py", "a.json"):
        (folder / name).write_text(code)
    for name in ("b.pkl", "b.json", "b.handin.json"):
        (folder / name).write_bytes(pickle.dumps(Bomb()))
    cell = {"cell_type": "code", "source": code, "metadata": {}, "outputs": []}
    (folder / "c.ipynb").write_text(json.dumps({"cells": [cell], "nbformat": 4}))
    (folder / "c.json").write_text(json.dumps({"cells": [cell], "nbformat": 4}))
    before = Path.cwd()
    os.chdir(folder)
    try:
        scoring = score(handed.folder)
    finally:
        os.chdir(before)
    assert not trap.exists()
    assert [result.earned for result in scoring.results] == [8, 8, 8]
    listed = {notice.file: notice.reason for notice in scoring.notices}
    assert len(listed) == 10
    assert set(listed.values()) == {"damaged", "foreign"}


def test_a_hand_in_that_mail_renamed_still_counts(handed: Room) -> None:
    file = file_of(handed, "ann")
    file.rename(file.with_name("tiny--ann.handin.json.txt"))
    file_of(handed, "ben").rename(file.with_name("TINY~1.JSON"))
    assert [result.earned for result in score(handed.folder).results] == [8, 8, 8]


@pytest.mark.skipif(os.name != "posix", reason="links and pipes are POSIX's")
def test_links_pipes_and_folders_do_no_harm(handed: Room) -> None:
    folder = handed.path / "hand-ins"
    (folder / "folder.handin.json").mkdir()
    (folder / "gone.json").symlink_to(folder / "nowhere")
    (folder / "loop.json").symlink_to(folder / "loop.json")
    (folder / "endless.json").symlink_to("/dev/zero")
    (folder / "secret.json").symlink_to(handed.path / "class-secret.txt")
    os.mkfifo(folder / "pipe.json")
    (folder / ".hidden.json").write_text("{")
    (folder / os.fsdecode(b"\xff.json")).write_text("{")
    scoring = score(handed.folder)
    assert [result.earned for result in scoring.results] == [8, 8, 8]
    listed = {notice.file: notice.reason for notice in scoring.notices}
    assert listed == {
        "gone.json": "not read",
        "loop.json": "not read",
        "endless.json": "not read",
        "secret.json": "not read",
        "pipe.json": "foreign",
        "?.json": "damaged",
    }
    secret = handed.folder.secret()
    assert not any(secret in notice.sentence for notice in scoring.notices)


@SETTINGS
@given(st.binary(max_size=400))
def test_any_bytes_are_received_without_an_error(handed: Room, data: bytes) -> None:
    file = handed.path / "any.json"
    file.write_bytes(data)
    assert received(handed, [file]).hand_ins == ()


def test_a_class_where_nobody_handed_in_is_scored(make_room: MakeRoom) -> None:
    made = make_room()
    made.deal()
    scoring = score(made.folder)
    assert not any(result.counts for result in scoring.results)
    assert scoring.notices == ()
