"""Who is erased from a class is erased from its room too."""

from __future__ import annotations

import pytest
from tiny_class import Room as Class

from labkit.classroom.errors import ClassError
from labkit.classroom.held import holding
from labkit.classroom.people.erasing import erase
from labkit.classroom.people.personal import held_of
from labkit.classroom.private_place import Place
from labkit.room.room import Room


def _worked(room: Room, trainee: str, in_class: Class) -> None:
    item = room.workbooks.items[trainee, "tiny"]
    room.seated(trainee, "192.0.2.7")
    message = {"do": "answer", "token": "t1", "answer": in_class.right(trainee)["double"]}
    room.workbooks.opened(item).desk.hear({"exercise": "double", "message": message})


def test_all_that_the_room_holds_of_a_person_comes_out_and_goes(
    room: Room, in_class: Class, monkeypatch: pytest.MonkeyPatch
) -> None:
    played = Place(in_class.folder.played, synced=False)
    for trainee in ("ann", "ben"):
        _worked(room, trainee, in_class)
        played.write("{}", trainee, "tiny.a-bench.played.json")
    number = room.door.asks("Ann O.")
    room.door.let_in(number, "ann", "Mira")
    with monkeypatch.context() as patch:
        # What waits to come into the records.
        patch.setattr(
            "labkit.classroom.handins.collecting.collect", lambda *_, **__: pytest.fail("later")
        )
        with pytest.raises(pytest.fail.Exception):
            room.hand_in([room.workbooks.items["ann", "tiny"]])
    held = held_of(in_class.folder, "ann")
    assert [entry["act"] for entry in held["room"]] == ["seat", "let in"]
    files = {item["file"] for item in held["files"]}
    played_of_ann = "room/played/ann/tiny.a-bench.played.json"
    assert {"room/journals/ann/tiny.answers.jsonl", played_of_ann} < files
    assert any(file.startswith("room/handed-in/") for file in files)
    erasure = erase(in_class.folder, "ann", reason="asked for it")
    left = [path for path in (in_class.path / "room").rglob("*") if path.is_file()]
    assert not any(b"ann" in path.read_bytes().lower() for path in left)
    assert not any("room" in sentence for sentence in erasure.left_to_do)
    assert not (in_class.path / "room/played/ann").exists()
    assert (in_class.path / "room/journals/ben/tiny.answers.jsonl").exists()
    assert (in_class.path / "room/played/ben/tiny.a-bench.played.json").exists()
    assert [entry["act"] for entry in held_of(in_class.folder, "ben")["room"]] == ["seat"]


def test_nobody_is_erased_while_the_room_is_open(room: Room, in_class: Class) -> None:
    _worked(room, "ann", in_class)
    with holding(in_class.folder), pytest.raises(ClassError, match="is open"):
        erase(in_class.folder, "ann", reason="asked for it")
    erase(in_class.folder, "ann", reason="asked for it")


def test_a_class_without_a_room_gets_none_by_an_erasure(in_class: Class) -> None:
    erase(in_class.folder, "ann", reason="asked for it")
    assert not in_class.folder.room.exists()
