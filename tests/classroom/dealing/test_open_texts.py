"""Dealing an assessed class says which of its labs trainees may have the text of."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from tiny_class import MakeRoom, Room

from labkit.classroom.class_folder import ClassFolder
from labkit.classroom.dealing.deal import deal
from labkit.classroom.dealing.deal_record import read_deal
from labkit.classroom.dealing.open_texts import remarks_on_secrecy
from labkit.lab.library import lab_library


def remarks(room: Room, library: Path | None = None) -> list[str]:
    return remarks_on_secrecy(room.folder, read_deal(room.folder), library or lab_library())


def test_a_lab_of_ones_own_that_nobody_has_is_passed_in_silence(make_room: MakeRoom) -> None:
    room = make_room(mode="assessed")
    room.deal()
    assert remarks(room) == []


@pytest.mark.parametrize(("mode", "count"), [("assessed", 1), ("practice", 0)])
def test_a_lab_that_comes_with_labkit_is_public(make_room: MakeRoom, mode: str, count: int) -> None:
    room = make_room(mode=mode, labs="[plan-the-trunk]")
    deal(room.folder, lab_library())
    found = remarks(room)
    assert len(found) == count
    assert all("its text comes with labkit" in remark for remark in found)


def test_a_lab_that_extends_a_public_one_is_named(make_room: MakeRoom) -> None:
    room = make_room(mode="assessed", labs="[mine]")
    library = room.library
    (library / "mine").mkdir()
    (library / "mine" / "lab.md").write_text(
        "---\nid: mine\nversion: 1.0.0\ntitle: Mine\nextends: tiny\n---\n", encoding="utf-8"
    )
    deal(room.folder, library)
    shutil.rmtree(library / "mine")
    assert "it extends 'tiny' of labkit" in remarks(room, library)[0]


def test_a_lab_with_an_exercise_of_a_public_one_is_named(make_room: MakeRoom) -> None:
    room = make_room(mode="assessed", labs="[mine]")
    (room.library / "mine").mkdir()
    (room.library / "mine" / "lab.md").write_text(
        "---\nid: mine\nversion: 1.0.0\ntitle: Mine\n---\n\n"
        "```exercise a\nfrom: tiny/double\n```\n",
        encoding="utf-8",
    )
    deal(room.folder, room.library)
    shutil.rmtree(room.library / "mine")
    (found,) = remarks(room, room.library)
    assert "it takes an exercise from 'tiny' of labkit" in found


def test_a_lab_that_another_class_beside_practised_with_is_named(
    make_room: MakeRoom, tmp_path: Path
) -> None:
    room = make_room(mode="practice")
    room.deal()
    exam = tmp_path / "exam"
    exam.mkdir()
    for name in ("class.yaml", "roster.csv"):
        (exam / name).write_bytes((room.path / name).read_bytes())
    text = (exam / "class.yaml").read_text().replace("practice", "assessed")
    (exam / "class.yaml").write_text(text.replace("room-7", "exam-7"))
    (tmp_path / "no-class").mkdir()
    (tmp_path / "broken").mkdir()
    (tmp_path / "broken" / "class.yaml").write_text("id: [")
    folder = ClassFolder.open(exam)
    deal(folder, room.library)
    (found,) = remarks_on_secrecy(folder, read_deal(folder), lab_library())
    assert f"dealt for practice in {room.path}" in found


def test_a_class_that_practised_first_and_is_assessed_now_is_named(make_room: MakeRoom) -> None:
    room = make_room(mode="practice")
    room.deal()
    room.write_class(mode="assessed")
    room.write_roster("ann,Ann Orrel", "ben,Ben Tasker", "cy,Cy Morland", "di,Di Quarrow")
    room.deal()
    assert "dealt for practice in this class" in remarks(room)[0]
