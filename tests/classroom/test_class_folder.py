"""class.yaml: mistakes come with file, line and field; times are understood; secrets are kept."""

from __future__ import annotations

import os
import re
from pathlib import Path

import pytest
from tiny_class import MakeRoom, Room

from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.errors import ClassError
from labkit.language.problems import DefinitionError

GOOD = {"id": "c", "title": "C", "labs": "[tiny]", "mode": "practice"}


def opened(folder: Path, **fields: str | None) -> ClassFolder:
    lines = [f"{name}: {value}" for name, value in {**GOOD, **fields}.items() if value is not None]
    (folder / "class.yaml").write_text("\n".join(lines), encoding="utf-8")
    return ClassFolder.open(folder)


@pytest.mark.parametrize(
    ("field", "value", "line", "words"),
    [
        ("id", None, 1, "is missing"),
        ("id", "Class A/..", 1, "not allowed here"),
        ("title", "", 2, "is empty"),
        ("labs", "tiny", 3, "must be a list"),
        ("labs", "[]", 3, "is an empty list"),
        ("labs", "[tiny, tiny]", 3, "there twice"),
        ("labs", "['../x']", 3, "not allowed here"),
        ("mode", "exam", 4, "practice or assessed"),
        ("late", "sometimes", 5, "count or refuse"),
        ("deadline_by", "made", 5, "claimed or received"),
        ("deadline", "soon", 5, "2026-11-25 16:30"),
        ("deadline", "2026-13-01", 5, "2026-11-25 16:30"),
        ("deadline", "0001-01-01 00:00+14:00", 5, "2026-11-25 16:30"),
        ("dead-line", "2026-11-25", 5, "Did you mean 'deadline'"),
    ],
)
def test_a_mistake_names_file_line_field_and_a_mend(
    tmp_path: Path, field: str, value: str | None, line: int, words: str
) -> None:
    with pytest.raises(DefinitionError) as caught:
        opened(tmp_path, **{field: value})
    assert f"class.yaml, line {line}, field '{field}" in str(caught.value)
    assert words in str(caught.value)


@pytest.mark.parametrize("text", ["{", "- a\n- b", "a: [", "", "\x00", "id: &x [*x]"])
def test_what_is_no_yaml_of_fields_gets_sentences(tmp_path: Path, text: str) -> None:
    (tmp_path / "class.yaml").write_text(text, encoding="utf-8")
    with pytest.raises(DefinitionError, match=r"class\.yaml, line"):
        ClassFolder.open(tmp_path)


@pytest.mark.parametrize(
    ("written", "meant"),
    [
        ("2026-11-25 16:30+00:00", "2026-11-25T16:30:00Z"),
        ("2026-11-25T16:30Z", "2026-11-25T16:30:00Z"),
        ("2026-11-25 16:30:05+02:00", "2026-11-25T14:30:05Z"),
        ("2026-11-25 16:30", "2026-11-25T14:30:00Z"),
        ("2026-11-25", "2026-11-25T21:59:59Z"),
        ("", None),
    ],
)
def test_a_deadline_without_an_offset_is_by_the_instructors_clock(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, written: str, meant: str | None
) -> None:
    import time

    monkeypatch.setenv("TZ", "Etc/GMT-2")  # POSIX signs: two hours ahead of UTC
    time.tzset()
    try:
        assert opened(tmp_path, deadline=written).fields.deadline == meant
    finally:
        monkeypatch.undo()
        time.tzset()


def test_a_folder_that_is_no_class_gets_a_sentence(tmp_path: Path) -> None:
    for path in (tmp_path, tmp_path / "nowhere"):
        with pytest.raises(ClassError, match="not a class folder"):
            ClassFolder.open(path)
    (tmp_path / "class.yaml").write_bytes(b"\xff\xfe\x00")
    with pytest.raises(ClassError, match="not a class folder"):
        ClassFolder.open(tmp_path)


def test_a_lab_that_is_not_there_is_named(make_room: MakeRoom) -> None:
    made = make_room(labs="[tiny, none-such]")
    with pytest.raises(ClassError, match="'none-such' is not there"):
        made.deal()
    assert not (made.path / "workbooks").exists()
    assert not (made.path / "labs").exists()


@pytest.mark.skipif(os.name != "posix", reason="owners and modes are POSIX's")
def test_only_the_owner_may_read_the_secret(make_room: MakeRoom) -> None:
    made = make_room()
    file = made.path / "class-secret.txt"
    file.unlink()
    made.deal()
    assert file.stat().st_mode & 0o777 == 0o600
    assert re.fullmatch(r"[0-9a-f]{64}\n", file.read_text())


@pytest.mark.parametrize("damage", ["", "abc", "\x00" * 64, "G" * 64, "é" * 64])
def test_a_damaged_secret_is_said_and_left_alone(room: Room, damage: str) -> None:
    file = room.path / "class-secret.txt"
    file.write_bytes(damage.encode("latin-1"))
    with pytest.raises(ClassError, match="damaged: bring it back"):
        room.deal()
    assert file.read_bytes() == damage.encode("latin-1")


def test_a_secret_that_was_dealt_with_is_never_made_anew(room: Room) -> None:
    (room.path / "class-secret.txt").unlink()
    with pytest.raises(ClassError, match="missing"):
        room.deal()
    assert not (room.path / "class-secret.txt").exists()


EVERYTHING = """\
id: c
title: C
labs: [tiny, other]
weights: {other: 2.5}
mode: assessed
date: 2026-11-27
place: Packing hall, room 7
time_zone: Asia/Kathmandu
attempts: 2
deadline: 2026-11-27 16:30
late: refuse
pass_mark: 60
keep_until: 2027-11-30
"""


def test_everything_that_a_class_file_may_hold_is_read(tmp_path: Path) -> None:
    (tmp_path / "class.yaml").write_text(EVERYTHING, encoding="utf-8")
    fields = ClassFolder.open(tmp_path).fields
    assert (fields.date, fields.place) == ("2026-11-27", "Packing hall, room 7")
    assert (fields.attempts, fields.pass_mark, fields.keep_until) == (2, 60, "2027-11-30")
    assert [fields.weight(lab) for lab in fields.labs] == [1, 2.5]
    # Kathmandu is 5 h 45 min ahead of UTC (IANA time zone database).
    assert fields.deadline == "2026-11-27T10:45:00Z"
    assert fields.spoken(fields.deadline) == "27 November 2026 16:30 UTC+05:45"


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("weights: {tiny: 0}", "must be more than 0"),
        ("weights: {none: 1}", "not one of the labs"),
        ("weights: 3", "must be a group of fields"),
        ("attempts: 0", "at least 1"),
        ("attempts: some", "Write 1, 2, 3 or more"),
        ("pass_mark: 101", "at most 100"),
        ("pass_mark: nan", "not a number"),
        ("date: tomorrow", "2026-11-25"),
        ("keep_until: 2026-02-30", "2026-11-25"),
        ("time_zone: Mars/Olympus", "Write one such as UTC"),
        ("time_zone: ../../etc/passwd", "Write one such as UTC"),
        ("time_zone: /etc/localtime", "Write one such as UTC"),
    ],
)
def test_a_wrong_rule_names_its_line_and_a_mend(tmp_path: Path, line: str, words: str) -> None:
    (tmp_path / "class.yaml").write_text(
        f"id: c\ntitle: C\nlabs: [tiny]\nmode: practice\n{line}\n", encoding="utf-8"
    )
    with pytest.raises(DefinitionError) as caught:
        ClassFolder.open(tmp_path)
    assert f"class.yaml, line 5, field '{line.split(':')[0]}" in str(caught.value)
    assert words in str(caught.value)


def test_a_deadline_follows_the_clock_of_the_class_through_summer_time(tmp_path: Path) -> None:
    def deadline(written: str) -> str | None:
        zone = {"time_zone": "Europe/Berlin"}
        return opened(tmp_path, **zone, deadline=written).fields.deadline

    assert deadline("2026-07-01 12:00") == "2026-07-01T10:00:00Z"
    assert deadline("2026-12-01 12:00") == "2026-12-01T11:00:00Z"
    assert deadline("2026-12-01 12:00+05:00") == "2026-12-01T07:00:00Z"
    assert deadline("2026-12-01") == "2026-12-01T22:59:59Z"
    # Directive 2000/84/EC: the clocks go from 01:00 to 02:00 UTC on the last Sunday of March.
    with pytest.raises(DefinitionError, match="does not exist in Europe/Berlin"):
        deadline("2026-03-29 02:30")


def test_two_rosters_are_one_too_many(room: Room) -> None:
    (room.path / "roster.xlsx").write_bytes(b"")
    with pytest.raises(ClassError, match="two rosters"):
        room.folder.trainees  # noqa: B018
